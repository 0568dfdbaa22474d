"""What the builder may set otherwise than the trade does: common practice as data."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from bomplan.project.chassis import ShareAdvice
from bomplan.project.record import Record
from bomplan.project.units import (
    COLDEST_C,
    HOTTEST_ROOM_C,
    Degrees,
    Fraction,
    Millimetres,
    MoneyText,
    Number,
    Ohms,
    Seconds,
    Volts,
)


class HouseRules(Record):
    """Common practice as adjustable data."""

    retired: ClassVar[frozenset[str]] = frozenset(
        {
            "charge_efficiency",
            "storage_min",
            "storage_min_c",
            "wheel_energy_floor",
            "wheel_energy_floor_j",
        }
    )

    reference_circuit_ohm: Ohms = Field(
        0.010,
        alias="reference_circuit",
        description="cable, fuse, contactor and joints, for the design currents",
    )
    joint_uohm: int = Field(
        100, ge=0, description="bar and its two joints between neighbouring modules"
    )
    link_reach_mm: Millimetres = Field(
        80,
        alias="link_reach",
        gt=0,
        description="a link between neighbouring modules up to so long from terminal to terminal"
        " is a bar, and every bar is at least so long; all other links are cable with two lugs",
    )
    dcdc_efficiency: Fraction = 0.87
    cable_slack: Fraction = Field(0.15, description="added to every measured run")
    minimum_front_share: Fraction | None = Field(
        None, le=1, description="a limit in every load case"
    )
    maximum_front_share: Fraction | None = Field(
        None, le=1, description="a limit in every load case"
    )
    minimum_left_share: Fraction | None = Field(
        None, le=0.5, description="a limit in every load case; needs corner weighing and tracks"
    )
    maximum_left_share: Fraction | None = Field(None, ge=0.5, le=1, description="likewise")
    share_advice: ShareAdvice = ShareAdvice()
    conductor_ambient_c: Degrees = Field(
        60.0, alias="conductor_ambient", ge=COLDEST_C, le=HOTTEST_ROOM_C
    )
    precharge_seconds: Seconds = 2.0
    discharge_seconds: Seconds = Field(
        300.0,
        gt=0,
        description="in which the controller's capacitors fall below 60 V by themselves",
    )
    peak_share_of_least_fault: Fraction = Field(
        0.45,
        gt=0,
        le=1,
        description="battery current set at most, of the short-circuit current of the empty,"
        " cold, worn pack: leaves room for a fuse between the two",
    )
    section_v: Volts = Field(
        60.0,
        alias="section_voltage",
        gt=0,
        description="most that may be handled in one piece while building; a module above it is"
        " not taken: raise it only if you know how to work on live parts",
    )
    missed_downshift: Literal["warn", "forbid"] = Field(
        "warn",
        description="warn: told; forbid: the motor must stand the next lower gear at the highest"
        " road speed that is asked for",
    )
    peak_drop_share: Fraction = Field(
        0.03,
        gt=0,
        description="of the pack's volts, lost in the traction cables at the peak current: above it"
        " a plan says so",
    )
    peak_drop: Literal["warn", "forbid"] = Field(
        "warn", description="warn: told; forbid: no cable that takes more is bought"
    )
    brake_presses: int = Field(
        3, ge=0, le=20, description="full presses with help that the vacuum reservoir must hold"
    )
    reserve_12v_minutes: Number = Field(
        30.0,
        ge=0,
        le=240,
        description="how long the 12 V battery feeds lamps, hazards and wipers alone; read where"
        " the donor gives `loads_12v`",
    )
    drivers_reach_mm: Millimetres = Field(
        700,
        alias="drivers_reach",
        gt=0,
        description="from the middle of the seat to what the driver reaches in the belt",
    )
    workshop_rate: MoneyText | None = Field(
        None, description="money per hour, when work is paid: counted in the whole sum"
    )
