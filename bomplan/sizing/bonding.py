"""Bonding straps between metal boxes and the chassis: thick enough to outlast the fuse."""

from __future__ import annotations

from math import inf, sqrt

from bomplan.sizing.copper import resistance_ohm_per_m
from bomplan.sizing.withstand import FAULT_LIMIT_C, k_factor
from bomplan.source import seen

SECTIONS_MM2 = (6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0)
"""Usual sections of braids and cable; nothing thinner, which would be torn off (common
practice)."""
WARM_C = 90.0
"""What a strap beside warm cable starts from, as cable of the usual insulation does."""
JOINTS_OHM = 0.002
"""Two clean bolted joints of a strap together; common practice."""
STRAP_SOURCE = seen(
    "below 0.1 Ω, measured with 200 mA at least: R100-aligned draft 5.1.2.2 (seen); section by"
    " I²t <= (k S)², IEC 60364-5-54 (seen in reproduction)"
)


def strap_mm2(let_through_a2s: float) -> float:
    """The thinnest usual section that stands what the fuse lets through, in mm².

    Above the greatest usual section the computed one; infinite where the fuse never clears.
    """
    if let_through_a2s == inf:
        return inf
    wanted = sqrt(let_through_a2s) / k_factor(WARM_C, FAULT_LIMIT_C)
    return next((section for section in SECTIONS_MM2 if section >= wanted), wanted)


def strap_ohm(section_mm2: float, length_mm: float) -> float:
    """Resistance of a copper strap of this section with its two joints at 20 °C, in ohm."""
    return resistance_ohm_per_m(section_mm2) * length_mm / 1000.0 + JOINTS_OHM
