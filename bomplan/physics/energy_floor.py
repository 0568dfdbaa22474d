"""The energy that a distance takes at least, whatever motor and controller do with it.

Road and driveline alone: every watt at the wheels comes through the driveline at its own
efficiency, motor and controller are taken as without loss, and what braking gives back comes
back whole. Far from the truth, but one lap on arrays answers for thousands of packs at once,
so that a screen can put away those that are much too small before it looks at any drive.
"""

from __future__ import annotations

import math

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.bounds import STEP_SLACK
from bomplan.physics.demand import force_terms
from bomplan.physics.drive import FOLLOWED_SHARE
from bomplan.physics.driveline import Driveline
from bomplan.physics.pack_table import PackTable
from bomplan.physics.profile import Profile
from bomplan.physics.road import AnyRoad

MASSES = 24  # at which laps are driven; a pack stands with the next lighter one
HAIR_M = 1e-3


def least_energy_j(
    road: AnyRoad,
    line: Driveline,
    profile: Profile,
    mass_kg: FloatArray,
    distance_m: float,
    *,
    gives_back: bool,
    beside_w: float,
) -> tuple[FloatArray, float]:
    """(J for each mass, seconds): what the pack gives over a distance of whole laps and a part.

    No drive that counts as having followed the profile takes less at that mass or more, on a
    closed profile: the seconds that may be missed are left out, the dearest ones.
    """
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
    running = np.cumsum(power, axis=1)
    distance = max(0.0, distance_m - HAIR_M)
    laps = math.floor(distance / profile.length_m)
    travelled = np.cumsum(profile.distance_m)
    rest = distance - laps * profile.length_m
    part = min(int(np.searchsorted(travelled, rest, side="left")), profile.steps - 1)
    begun = running[:, part - 1] - dearest if part else np.zeros(len(mass))
    seconds = float(laps * profile.steps + part)
    energy = laps * (running[:, -1] - dearest) + begun + beside_w * seconds
    return np.asarray(energy, dtype=np.float64), seconds


def may_have_energy(
    road: AnyRoad,
    line: Driveline,
    profile: Profile,
    table: PackTable,
    which: IntArray,
    mass_kg: FloatArray,
    distance_m: float,
    reserve: float,
    *,
    gives_back: bool,
    beside_w: float,
) -> BoolArray:
    """Whether each pack of ``which`` may have the energy for a distance; False is proven.

    ``mass_kg`` is a laden mass that no bill with that pack undercuts; ``reserve`` the share of
    the usable energy kept back. The pack's own loss is that at its mean power from a full
    pack throughout: loss is convex in power, voltage falls and resistance is never less, so
    the real loss is no smaller.
    """
    if not len(which):
        return np.zeros(0, dtype=np.bool_)
    lightest, heaviest = float(mass_kg.min()), float(mass_kg.max())
    masses = np.linspace(lightest, heaviest, MASSES)
    taken, seconds = least_energy_j(
        road, line, profile, masses, distance_m, gives_back=gives_back, beside_w=beside_w
    )
    # More mass never takes less, but for rounding: the least of all heavier ones is safe.
    taken = np.minimum.accumulate(taken[::-1])[::-1]
    place = np.searchsorted(masses, mass_kg, side="right") - 1
    energy = taken[np.maximum(place, 0)]
    whole = table.energy_j[which]
    volts, ohm = table.at_level(which, np.ones(len(which)))
    mean = energy / max(seconds, 1.0)
    root = np.maximum(volts**2 - 4.0 * mean * ohm, 0.0)
    current = np.maximum(2.0 * mean / (volts + np.sqrt(root)), 0.0)
    left = whole * (1.0 + STEP_SLACK) - energy - seconds * ohm * current**2
    return np.asarray(left >= reserve * whole, dtype=np.bool_)
