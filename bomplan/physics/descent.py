"""Long descents: what the brakes must swallow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import IntArray
from bomplan.physics.demand import drive_lap
from bomplan.physics.profile import Profile
from bomplan.physics.system import System

# Four drums or discs of a light car take about this much in one go without fade; common
# practice, per kg of laden mass: one stop from 110 km/h is 470 J/kg, and three in a row is
# what a brake inspection asks.
WARN_J_PER_KG = 1400.0


@dataclass(frozen=True)
class Descent:
    """The worst unbroken descent of a profile for the friction brakes."""

    brake_j: float
    seconds: float
    height_m: float
    mean_brake_w: float
    warn: bool


def worst_descent(
    system: System, profile: Profile, gears: IntArray, mass_kg: float, regeneration_full: bool
) -> Descent | None:
    """The descent with the most energy for the friction brakes; None if it never goes down.

    A descent runs on while the road falls (level seconds in between count). With
    ``regeneration_full`` False the pack is taken as full at its top: nothing goes back, the
    friction brakes take all (a house on a hill, at the first drive of the day).
    """
    lap = drive_lap(system, profile, gears, mass_kg)
    brake = lap.brake_w.copy()
    if not regeneration_full:
        brake += np.maximum(-lap.wheel_w, 0.0) * (lap.traction_w < 0)
    worst: Descent | None = None
    start: int | None = None
    for second in range(profile.steps + 1):
        falling = second < profile.steps and profile.rise_m[second] <= 0
        if falling and start is None and profile.rise_m[second] < 0:
            start = second
        if start is not None and not falling:
            taken = float(brake[start:second].sum())
            length = float(second - start)
            height = -float(profile.rise_m[start:second].sum())
            if worst is None or taken > worst.brake_j:
                warn = taken > WARN_J_PER_KG * mass_kg
                worst = Descent(taken, length, height, taken / length, warn)
            start = None
    return worst


def descent_energy_j(mass_kg: float, height_m: float, gravity: float = 9.80665) -> float:
    """m g h: what a descent sets free, J, before road load takes its part."""
    return mass_kg * gravity * height_m
