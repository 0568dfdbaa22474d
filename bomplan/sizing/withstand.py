"""How much fault energy a conductor withstands before its insulation is hurt."""

from __future__ import annotations

from functools import lru_cache
from math import log, log10, sqrt

from bomplan.sizing.finding import floored
from bomplan.source import seen

SOURCE = seen(
    "IEC 60364-5-54 / BS 7671 adiabatic rule, S >= sqrt(I²t)/k, to 5 s (seen in reproduction)"
)
LONGEST_S = 5.0
"""The adiabatic rule holds up to 5 s."""
FAULT_LIMIT_C = 250.0
"""Final conductor temperature of cross-linked insulation under a fault: IEC 60364-5-54."""


def k_factor(start_c: float, final_c: float) -> float:
    """k of copper in A s^0.5/mm²: 226 sqrt(ln((Tf + 234.5) / (Ti + 234.5))).

    IEC 60364-5-54, annex (constants seen in reproduction). ValueError unless final > start.
    """
    if final_c <= start_c:
        raise ValueError("the final temperature must be above the starting one")
    return 226.0 * sqrt(log((final_c + 234.5) / (start_c + 234.5)))


@lru_cache(maxsize=4096)
def withstand_a2s(
    area_mm2: float, insulation_c: float = 90.0, final_c: float = FAULT_LIMIT_C
) -> float:
    """Let-through I²t that the conductor withstands from its full working temperature, A²s.

    ``area_mm2`` is the effective area; floored to 1000 A²s. Nothing where the conductor may work
    as hot as a fault may leave it.
    """
    if insulation_c >= final_c:
        return 0.0
    return floored((k_factor(insulation_c, final_c) * area_mm2) ** 2, -3)


def least_area_mm2(current_a: float, seconds: float, k: float) -> float:
    """The least cross-section for a fault of this current and length; ValueError above 5 s."""
    if not 0 < seconds <= LONGEST_S:
        raise ValueError("the adiabatic rule holds from 0 to 5 s")
    return current_a * sqrt(seconds) / k


def onderdonk_a_per_mm2(start_c: float, seconds: float, melting_c: float = 1083.0) -> float:
    """Current density at which copper melts in a given time (Onderdonk, seen in print).

    I = A sqrt(log10((Tm - Ta) / (234 + Ta) + 1) / (33 t)), A in circular mils.
    """
    circular_mils_per_mm2 = 1e6 / (25.4**2 * 0.7853981633974483)
    rise = log10((melting_c - start_c) / (234.0 + start_c) + 1.0)
    return circular_mils_per_mm2 * sqrt(rise / (33.0 * seconds))
