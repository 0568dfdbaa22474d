"""How much a cable may carry for long.

Tables for wiring in buildings serve as a careful thermal reference; vehicle cable has its own
standards (ISO 19642), which give no ampacity.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import inf, log, sqrt

from bomplan.sizing.copper import (
    TEMPERATURE_COEFFICIENT_PER_K,
    awg_area_mm2,
    effective_area_mm2,
)
from bomplan.sizing.finding import floored
from bomplan.source import seen

SOURCE = seen(
    "NEC 2023 Table 310.17, one insulated copper conductor in free air, 30 °C, as a thermal "
    "reference (seen in reproduction); fitted over 8 AWG to 4/0"
)

FREE_AIR_A: dict[int, tuple[int, int]] = {
    8: (70, 80),
    6: (95, 105),
    4: (125, 140),
    3: (145, 165),
    2: (170, 190),
    1: (195, 220),
    0: (230, 260),
    -1: (265, 300),
    -2: (310, 350),
    -3: (360, 405),
}
"""Ampacity by gauge (1/0 is 0, 4/0 is -3) of 75 °C and 90 °C conductors: NEC 2023 Table 310.17
(90 °C column seen in reproduction; in the 75 °C column gauges 3 and 1 from memory)."""

THIN_FREE_AIR_A: tuple[tuple[int, int], ...] = ((14, 35), (12, 40), (10, 55), (8, 80))
"""The same table below 8 AWG, 90 °C conductors (from memory), by gauge."""

BUNDLE_4_TO_6 = 0.8
"""Four to six loaded conductors in one conduit: NEC 310.15(C)(1) (from memory)."""
PAIR_IN_LOOM = 0.9
"""One pair in a split loom; common practice."""

_FIT_A = 20.06
_FIT_EXPONENT = 0.6419
_BASE_CLASS_C = 90.0
_BASE_AMBIENT_C = 30.0


def free_air_90c_a(area_mm2: float) -> float:
    """Ampacity of a 90 °C copper conductor in free air at 30 °C, from its *effective* area.

    A power law through the 90 °C column of the table above, at most 2.0 % off between 8 AWG
    (8.4 mm²) and 4/0 (107 mm²). Thinner copper falls below that law: there the table itself,
    straight in log-log between its gauges, where it gives less; below 14 AWG in proportion to
    the area (the careful side).

    ValueError for an area that is not above 0 mm².
    """
    if area_mm2 <= 0:
        raise ValueError("a cross-section must be above 0 mm2")
    return min(float(_FIT_A * area_mm2**_FIT_EXPONENT), _thin_a(area_mm2))


def _thin_a(area_mm2: float) -> float:
    """The table below 8 AWG; no limit above it."""
    points = [(awg_area_mm2(gauge), amps) for gauge, amps in THIN_FREE_AIR_A]
    if area_mm2 >= points[-1][0]:
        return inf
    if area_mm2 <= points[0][0]:
        return points[0][1] * area_mm2 / points[0][0]
    for (low, at_low), (high, at_high) in pairwise(points):
        if area_mm2 <= high:
            slope = log(at_high / at_low) / log(high / low)
            return at_low * float((area_mm2 / low) ** slope)
    raise AssertionError("every area below the last point lies between two")


def ambient_factor(ambient_c: float, insulation_c: float = 90.0) -> float:
    """Ampacity at an ambient over that of the same conductor at 30 °C, 0 at its class.

    sqrt((Tc - Ta) / (Tc - 30)), to which NEC Table 310.15(B)(1) is equal at the top of each
    of its bands (table seen in reproduction, identity computed).

    ValueError for a class that is not above 30 °C.
    """
    if insulation_c <= _BASE_AMBIENT_C:
        raise ValueError("the insulation class must be above 30 °C")
    if ambient_c >= insulation_c:
        return 0.0
    return sqrt((insulation_c - ambient_c) / (insulation_c - _BASE_AMBIENT_C))


def class_factor(ambient_c: float, insulation_c: float) -> float:
    """Ampacity at an ambient over that of a 90 °C conductor at 30 °C; 0 at or above the class.

    The same heat flow per kelvin, with the conductor's resistance at its own limit:
    sqrt((Tc - Ta) / 60 x R(90) / R(Tc)) (computed).
    """
    if ambient_c >= insulation_c:
        return 0.0
    base = 1.0 + TEMPERATURE_COEFFICIENT_PER_K * (_BASE_CLASS_C - 20.0)
    own = 1.0 + TEMPERATURE_COEFFICIENT_PER_K * (insulation_c - 20.0)
    span = _BASE_CLASS_C - _BASE_AMBIENT_C
    return sqrt((insulation_c - ambient_c) / span * base / own)


@lru_cache(maxsize=4096)
def ampacity_a(
    resistance_mohm_per_m: float,
    ambient_c: float,
    insulation_c: float = 90.0,
    bundle_factor: float = 1.0,
) -> float:
    """What a cable may carry for long in A, floored to 0.1 A.

    ``resistance_mohm_per_m`` at 20 °C decides the area that counts, ``ambient_c`` is the air
    around the cable, ``bundle_factor`` its neighbours (:data:`BUNDLE_4_TO_6`,
    :data:`PAIR_IN_LOOM`).
    """
    free = free_air_90c_a(effective_area_mm2(resistance_mohm_per_m))
    return floored(free * class_factor(ambient_c, insulation_c) * bundle_factor, 1)


def rolling_rms_a(currents_a: list[float], step_s: float, window_s: float) -> float:
    """The greatest root-mean-square over any window of this length, in A.

    ``currents_a`` at equal steps; a trace shorter than the window is averaged over its own
    length. Empty traces give 0.

    ValueError for a step or a window that is not above 0 s.
    """
    if step_s <= 0 or window_s <= 0:
        raise ValueError("step and window must be above 0 s")
    squares = [current * current for current in currents_a]
    if not squares:
        return 0.0
    width = min(len(squares), max(1, round(window_s / step_s)))
    # sums of whole windows, not running differences, so that no error builds up
    best = -inf
    for start in range(len(squares) - width + 1):
        best = max(best, sum(squares[start : start + width]))
    return sqrt(best / width)
