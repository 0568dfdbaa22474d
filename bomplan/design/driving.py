"""How the finished car drives, as the plan file keeps it: answers, no decision.

All of it is found with the plan's own mass, circuit and 12 V load. Unless a record says
otherwise it holds for the first declared condition, the heaviest load case and the state of
charge at which speed and climbs are asked for. A figure that does not exist is null.
"""

from __future__ import annotations

from typing import Literal

from bomplan.design.curve_records import Curves
from bomplan.design.record import Record


class RangeState(Record):
    """One range target in one state of the pack and the weather; energies per distance."""

    target: str
    state: Literal["new", "worn", "coldest"]
    temperature_c: float
    aged: bool
    heater_w: float
    range_km: float
    not_followed_s: float
    not_followed_m: float
    wheel_wh_per_km: float
    battery_wh_per_km: float
    wall_wh_per_km: float
    end_cause: str


class HeldSpeed(Record):
    """Greatest speed on the flat for so long, and what stops it from being more."""

    hold_s: float
    speed_kmh: float
    gear: int
    cause: str


class HeldGrade(Record):
    """Steepest grade (rise over run) at a speed, for a minute and for half an hour."""

    speed_kmh: float
    peak: float | None
    sustained: float | None


class HillStart(Record):
    """Steepest start from rest, and what limits it."""

    wet: bool
    grade: float | None
    cause: str


class Sprint(Record):
    """From rest to a speed at full throttle; null where it is never reached."""

    to_kmh: float
    seconds: float | None
    metres: float | None
    grip_limited: bool


class SteadySpeed(Record):
    """Holding one speed in one gear; ``possible`` for half an hour, five minutes on a hill."""

    speed_kmh: float
    gear: int
    grade: float
    motor_rpm: int
    motor_a: float
    battery_a: float | None
    pack_full_v: float | None
    pack_nearly_empty_v: float | None
    possible: bool


class PackVoltage(Record):
    """At rest, and under the hardest pull that every limit allows for ten seconds."""

    state: Literal["full", "half", "nearly empty"]
    state_of_charge: float
    rest_v: float
    pull_v: float
    pull_a: float


class LongDescent(Record):
    """The descent of the declared routes that asks most of the friction brakes, pack full."""

    profile: str
    height_m: float
    seconds: float
    brake_mj: float
    brake_kw: float
    warn: bool


class Driving(Record):
    condition: str
    load_case: str
    ranges: tuple[RangeState, ...]
    speeds: tuple[HeldSpeed, ...]
    climbs: tuple[HeldGrade, ...]
    starts: tuple[HillStart, ...]
    sprints: tuple[Sprint, ...]
    steady: tuple[SteadySpeed, ...]
    voltages: tuple[PackVoltage, ...]
    descent: LongDescent | None = None
    curves: Curves | None = None
