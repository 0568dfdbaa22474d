"""The vehicles of the physics checks, each short of something else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from physics_cases import compact_lead, compact_lithium

from bomplan.physics import Pack, System
from bomplan.physics.pack_table import PackTable, pack_table


def changed(system: System, **parts: Any) -> System:
    """The system with figures of its parts replaced: ``pack={...}``, ``motor={...}`` ..."""
    made = {name: replace(getattr(system, name), **figures) for name, figures in parts.items()}
    return replace(system, **made, limit_tables={})


LIMITED: dict[str, System] = {
    "lithium": compact_lithium(),
    "lead": compact_lead(),
    "weak pack": changed(compact_lithium(), pack={"resistance_ohm": 0.12, "min_voltage_v": 121.0}),
    "small controller": changed(
        compact_lithium(), controller={"battery_current_a": 130.0, "motor_current_hour_a": 90.0}
    ),
    "small chopper": changed(
        compact_lead(), controller={"battery_current_a": 120.0, "motor_current_peak_a": 230.0}
    ),
    "pack rating": changed(
        compact_lithium(), pack={"discharge_10s_a": 150.0, "discharge_continuous_a": 80.0}
    ),
    "commutator": changed(
        compact_lead(), motor={"max_voltage_v": 90.0, "max_voltage_high_v": 60.0}
    ),
}  # fmt: skip


def threshold(holds: Callable[[float], bool], low: float, high: float) -> float:
    """Where an answer turns from yes to no."""
    assert holds(low)
    assert not holds(high)
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def one_pack(pack: Pack, series: float = 1.0, parallel: float = 1.0, ohm: float = 0.0) -> PackTable:
    return pack_table(
        [pack], np.array([0]), np.array([series]), np.array([parallel]), np.array([ohm])
    )
