"""Pre-charge of the controller's capacitors, and their discharge."""

from __future__ import annotations

from math import exp, inf, log

from bomplan.sizing.finding import Finding
from bomplan.source import practice, seen

CLOSING_SHARE = 0.95
"""Share of the pack voltage at which the main contactor may close; sources give 90 to 95 %."""
CLOSING_GAP_V = 20.0
"""Greatest voltage across the main contactor as it closes; common practice."""
RETRIES = 3
"""Attempts before the start is refused; common practice."""
RETRY_PAUSE_S = 60.0
"""Pause in which the resistor cools between attempts; common practice."""
FAULT_TIME_FACTOR = 2.5
"""Time-out over planned time: a load left on, a short or an open resistor; 2 to 3 is usual."""
SAFE_V = 60.0
"""Direct voltage that needs no protection from touch: class A, ISO 6469-3 (from memory)."""


def closing_share(source_v: float) -> float:
    """Share at which the main contactor closes: 95 %, more where 20 V would be left across it.

    Common practice; sources close at 90 to 95 %, one at a gap of 30 V (seen).
    """
    return max(CLOSING_SHARE, 1.0 - CLOSING_GAP_V / source_v)


def time_to_share_s(resistance_ohm: float, capacitance_f: float, share: float) -> float:
    """Seconds until the capacitor has this share of the source voltage: -R C ln(1 - share).

    ValueError for a share that does not lie between 0 and 1.
    """
    if not 0 < share < 1:
        raise ValueError("the share must lie between 0 and 1")
    return -resistance_ohm * capacitance_f * log(1.0 - share)


def resistance_for_ohm(capacitance_f: float, share: float, seconds: float) -> float:
    """The resistor that reaches this share in this time, in ohm."""
    return seconds / time_to_share_s(1.0, capacitance_f, share)


def voltage_after_v(
    source_v: float, resistance_ohm: float, capacitance_f: float, seconds: float
) -> float:
    """Capacitor voltage some seconds after the pre-charge relay closed, from empty."""
    return source_v * (1.0 - exp(-seconds / (resistance_ohm * capacitance_f)))


def peak_current_a(source_v: float, resistance_ohm: float) -> float:
    """Current at the first moment."""
    return source_v / resistance_ohm


def peak_power_w(source_v: float, resistance_ohm: float) -> float:
    """Power in the resistor at the first moment."""
    return source_v * source_v / resistance_ohm


def pulse_energy_j(source_v: float, capacitance_f: float) -> float:
    """Heat in the resistor per pre-charge: as much as the capacitor then holds, C V² / 2."""
    return 0.5 * capacitance_f * source_v * source_v


def gap_v(source_v: float, share: float = CLOSING_SHARE) -> float:
    """Voltage left across the main contactor when it closes at this share."""
    return source_v * (1.0 - share)


def closing_surge_a(gap_volts: float, loop_ohm: float) -> float:
    """Current surge as the main contactor closes onto the remaining gap."""
    return gap_volts / loop_ohm


def stalled_share(resistance_ohm: float, load_ohm: float) -> float:
    """Where a pre-charge ends when a load is on the bus: Rload / (Rload + R)."""
    return load_ohm / (load_ohm + resistance_ohm)


def discharge_s(
    start_v: float, bleed_ohm: float, capacitance_f: float, end_v: float = SAFE_V
) -> float:
    """Seconds until a bleed resistor has brought the capacitor down to ``end_v``; 0 if below."""
    if start_v <= end_v:
        return 0.0
    return bleed_ohm * capacitance_f * log(start_v / end_v)


def bleed_for_ohm(
    start_v: float, capacitance_f: float, seconds: float, end_v: float = SAFE_V
) -> float:
    """The greatest bleed resistor that is down to ``end_v`` in this time; ValueError if below."""
    if start_v <= end_v:
        raise ValueError("the voltage is already at or below the end voltage")
    return seconds / (capacitance_f * log(start_v / end_v))


