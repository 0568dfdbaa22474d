"""Packs with which a drive surely overloads its motor or controller for an hour.

Ratings that hold for an hour are judged by the drive at the reference mass, from full to empty
(:mod:`bomplan.physics.thermal`). With small packs or large ones the motor does the same work: as
soon as a pack lasts an hour, its first hour tells. So the current of that hour is bounded from
below for a whole class of packs, and each pack's time from below too: the greatest power that
its class may take is drawn at a voltage no higher and a resistance no lower than the real ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.asked_lap import AskedLap
from bomplan.physics.bounds import STEP_SLACK
from bomplan.physics.pack_table import PackTable

HOUR_S = 3600
LEVELS_LEFT = (0.6, 0.35, 0.15)  # shares of the energy that may be left after the hour
HAIR = 1e-3
Limits = tuple[BoolArray, FloatArray, FloatArray]  # possible gears, torque at least and at most


@dataclass(frozen=True, eq=False)
class Hour:
    """The first hour at the reference mass, by classes of packs.

    ``least_a`` is the motor's root mean square current at least; ``most_w`` what is taken in
    each kind of second at most, over (classes, kinds), and ``counts`` how many of each kind
    pass until the hour and the reserve behind it are surely driven.
    """

    least_a: FloatArray
    most_w: FloatArray
    counts: IntArray


def first_hour(lap: AskedLap, limits: Limits, reserve: float) -> Hour:
    """``limits`` stand over (classes, gears, kinds)."""
    possible, lower_nm, upper_nm = limits
    turning = lap.moving & (lap.speed > 0)
    least = np.where(turning, np.maximum(np.minimum(lap.settling, lower_nm), 0.0), 0.0)
    most = np.where(turning, np.maximum(np.minimum(lap.settling, upper_nm), 0.0), 0.0)
    amps = np.where(possible, lap.motor_a(least, np.broadcast_to(lap.speed, least.shape)), np.inf)
    amps = amps.min(axis=1)
    amps[np.isinf(amps)] = 0.0
    power = lap.taken_w(most, np.broadcast_to(lap.speed, most.shape))
    power = np.where(possible, power, 0.0).max(axis=1)
    profile, kind = lap.profile, lap.kind
    hour = np.resize(kind, HOUR_S + 1)
    squares = (amps**2) @ np.bincount(hour[:HOUR_S], minlength=len(lap.count))
    # The reserve is kept back in distance too: so far must the pack surely take the car.
    travelled = float(np.resize(profile.distance_m, HOUR_S + 1).sum())
    laps, rest = divmod(travelled / (1.0 - reserve) + HAIR, profile.length_m)
    into = int(np.searchsorted(np.cumsum(profile.distance_m), rest, side="right"))
    seconds = max(HOUR_S, int(laps) * profile.steps + into) + 2
    counts = np.bincount(np.resize(kind, seconds), minlength=len(lap.count))
    return Hour(np.sqrt(squares / HOUR_S), power, counts)


def surely_lasts(
    hour: Hour,
    table: PackTable,
    which: IntArray,
    classes: IntArray,
    external_ohm: float,
    beside_w: float,
    least_v: FloatArray,
    reserve: float,
) -> BoolArray:
    """Which packs of these classes surely drive on beyond the hour, the reserve kept back.

    ``least_v`` is each pack's cut-off, the controller's own included.
    """
    whole = table.energy_j[which] / (1.0 + STEP_SLACK)
    power = np.maximum(hour.most_w + beside_w, 0.0) * (1.0 + 1e-9)
    hardest = power[:, hour.counts > 0].max(axis=1)[classes]
    rated, exponent = table.rated_a[which], table.peukert[which] - 1.0
    lasts = np.zeros(len(which), dtype=np.bool_)
    for share in LEVELS_LEFT:
        if share <= reserve:
            continue
        open_v, ohm = table.surely_at(which, share, external_ohm)
        inside = open_v**2 - 4.0 * hardest * ohm
        volts = 0.5 * (open_v + np.sqrt(np.maximum(inside, 0.0)))
        able = (inside > 0) & (volts > least_v * (1.0 + 1e-9))
        here = np.flatnonzero(able & ~lasts)
        if not len(here):
            continue
        asked = power[classes[here]]
        volts, ohms = open_v[here][:, None], ohm[here][:, None]
        root = np.sqrt(np.maximum(volts**2 - 4.0 * asked * ohms, 0.0))
        current = 2.0 * asked / (volts + root)
        excess = np.maximum(current / rated[here][:, None], 1.0) ** exponent[here][:, None]
        spent = ((asked + ohms * current**2) * excess) @ hour.counts
        lasts[here] = whole[here] - spent >= share * whole[here]
    return lasts
