"""Curves of a finished plan, as the plan file keeps them: enough to draw, no decision.

Charts are drawn from these alone, so that a page shows what the plan says and simulates
nothing. Points are few and fixed: the same plan always has the same ones.
"""

from __future__ import annotations

from typing import Literal

from bomplan.design.record import Record


class EnergyUse(Record):
    """Where the energy goes on one range target in one state, per distance.

    ``cells`` is what the cells gave up; it is the sum of all others, up to rounding. ``slopes``
    is what hills and speed have not given back when the drive ends, less what a car that was
    slower than asked did not spend; below zero where it ends lower or was slower.
    """

    target: str
    state: Literal["new", "worn", "coldest"]
    air_wh_per_km: float
    rolling_wh_per_km: float
    brakes_wh_per_km: float
    slopes_wh_per_km: float
    driveline_wh_per_km: float
    motor_wh_per_km: float
    controller_wh_per_km: float
    beside_wh_per_km: float
    circuit_wh_per_km: float
    pack_wh_per_km: float
    cells_wh_per_km: float


class LapTrace(Record):
    """One lap of a range target in its own condition, so many seconds to a point.

    ``speed_kmh`` is the mean of those seconds, ``motor_a`` and ``battery_a`` the greatest,
    ``returned_a`` the greatest back into the pack, ``pack_v`` the least; all of the first lap,
    pack full. ``last_pack_v`` is the least of the last whole lap; empty where there are not
    two. Voltages are those behind the traction circuit, as in the range results.
    """

    target: str
    profile: str
    lap_s: float
    lap_m: float
    laps: float | None
    point_s: int
    speed_kmh: tuple[float, ...]
    motor_a: tuple[float, ...]
    battery_a: tuple[float, ...]
    returned_a: tuple[float, ...] = ()
    pack_v: tuple[float, ...]
    last_pack_v: tuple[float, ...] = ()


class GearThrust(Record):
    """Greatest force at the wheels in one gear, for a minute and for half an hour."""

    gear: int
    speed_kmh: tuple[float, ...]
    minute_n: tuple[float, ...]
    half_hour_n: tuple[float, ...]


class RoadNeed(Record):
    """Force that the road asks at steady speeds on one grade (rise over run)."""

    grade: float
    speed_kmh: tuple[float, ...]
    force_n: tuple[float, ...]


class ShaftTorque(Record):
    """Greatest torque of the motor's shaft, gearbox and grip apart."""

    rpm: tuple[float, ...]
    minute_nm: tuple[float, ...]
    half_hour_nm: tuple[float, ...]


class Curves(Record):
    wheel_radius_mm: int
    energy: tuple[EnergyUse, ...]
    traces: tuple[LapTrace, ...]
    thrust: tuple[GearThrust, ...]
    road: tuple[RoadNeed, ...]
    shaft: ShaftTorque
