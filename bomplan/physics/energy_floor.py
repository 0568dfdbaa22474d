"""The energy that a distance takes at least, whatever motor and controller do with it.

Road and driveline alone: every watt at the wheels comes through the driveline at its own
efficiency, motor and controller are taken as without loss, and what braking gives back comes
back whole. Far from the truth, but one lap on arrays answers for thousands of packs at once.
Nearer to it comes :mod:`bomplan.physics.lap_floor`, which knows the motor.
"""

from __future__ import annotations

import math

import numpy as np

from bomplan.physics.arrays import FloatArray, IntArray
from bomplan.physics.demand import force_terms
from bomplan.physics.drive import FOLLOWED_SHARE
from bomplan.physics.driveline import Driveline
from bomplan.physics.profile import Profile
from bomplan.physics.road import AnyRoad

MASSES = 24  # at which laps are driven; a pack stands with the next lighter one
HAIR_M = 1e-3


def least_j_per_m(
    road: AnyRoad,
    line: Driveline,
    profile: Profile,
    mass_kg: FloatArray,
    laps: int,
    *,
    gives_back: bool,
    beside_w: float,
) -> FloatArray:
    """J/m for each mass: the mean of no drive of at least so many whole laps is below it.

    A drive is whole laps and a part of one; the more laps, the nearer its mean is to the lap's,
    so that the part that helps most is looked at after the fewest laps.
    """
    lap, within, travelled = _lap_and_parts(
        road, line, profile, mass_kg, gives_back=gives_back, beside_w=beside_w
    )
    distance = laps * profile.length_m + travelled
    began = (laps * lap[:, None] + within) / np.maximum(distance, HAIR_M)
    least = np.where(distance > 0, began, np.inf).min(axis=1)
    return np.asarray(np.minimum(least, lap / profile.length_m), dtype=np.float64)


def most_distance_m(
    road: AnyRoad,
    line: Driveline,
    profile: Profile,
    mass_kg: FloatArray,
    place: IntArray,
    energy_j: FloatArray,
    *,
    gives_back: bool,
    beside_w: float,
) -> FloatArray:
    """m for each energy at the mass of its place: no drive gets farther on a closed profile."""
    lap, within, travelled = _lap_and_parts(
        road, line, profile, mass_kg, gives_back=gives_back, beside_w=beside_w
    )
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
        found[here] = laps * profile.length_m + travelled[np.maximum(part, 0)] + HAIR_M
    return found


def mass_classes(mass_kg: FloatArray) -> tuple[FloatArray, IntArray]:
    """Some masses, and for each of many the place of the next lighter one."""
    masses = np.linspace(float(mass_kg.min()), float(mass_kg.max()), MASSES)
    place = np.searchsorted(masses, mass_kg, side="right") - 1
    return masses, np.asarray(np.maximum(place, 0), dtype=np.int64)


def _lap_and_parts(
    road: AnyRoad,
    line: Driveline,
    profile: Profile,
    mass_kg: FloatArray,
    *,
    gives_back: bool,
    beside_w: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """(J of a lap, J up to each second within it, m at the end of that second), at least."""
    running, dearest = _running(road, line, profile, mass_kg, gives_back=gives_back)
    seconds = np.arange(1, profile.steps, dtype=np.float64)
    within = np.zeros((len(running), profile.steps))
    within[:, 1:] = running[:, :-1] - dearest[:, None] + beside_w * seconds
    lap = running[:, -1] - dearest + beside_w * profile.steps
    return lap, within, np.cumsum(profile.distance_m)


def _running(
    road: AnyRoad, line: Driveline, profile: Profile, mass_kg: FloatArray, *, gives_back: bool
) -> tuple[FloatArray, FloatArray]:
    """(J up to the end of each second, J of the dearest seconds, which may be missed)."""
    per_kg, fixed = force_terms(road, profile, line.rotating_mass_factor)
    mass = np.asarray(mass_kg, dtype=np.float64)[:, None]
    force = np.minimum(mass * per_kg + fixed, line.grip_force(mass, profile.cosine, road.gravity))
    force = np.maximum(force, -line.braking_force(mass, profile.cosine, road.gravity))
    carried = np.where(force > 0, force / line.efficiency, force * line.efficiency)
    # A rotor that slows down hands its own energy back, most in the lowest gear.
    arm = line.wheel_radius_m / max(line.ratios)
    rotor = line.rotor_inertia_kgm2 * np.minimum(profile.acceleration_m_s2, 0.0) / arm**2
    power = (carried + rotor) * profile.mean_speed_m_s
    if not gives_back:
        power = np.maximum(power, 0.0)
    spare = math.floor((1.0 - FOLLOWED_SHARE) * profile.steps + 1e-9)
    dearest = np.maximum(np.sort(power, axis=1)[:, profile.steps - spare :], 0.0).sum(axis=1)
    return np.cumsum(power, axis=1), dearest
