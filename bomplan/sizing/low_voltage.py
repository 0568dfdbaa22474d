"""The 12 V side: loads, DC-DC converter, reserve battery, brake vacuum."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bomplan.sizing.finding import Finding
from bomplan.source import practice, seen

SYSTEM_V = 13.8
"""Voltage of the 12 V side while the converter runs; common practice."""
LOADING = 0.8
"""Share of the converter's rating that the sum of loads may take; common practice."""
CONVERTER_EFFICIENCY = 0.9
KPA_PER_INHG = 3.386
"""One inch of mercury in kPa."""


@dataclass(frozen=True)
class Load:
    """A load of the 12 V side: current in A while it is on, share of the time that it is on."""

    name: str
    current_a: float
    duty: float
    seen: bool


LOADS: dict[str, Load] = {
    load.name: load
    for load in (
        Load("low beams", 9.0, 1.0, True),
        Load("tail, plate, marker and panel lights", 4.0, 1.0, True),
        Load("brake lights", 4.0, 0.25, True),
        Load("wipers", 5.0, 1.0, True),
        Load("heater blower", 10.0, 1.0, True),
        Load("rear defogger", 22.0, 0.5, True),
        Load("radio", 4.0, 1.0, True),
        Load("power windows", 10.0, 0.05, True),
        Load("anti-lock brakes", 4.0, 0.5, True),
        Load("brake vacuum pump", 12.0, 0.2, False),
        Load("contactor coils", 1.5, 1.0, False),
        Load("controller, monitor and gauges", 2.0, 1.0, False),
        Load("coolant pump", 3.0, 1.0, False),
        Load("radiator fan", 8.0, 0.3, False),
        Load("electric power steering, mean", 4.0, 1.0, False),
        Load("12 V battery recharge", 5.0, 1.0, False),
    )
}
"""Currents seen in print unless marked otherwise; duty factors are common practice."""


def mean_load_a(loads: Iterable[Load]) -> float:
    """Sum of current times duty, in A."""
    return sum(load.current_a * load.duty for load in loads)


def converter_w(mean_a: float) -> float:
    """Least rating of the DC-DC converter: 13.8 V times the mean current over 0.8, in W.

    Common practice.
    """
    return SYSTEM_V * mean_a / LOADING


def converter_input_a(output_w: float, lowest_v: float) -> float:
    """Greatest input current at the sagging pack voltage, in A."""
    return output_w / (CONVERTER_EFFICIENCY * lowest_v)


def branch_fuse_a(load_a: float, factor: float = 1.25) -> float:
    """Least rating of the fuse of a branch with a steady load; 1.25 to 1.5 is common practice."""
    return load_a * factor


def check_converter(
    v_in_min: float,
    v_in_max: float,
    output_w: float,
    isolated: bool,
    lowest_v: float,
    highest_v: float,
    mean_a: float,
) -> tuple[Finding, ...]:
    """Whether a DC-DC converter suits the pack's window and the 12 V loads."""
    return (
        Finding(
            "dcdc-low",
            "lowest pack voltage under load against where the converter stops",
            lowest_v,
            v_in_min,
            "V",
            "at least",
            practice("input range covers the sagging pack (common practice)"),
        ),
        Finding(
            "dcdc-high",
            "highest charge voltage against what the converter takes",
            highest_v,
            v_in_max,
            "V",
            "at most",
            practice("input range covers the full pack (common practice)"),
        ),
        Finding(
            "dcdc-power",
            "12 V loads with their duty over 0.8 against the converter's rating",
            converter_w(mean_a),
            output_w,
            "W",
            "at most",
            practice(
                "load table with duty factors (currents mostly seen, factors common practice)"
            ),
        ),
        Finding(
            "dcdc-isolated",
            "isolation between traction circuit and chassis (1 = yes)",
            1.0 if isolated else 0.0,
            1.0,
            "",
            "at least",
            seen("no pole of a class B circuit joins the chassis: UN R100 isolation rule (seen)"),
        ),
    )


def reserve_ah(safety_load_a: float, hours: float = 0.5, usable: float = 0.5) -> float:
    """Capacity of the 12 V battery that feeds the safety loads alone for a while, in Ah.

    Half an hour, half of a lead-acid battery usable: common practice.

    ValueError for a usable share outside (0, 1].
    """
    if not 0 < usable <= 1:
        raise ValueError("the usable share must be above 0 and at most 1")
    return safety_load_a * hours / usable


VACUUM_LEAST_KPA = 54.0
"""Below ambient, for the booster's correct assistance (seen)."""
VACUUM_ON_KPA = 55.0
VACUUM_OFF_KPA = 72.0
"""Switching points of the pump, below ambient; common practice: on 51-61, off 68-75."""
VACUUM_WARNING_KPA = 40.0
"""Lamp and buzzer below this; common practice."""


def presses_left(
    volume_l: float, start_kpa: float, stroke_l: float, least_kpa: float, ambient_kpa: float = 101.3
) -> int:
    """Full pedal presses from a reservoir with the pump off until assistance drops.

    Each press lets ``stroke_l`` of air at ambient pressure into reservoir and booster
    (isothermal, computed). Pressures are vacuum below ambient.

    ValueError for volumes that are not above 0 L.
    """
    if volume_l <= 0 or stroke_l <= 0:
        raise ValueError("volumes must be above 0 L")
    vacuum = min(start_kpa, ambient_kpa)
    presses = 0
    while presses < 100:
        vacuum -= (stroke_l / volume_l) * ambient_kpa
        if vacuum < least_kpa:
            return presses
        presses += 1
    return presses
