"""Descents: what the brakes must swallow, and where even down a slope much is asked."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from bomplan.physics.arrays import IntArray
from bomplan.physics.demand import drive_lap, force_terms
from bomplan.physics.profile import Profile
from bomplan.physics.road import AnyRoad
from bomplan.physics.system import System

# Four drums or discs of a light car take about this much in one go without fade; common
# practice, per kg of laden mass: one stop from 110 km/h is 470 J/kg, and three in a row is
# what a brake inspection asks.
WARN_J_PER_KG = 1400.0

# Of the force that is asked elsewhere as fast. A bound of common sense, not a proof (driving.md).
AS_HARD = 0.5


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


def asks_much_downhill(
    road: AnyRoad, profile: Profile, rotating_mass_factor: float, mass_kg: float
) -> bool:
    """Whether somewhere down a slope this car or a heavier one may be asked most of all.

    There the slope drives a heavier car more: it may follow where a lighter one does not, and
    keep its pack above the cut-off voltage. Elsewhere it is the other way round. So seconds in
    which the slope drives matter unless at least twice their force is asked in some other second
    that is no slower: that one is missed, or ends the drive, first.
    """
    per_kg, fixed = force_terms(road, profile, rotating_mass_factor)
    force, speed = mass_kg * per_kg + fixed, profile.mean_speed_m_s
    down = (profile.sine < 0) & (per_kg < 0)
    order = np.argsort(-speed, kind="stable")
    others = np.where(down, 0.0, force)[order]
    # Among the seconds that are no slower: the last of its speed knows them all.
    last = np.searchsorted(-speed[order], -speed, side="right") - 1
    hardest = np.maximum.accumulate(others)[last]
    return bool(np.any(down & (force > 0) & (force > AS_HARD * hardest)))
