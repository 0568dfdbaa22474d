"""A drive second by second: the first lap, and the last whole one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import FloatArray, IntArray
from bomplan.physics.demand import drive_lap, force_terms
from bomplan.physics.discharge import discharge
from bomplan.physics.profile import Profile
from bomplan.physics.system import System


@dataclass(frozen=True, eq=False)
class Trace:
    """One value for each second of a lap.

    ``battery_a`` (negative: back into the pack) and ``pack_v`` (behind pack and external
    resistance) are those of the first lap, which may be shorter than the profile; ``last_pack_v``
    those of the last whole lap, None where fewer than two were driven.
    """

    motor_a: FloatArray
    battery_a: FloatArray
    pack_v: FloatArray
    last_pack_v: FloatArray | None


def trace(
    system: System,
    profile: Profile,
    gears: IntArray,
    mass_kg: float,
    external_resistance_ohm: float,
    beside_w: float,
    drive_s: float,
) -> Trace:
    """The drive that :func:`range_answer` counts, ``drive_s`` seconds of it from full.

    ``beside_w`` is what 12 V side and heater draw. Units SI.
    """
    lap = drive_lap(system, profile, gears, mass_kg)
    gone = discharge(system.pack, lap.traction_w + beside_w, external_resistance_ohm)
    current = np.concatenate([block.current_a for block in gone.blocks])
    voltage = np.concatenate(
        [block.open_circuit_v - block.total_ohm * block.current_a for block in gone.blocks]
    )
    steps = profile.steps
    driven = min(len(current), int(drive_s) if np.isfinite(drive_s) else len(current))
    whole = driven // steps
    last = slice((whole - 1) * steps, whole * steps)
    first = min(steps, driven)
    return Trace(
        motor_a=lap.motor_current_a[:first],
        battery_a=current[:first],
        pack_v=voltage[:first],
        last_pack_v=voltage[last] if whole >= 2 else None,
    )


def road_work(
    system: System, profile: Profile, mass_kg: float, drive_s: float
) -> tuple[float, float]:
    """Work against air and against rolling over the first ``drive_s`` seconds, J.

    The same forces as in :func:`drive_lap`, at the speeds that the profile asks.
    """
    per_kg, air = force_terms(system.road, profile, 0.0)
    mean = profile.mean_speed_m_s
    slope = system.road.gravity * profile.sine * (mean > 0)
    rolling = mass_kg * (per_kg - slope)
    return _over(air * mean, drive_s), _over(rolling * mean, drive_s)


def _over(lap_w: FloatArray, drive_s: float) -> float:
    """A lap's power summed over so many seconds of laps, J."""
    full = int(drive_s)
    laps, rest = divmod(full, len(lap_w))
    part = float(lap_w[rest]) * (drive_s - full)
    return float(laps * lap_w.sum() + lap_w[:rest].sum()) + part
