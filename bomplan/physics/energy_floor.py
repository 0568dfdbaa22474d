"""What drives take at least by what each kind of second takes: how little a metre, how far at most.

A drive is whole laps and a part of one, on a pack that is driven from full to empty; how long it
goes is not known before. So both are asked of every place where it may end. What the seconds
take is told by :func:`bomplan.physics.lap_floor.least_lap`, which knows the motor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from bomplan.physics.arrays import FloatArray, IntArray
from bomplan.physics.profile import Profile

HAIR_M = 1e-3


@dataclass(frozen=True, eq=False)
class LeastLap:
    """Laps at some masses: the W of every second, over (masses, steps), and what else tells.

    ``saved_j`` is how much less a lap takes at most for the seconds that may be missed, for each
    mass; ``beside_w`` what runs beside the drive.
    """

    profile: Profile
    power_w: FloatArray
    saved_j: FloatArray
    beside_w: float

    def least_j_per_m(self, from_m: float) -> FloatArray:
        """J/m for each mass: the mean of no drive of at least so many metres is below it.

        The more laps, the nearer the mean is to the lap's, so that the part that helps most is
        looked at after the fewest laps.
        """
        lap, within, travelled = self._lap_and_parts
        length = self.profile.length_m
        fewest = math.floor(from_m / length)
        least = lap / length
        for laps, beginning in ((fewest, max(from_m - HAIR_M, HAIR_M)), (fewest + 1, 0.0)):
            distance = laps * length + travelled
            began = (laps * lap[:, None] + within) / np.maximum(distance, HAIR_M)
            least = np.minimum(least, np.where(distance >= beginning, began, np.inf).min(axis=1))
        return np.asarray(least, dtype=np.float64)

    def most_distance_m(self, place: IntArray, energy_j: FloatArray) -> FloatArray:
        """m for each energy, at the mass of its place: no drive gets farther."""
        lap, within, travelled = self._lap_and_parts
        # What is needed to get at least so far into a lap.
        ahead = np.minimum.accumulate(within[:, ::-1], axis=1)[:, ::-1]
        found = np.full(len(place), np.inf)
        for number, lap_j in enumerate(lap):
            here = np.flatnonzero(place == number)
            if lap_j <= 0 or not len(here):
                continue
            laps = np.maximum(np.floor((energy_j[here] - ahead[number, 0]) / lap_j), 0.0)
            rest = energy_j[here] - laps * lap_j
            part = np.searchsorted(ahead[number], rest, side="right") - 1
            travelled_m = travelled[np.maximum(part, 0)]
            found[here] = laps * self.profile.length_m + travelled_m + HAIR_M
        return found

    @cached_property
    def _lap_and_parts(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """(J of a lap, J up to each second within it, m at the end of that second), at least."""
        profile, running = self.profile, np.cumsum(self.power_w, axis=1)
        seconds = np.arange(1, profile.steps, dtype=np.float64)
        within = np.zeros(running.shape)
        within[:, 1:] = running[:, :-1] - self.saved_j[:, None] + self.beside_w * seconds
        lap = running[:, -1] - self.saved_j + self.beside_w * profile.steps
        return lap, within, np.cumsum(profile.distance_m)


__all__ = ["LeastLap"]
