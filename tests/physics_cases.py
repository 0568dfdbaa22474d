"""Vehicles of our own making for the checks of the driving physics: round, typical figures."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from bomplan.physics import (
    CellCurve,
    Controller,
    Driveline,
    EnvelopeMotor,
    Pack,
    RoadLoad,
    SeriesMotor,
    System,
    peukert_exponent,
)

IRON_PHOSPHATE = CellCurve(
    np.array([0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.95, 1.0]),
    np.array([2.6, 2.9, 3.05, 3.18, 3.21, 3.26, 3.28, 3.32, 3.33, 3.40]),
    np.array([2.2, 1.8, 1.5, 1.2, 1.1, 1.0, 0.95, 0.95, 1.0, 1.1]),
)
FLOODED_LEAD = CellCurve(
    np.linspace(0.0, 1.0, 11),
    np.array([1.890, 1.918, 1.943, 1.969, 1.993, 2.017, 2.040, 2.062, 2.083, 2.103, 2.122]),
    np.array([3.0, 2.2, 1.8, 1.5, 1.25, 1.0, 0.95, 0.92, 0.9, 0.9, 0.9]),
)
LITHIUM_PACK = Pack(
    IRON_PHOSPHATE, 45, 200.0, 45 * 0.6e-3, 3.0, 1.0, 0.05, 1.0,
    45 * 2.5, 45 * 3.65, 200.0, 400.0, 200.0,
)  # fmt: skip
LEAD_PACK = Pack(
    FLOODED_LEAD, 72, 225.0, 24 * 3.2e-3, 20.0, peukert_exponent(225.0, 20.0, 135.0, 1.0),
    0.2, 1.0, 72 * 1.5, 72 * 2.6, 150.0, 600.0, 0.0,
)  # fmt: skip
INDUCTION = EnvelopeMotor(
    "induction", 170.0, 70e3, 398.0, 144.0, 838.0, 0.18, 1.0, 0.002, 100.0,
    ((30.0, 70e3), (3600.0, 30e3), (math.inf, 25e3)), 60.0,
)  # fmt: skip
INVERTER = Controller(
    "inverter", 72.0, 170.0, 400.0, 500.0, 30.0, 200.0, 180.0, 60.0, 1.5, 0.002, True
)
NINE_INCH = SeriesMotor(
    np.array([100.0, 200.0, 300.0, 500.0, 1000.0]),
    np.array([15.0, 43.0, 77.0, 150.0, 320.0]),
    0.013, 2.0, 160.0, 500.0, 120.0, 576.0,
    ((300.0, 330.0), (3600.0, 200.0), (math.inf, 175.0)),
)  # fmt: skip
CHOPPER = Controller(
    "chopper", 48.0, 170.0, 450.0, 500.0, 30.0, 225.0, 200.0, 40.0, 0.9, 0.0008, False
)
FOUR_GEARS = Driveline(
    (13.8, 7.8, 5.0, 3.8), 0.29, 0.93, 1.5, (6.0, 12.0, 19.0), 1.0, 200.0, 3000.0, 1.04, 0.05,
    "front", 0.8, 2.4, 0.55, 0.55,
)  # fmt: skip
ONE_GEAR = replace(FOUR_GEARS, ratios=(8.2,), shift_speeds_m_s=(), drag_torque_nm=0.8)


def compact_lithium() -> System:
    """Small hatchback, induction motor, gearbox kept, 45 cells of 200 Ah; about 1,250 kg."""
    road = RoadLoad(0.011, 0.0, 0.66, 1.2)
    return System(road, FOUR_GEARS, INDUCTION, INVERTER, LITHIUM_PACK, True)


def compact_lead() -> System:
    """The same with a series motor and 24 six-volt blocks; about 1,450 kg."""
    road = RoadLoad(0.012, 0.0, 0.68, 1.2)
    return System(road, FOUR_GEARS, NINE_INCH, CHOPPER, LEAD_PACK, False)


def ideal_controller(kind: str = "inverter") -> Controller:
    """No losses and no limits worth the name."""
    return Controller(
        "inverter" if kind == "inverter" else "chopper",
        1.0, 1e4, 1e6, 1e6, 1e6, 1e6, 1e6, 0.0, 0.0, 0.0, True,
    )  # fmt: skip


def ideal_pack(voltage_v: float = 300.0, capacity_ah: float = 100.0) -> Pack:
    """Flat voltage, next to no resistance."""
    flat = CellCurve(np.array([0.0, 1.0]), np.array([1.0, 1.0]), np.array([1.0, 1.0]))
    return Pack(
        flat, int(voltage_v), capacity_ah, 1e-9, 1.0, 1.0, 0.0, 1.0, 1.0, 1e4, 1e6, 1e6, 1e6
    )
