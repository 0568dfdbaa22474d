"""The 12 V side: DC-DC converter, reserve battery."""

from __future__ import annotations

from math import inf

from bomplan.sizing.finding import Finding
from bomplan.source import practice, seen

SYSTEM_V = 13.8
"""Voltage of the 12 V side while the converter runs; common practice."""
LOADING = 0.8
"""Share of the converter's rating that the sum of loads may take; common practice."""
CONVERTER_EFFICIENCY = 0.9


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


RESERVE_USABLE = 0.5
"""Share of a lead-acid battery that the reserve may count on; common practice."""
COLD_PER_K = 0.01
"""Capacity lost per kelvin below 25 °C at rates of one to three hours (seen)."""
COLD_LEAST = 0.2
"""No battery is counted below this share of its capacity, whatever the cold; common practice."""
CONTROLS_A = 3.5
"""Contactor coils, controller and monitor while the drive goes on; common practice."""
PUMP_A = 2.4
"""Mean of a brake vacuum pump: 12 A for a fifth of the time; common practice."""
BATTERY_V = 12.0
"""Voltage of the 12 V battery on its own, under load; common practice."""


def cold_share(temperature_c: float) -> float:
    """Share of its capacity that a lead-acid battery gives at this temperature, 1 at 25 °C.

    One part in a hundred less for every kelvin, at rates of one to three hours (seen).
    """
    return min(1.0, max(COLD_LEAST, 1.0 - COLD_PER_K * (25.0 - temperature_c)))


def reserve_ah(
    safety_load_a: float,
    hours: float = 0.5,
    usable: float = RESERVE_USABLE,
    temperature_c: float = 25.0,
) -> float:
    """Capacity of the 12 V battery that feeds the safety loads alone for a while, in Ah.

    Half an hour, half of a lead-acid battery usable: common practice.

    ValueError for a usable share outside (0, 1].
    """
    if not 0 < usable <= 1:
        raise ValueError("the usable share must be above 0 and at most 1")
    return safety_load_a * hours / (usable * cold_share(temperature_c))


def reserve_minutes(
    capacity_ah: float,
    safety_load_a: float,
    usable: float = RESERVE_USABLE,
    temperature_c: float = 25.0,
) -> float:
    """How long a 12 V battery feeds the safety loads alone, in minutes over the hours of amperes.

    ``usable`` is the share of its capacity that counts; infinite without any load.
    """
    if safety_load_a <= 0:
        return inf
    return 60.0 * capacity_ah * usable * cold_share(temperature_c) / safety_load_a
