"""Contactors and disconnects: voltage, carrying, breaking."""

from __future__ import annotations

from bomplan.sizing.finding import Finding
from bomplan.source import practice

BOTH_POLES_ABOVE_V = 60.0
"""Above this direct voltage both poles are switched (from memory and common practice)."""


def poles_switched(highest_v: float) -> int:
    """How many poles need a contactor: 2 above 60 V, else 1."""
    return 2 if highest_v > BOTH_POLES_ABOVE_V else 1


def check_contactor(
    v_max: float,
    carry_a: float,
    break_a: float,
    highest_v: float,
    rms_a: float,
    worst_load_a: float,
    *,
    continuous_margin: float = 0.0,
    voltage_margin: float = 0.0,
) -> tuple[Finding, ...]:
    """Whether a direct-current contactor suits the circuit.

    It must be rated at the highest voltage, carry the rolling root-mean-square current at box
    temperature and break the worst load current a few times (seen as a rule; figures common
    practice). A disconnect that breaks no load has ``break_a`` 0 and cannot pass.
    """
    return (
        Finding(
            "contactor-voltage",
            "direct-voltage rating of the contactor against the highest voltage",
            highest_v * (1.0 + voltage_margin),
            v_max,
            "V",
            "at most",
            practice("direct-voltage rating at the highest charge voltage (common practice)"),
        ),
        Finding(
            "contactor-carry",
            "rolling root-mean-square current against what the contactor carries",
            rms_a * (1.0 + continuous_margin),
            carry_a,
            "A",
            "at most",
            practice("carrying current at box temperature (common practice)"),
        ),
        Finding(
            "contactor-break",
            "worst load current against what the contactor breaks",
            worst_load_a,
            break_a,
            "A",
            "at most",
            practice("must break the worst load a few times in its life (common practice)"),
        ),
    )
