"""From rest to a speed at full throttle, gear changes included.

Time is the integral of dv/a(v), distance that of v dv/a(v); a(v) from thrust, road load and
inertia (Gillespie, *Fundamentals of Vehicle Dynamics*, ch. 2; the same equation as Larminie
and Lowry's ch. 8 examples).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray
from bomplan.physics.performance import thrust
from bomplan.physics.road import steady_force
from bomplan.physics.system import System

SPEED_STEPS = 400
REPEATS = 5
FIRST_HOLD_S = 10.0  # how long ratings are taken for before anything is known


@dataclass(frozen=True)
class Acceleration:
    """Time and distance to the speed (inf if never reached), and whether grip held it back."""

    seconds: float
    distance_m: float
    grip_limited: bool
    shifts: int


def times_and_distances(
    speed_m_s: FloatArray, acceleration_m_s2: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """(s, m) since the first speed, for rising speeds and the acceleration at each.

    Within each step 1/a is taken as straight in v (trapezoid). inf from where the
    acceleration is zero or below.
    """
    slow = np.where(acceleration_m_s2 > 0, acceleration_m_s2, np.nan)
    inverse = 1.0 / slow
    step = np.diff(speed_m_s)
    seconds = np.cumsum(0.5 * (inverse[1:] + inverse[:-1]) * step)
    weighted = speed_m_s * inverse
    metres = np.cumsum(0.5 * (weighted[1:] + weighted[:-1]) * step)
    start = np.zeros(1)
    return (
        np.nan_to_num(np.concatenate([start, seconds]), nan=math.inf),
        np.nan_to_num(np.concatenate([start, metres]), nan=math.inf),
    )


def acceleration(
    system: System,
    to_speed_m_s: float,
    soc: float,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    grade: float = 0.0,
) -> Acceleration:
    """From rest to a speed, in the gears that do it soonest.

    Each change costs ``shift_seconds`` of coasting and the speed lost by it. Ratings are
    taken for as long as the run lasts (repeated until it agrees with itself).

    ValueError for a speed that is not above 0.
    """
    if to_speed_m_s <= 0:
        raise ValueError("the speed to reach must be above zero")
    hold_s, found = FIRST_HOLD_S, Acceleration(math.inf, math.inf, False, 0)
    for _ in range(REPEATS):
        found = _run(
            system, to_speed_m_s, soc, mass_kg, external_resistance_ohm, auxiliary_w, grade, hold_s
        )
        if not found.seconds > hold_s or not math.isfinite(found.seconds):
            break
        # Whole tenths upward keep the number of different limit tables small.
        hold_s = math.ceil(found.seconds * 10.0) / 10.0
    return found


def _run(
    system: System,
    to_speed_m_s: float,
    soc: float,
    mass_kg: float,
    external_ohm: float,
    auxiliary_w: float,
    grade: float,
    hold_s: float,
) -> Acceleration:
    line = system.driveline
    speed = np.linspace(0.0, to_speed_m_s, SPEED_STEPS + 1)
    road = steady_force(system.road, speed, mass_kg, grade)
    cosine = 1.0 / math.sqrt(1.0 + grade * grade)
    grip = float(line.grip_force(mass_kg, cosine, system.road.gravity))
    rows, gripped = [], []
    for gear, ratio in enumerate(line.ratios):
        force = thrust(system, gear, speed, soc, mass_kg, external_ohm, auxiliary_w, hold_s, grade)
        rotor = line.rotor_inertia_kgm2 * (ratio / line.wheel_radius_m) ** 2 * line.efficiency
        inertia = mass_kg * line.rotating_mass_factor + np.where(
            force < grip * (1 - 1e-9), rotor, 0.0
        )
        rows.append((force - road) / inertia)
        gripped.append(force >= grip * (1 - 1e-9))
    pulls, slips = np.stack(rows), np.stack(gripped)
    coast = road / (mass_kg * line.rotating_mass_factor)
    best = Acceleration(math.inf, math.inf, False, 0)
    for count in range(1, line.gears + 1):
        for chosen in combinations(range(line.gears), count):
            run = _in_gears(speed, pulls, slips, coast, chosen, line.shift_seconds)
            if run.seconds < best.seconds:
                best = run
    return best


def _in_gears(
    speed: FloatArray,
    pulls: FloatArray,
    slips: BoolArray,
    coast: FloatArray,
    chosen: tuple[int, ...],
    shift_seconds: float,
) -> Acceleration:
    rows = pulls[list(chosen)]
    order = np.maximum.accumulate(np.argmax(rows, axis=0))
    columns = np.arange(len(speed))
    now = rows[order, columns]
    seconds, metres = times_and_distances(speed, now)
    changes = np.nonzero(np.diff(order))[0] + 1
    extra_s, extra_m = 0.0, 0.0
    for at in changes.tolist():
        lost = float(coast[at]) * shift_seconds
        regain = lost / float(now[at]) if now[at] > 0 else math.inf
        extra_s += shift_seconds + regain
        extra_m += float(speed[at]) * (shift_seconds + regain)
    held_back = bool(np.any(slips[list(chosen)][order, columns]))
    return Acceleration(
        float(seconds[-1]) + extra_s, float(metres[-1]) + extra_m, held_back, len(changes)
    )
