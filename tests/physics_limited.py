"""The vehicles of the physics checks, each short of something else."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from physics_cases import compact_lead, compact_lithium

from bomplan.physics import System


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
