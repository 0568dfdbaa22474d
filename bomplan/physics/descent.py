"""Long descents: what the brakes must swallow."""

from __future__ import annotations

from dataclasses import dataclass, replace

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
    system: System, profile: Profile, gears: IntArray, mass_kg: float, pack_full: bool
) -> Descent | None:
    """The descent with the most energy for the friction brakes; None if it never goes down.

    A descent runs on while the road falls (level seconds in between count). With
    ``pack_full`` nothing goes back and the friction brakes take all: a house on a hill, at
    the first drive of the day.
    """
    # The torque tables do not depend on regeneration, so the copy may share them.
    driven = replace(system, regeneration=False) if pack_full else system
    brake = drive_lap(driven, profile, gears, mass_kg).brake_w
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
