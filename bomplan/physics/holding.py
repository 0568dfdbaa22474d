"""Which packs may hold a climb or a speed behind a drive: what it asks, held against each of them.

A necessary condition, on arrays: grip is left out, and the table of torques over speed, straight
between its entries, gives a torque only if motor, controller and pack stand it at the entry on
one side at least. What a torque asks of any pack, a power and a voltage left under it, is found
without the pack; then each pack is held against it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import BoolArray, Columns, FloatArray
from bomplan.physics.battery import current_for_power
from bomplan.physics.following import HAIR, needs
from bomplan.physics.performance import SPEED_POINTS
from bomplan.physics.powertrain import REFERENCE_POINTS
from bomplan.physics.road import CoastDown, steady_force
from bomplan.physics.system import System

AT_ONCE = 8  # points that all packs are held against together


@dataclass(frozen=True, eq=False)
class Feeds(Columns):
    """Packs side by side at one state of charge, each with its circuit and what it carries.

    ``open_v`` and ``ohm`` with the circuit; ``limit_a`` is the least limit on its current,
    ``least_v`` where the drive is cut off, ``reference_v`` the voltage at which an envelope
    motor gives its envelope (any other: 1), ``mass_kg`` the laden vehicle, ``beside_w`` what
    else is taken from the pack.
    """

    open_v: FloatArray
    ohm: FloatArray
    limit_a: FloatArray
    least_v: FloatArray
    reference_v: FloatArray
    mass_kg: FloatArray
    beside_w: FloatArray

    def extremes(self) -> tuple[Feeds, Feeds]:
        """One that none of these falls behind in anything, and one that none exceeds."""
        strong, weak = (
            Feeds(
                open_v=best(self.open_v, keepdims=True),
                ohm=worst(self.ohm, keepdims=True),
                limit_a=best(self.limit_a, keepdims=True),
                least_v=worst(self.least_v, keepdims=True),
                reference_v=worst(self.reference_v, keepdims=True),
                mass_kg=worst(self.mass_kg, keepdims=True),
                beside_w=worst(self.beside_w, keepdims=True),
            )
            for best, worst in ((np.max, np.min), (np.min, np.max))
        )
        return weak, strong

    def stand(self, power_w: FloatArray, volts: FloatArray) -> BoolArray:
        """Whether each gives this power with so much voltage (over the reference) left."""
        taken = power_w + self.beside_w
        current = current_for_power(taken, self.open_v, self.ohm)
        found = ~np.isnan(current)
        amps = np.where(found, current, 0.0)
        left = self.open_v - self.ohm * amps
        enough = (left >= self.reference_v * volts * (1.0 - HAIR)) & (
            left >= self.least_v * (1.0 - HAIR)
        )
        return np.asarray(found & enough & (amps <= self.limit_a * (1.0 + HAIR)), dtype=np.bool_)


@dataclass(frozen=True, eq=False)
class _Points(Columns):
    """Where the table of torques is looked at, and the road's force that is asked there.

    Gears in which a torque may do and entries of the table, with the force in N that the drive
    must come to: ``still_n`` and so much for each kilogram.
    """

    ratio: FloatArray
    turning: FloatArray
    still_n: FloatArray
    per_kg_n: FloatArray


def may_climb(
    system: System, grade: float, speed_m_s: float, hold_s: float, packs: Feeds
) -> BoolArray:
    """Which packs some gear may hold this speed with, on this grade (rise over run, not below 0).

    Where it says no, :func:`bomplan.physics.performance.climb` fails with that pack, and with
    more mass, resistance or load beside it. Reads no pack of the system.
    """
    if grade < 0:
        raise ValueError("a climb goes up")
    line, step = system.driveline, _step(system)
    ratios, entries = [], []
    for ratio in line.ratios:
        turning = float(line.motor_speed(np.array([float(speed_m_s)]), ratio)[0])
        if turning <= system.motor.max_speed_rad_s * (1.0 + HAIR):
            below = min(int(turning / step), REFERENCE_POINTS - 2)
            ratios += [ratio, ratio]
            entries += [below, below + 1]
    speed = np.full(len(ratios), float(speed_m_s))
    return _may(system, hold_s, packs, _points(system, ratios, entries, speed, grade))


def may_reach_speed(system: System, speed_m_s: float, hold_s: float, packs: Feeds) -> BoolArray:
    """Which packs may hold this speed, or any above it, on the flat.

    Where it says no, :func:`bomplan.physics.performance.top_speed` finds less with that pack,
    and with more mass, resistance or load beside it. That goes by the thrust at
    ``SPEED_POINTS`` speeds a gear, straight between them: of the two around a speed the lower one
    at least must be held. Reads no pack of the system.
    """
    line, step = system.driveline, _step(system)
    ratios: list[float] = []
    entries: list[int] = []
    speeds: list[float] = []
    wanted = speed_m_s * (1.0 - HAIR)
    for ratio in line.ratios:
        arm = line.wheel_radius_m / ratio
        fastest = system.motor.max_speed_rad_s * arm
        if fastest < wanted * (1.0 - HAIR):
            continue
        from_m_s = max(0.0, wanted - fastest / (SPEED_POINTS - 1)) * (1.0 - HAIR)
        if not _force_rises(system, from_m_s, fastest):
            return np.ones(len(packs.open_v), dtype=np.bool_)
        first = min(int(from_m_s / arm / step), REFERENCE_POINTS - 2)
        for entry in range(first, REFERENCE_POINTS):
            ratios.append(ratio)
            entries.append(entry)
            # An entry gives torques from the one before it on.
            speeds.append(max(from_m_s, (entry - 1) * step * arm * (1.0 - HAIR)))
    points = _points(system, ratios, entries, np.array(speeds, dtype=np.float64), 0.0)
    return _may(system, hold_s, packs, points)


def _force_rises(system: System, from_m_s: float, to_m_s: float) -> bool:
    """Whether no speed between these asks less than a slower one; False where it is not plain.

    A fitted coast-down may have a term in v below zero; its slope is straight in v where the
    air comes from ahead.
    """
    road = system.road
    if not isinstance(road, CoastDown):
        return True
    if from_m_s + road.headwind_m_s < 0:
        return road.b_n_s_m >= 0 and road.c_n_s2_m2 >= 0
    slopes = (
        road.b_n_s_m + 2.0 * road.c_n_s2_m2 * road.relative_density * (speed + road.headwind_m_s)
        for speed in (from_m_s, to_m_s)
    )
    return all(slope >= 0 for slope in slopes)


def _step(system: System) -> float:
    return system.motor.max_speed_rad_s / (REFERENCE_POINTS - 1)


def _points(
    system: System, ratios: list[float], entries: list[int], speed: FloatArray, grade: float
) -> _Points:
    # What rolls and what climbs grow with mass; the air does not.
    still, tonne = (steady_force(system.road, speed, kg, grade) for kg in (0.0, 1e3))
    return _Points(
        np.array(ratios, dtype=np.float64),
        np.array(entries, dtype=np.float64) * _step(system),
        still,
        (tonne - still) * 1e-3,
    )


def _may(system: System, hold_s: float, packs: Feeds, points: _Points) -> BoolArray:
    """Which packs stand at one of the points at least."""
    able = np.zeros(len(packs.open_v), dtype=np.bool_)
    if not len(able):
        return able
    weak, strong = packs.extremes()
    # Where the strongest of all does not stand, none does; where the weakest does, all do.
    points = points.some(np.flatnonzero(_stands(system, hold_s, strong, points)[0]))
    if not len(points.ratio):
        return able
    if _stands(system, hold_s, weak, points).any():
        return ~able
    left = np.arange(len(able))
    for begin in range(0, len(points.ratio), AT_ONCE):
        some = np.arange(begin, min(begin + AT_ONCE, len(points.ratio)))
        stands = _stands(system, hold_s, packs.some(left), points.some(some)).any(axis=1)
        able[left[stands]] = True
        left = left[~stands]
        if not len(left):
            break
    return able


def _stands(system: System, hold_s: float, packs: Feeds, points: _Points) -> BoolArray:
    """(packs, points): whether motor, controller, gearbox and pack may do what is asked there."""
    line = system.driveline
    force = points.still_n + points.per_kg_n * packs.mass_kg[:, None]
    force -= HAIR * np.abs(force)
    torque = line.shaft_torque(force, points.ratio, 0.0) * (1.0 - HAIR) - HAIR
    gearbox = torque <= line.greatest_shaft_torque(points.ratio) * (1.0 + HAIR)
    turning = np.broadcast_to(points.turning, torque.shape)
    power_w, volts, free = needs(system, np.maximum(torque, 0.0), turning, hold_s)
    stands = gearbox & free & packs.beside().stand(power_w, volts)
    return np.asarray((torque <= 0.0) | stands, dtype=np.bool_)


__all__ = ["Feeds", "may_climb", "may_reach_speed"]