def time_with_load_s(
    resistance_ohm: float, load_ohm: float, capacitance_f: float, share: float
) -> float:
    """Seconds until the capacitor has this share through a resistor, with a load across it.

    The voltage ends at Rload / (Rload + R) of the source, with the time constant of both
    resistors side by side; infinite where it never gets to ``share``.
    """
    end = stalled_share(resistance_ohm, load_ohm)
    if share >= end:
        return inf
    side_by_side = resistance_ohm * load_ohm / (resistance_ohm + load_ohm)
    return time_to_share_s(side_by_side, capacitance_f, share / end)


DISCHARGE_LOAD = 0.5
"""Share of its rating that a resistor takes which is warm all day; common practice."""


def check_discharge(
    resistance_ohm: float,
    power_rating_w: float,
    voltage_rating_v: float,
    highest_v: float,
    capacitance_f: float,
    longest_s: float,
    *,
    voltage_margin: float = 0.0,
) -> tuple[Finding, ...]:
    """Whether a resistor across the controller's input suits: time to 60 V, heat, voltage."""
    return (
        Finding(
            "discharge-time",
            f"time from the highest voltage to {SAFE_V:.0f} V once the contactors are open",
            discharge_s(highest_v, resistance_ohm, capacitance_f),
            longest_s,
            "s",
            "at most",
            seen(
                "R C ln(V/60) (computed); five minutes to wait stand in an inverter's manual (seen)"
            ),
        ),
        Finding(
            "discharge-power",
            "heat of the discharge resistor at the highest voltage against half its rating",
            peak_power_w(highest_v, resistance_ohm),
            DISCHARGE_LOAD * power_rating_w,
            "W",
            "at most",
            practice(
                "V²/R (computed), half the rating for a part that is always on (common practice)"
            ),
        ),
        Finding(
            "discharge-voltage",
            "voltage rating of the discharge resistor against the highest voltage",
            highest_v * (1.0 + voltage_margin),
            voltage_rating_v,
            "V",
            "at most",
            practice("rating at the highest charge voltage (common practice)"),
        ),
    )


def check_precharge(
    resistance_ohm: float,
    pulse_rating_j: float,
    power_rating_w: float,
    voltage_rating_v: float,
    source_v: float,
    capacitance_f: float,
    longest_s: float,
    *,
    voltage_margin: float = 0.0,
) -> tuple[Finding, ...]:
    """Whether a resistor suits: time to closing, pulse heat, mean heat of retries, voltage.

    A resistor is sized on pulse energy and length, not on peak or mean watts (seen, in a
    semiconductor maker's application note of 2024); the retry rule is common practice.
    """
    share = closing_share(source_v)
    energy = pulse_energy_j(source_v, capacitance_f)
    note = seen("RC charging and C V²/2 (computed; rule seen in an application note, Sept 2024)")
    return (
        Finding(
            "precharge-time",
            f"time to {100 * share:.1f} % of the pack voltage",
            time_to_share_s(resistance_ohm, capacitance_f, share),
            longest_s,
            "s",
            "at most",
            note,
        ),
        Finding(
            "precharge-pulse",
            "heat of one pre-charge against the resistor's pulse rating",
            energy,
            pulse_rating_j,
            "J",
            "at most",
            note,
        ),
        Finding(
            "precharge-retry",
            f"mean heat of repeated starts, {RETRY_PAUSE_S:.0f} s apart, against its power",
            energy / RETRY_PAUSE_S,
            power_rating_w,
            "W",
            "at most",
            practice(f"one minute to cool, at most {RETRIES} attempts (common practice)"),
        ),
        Finding(
            "precharge-voltage",
            "voltage rating of the resistor against the highest voltage",
            source_v * (1.0 + voltage_margin),
            voltage_rating_v,
            "V",
            "at most",
            practice("rating at the highest charge voltage (common practice)"),
        ),
    )
