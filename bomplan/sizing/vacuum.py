"""Brake vacuum: what a booster takes with each press, and how many are left without a pump.

Derivation of the presses. Reservoir and booster hold air of pressure p in a volume V. A full
press parts the swept volume s of the booster from the rest and fills it with air of the
atmosphere p0; when the pedal comes back, that air spreads through all of V. Slowly enough to
stay at the temperature around (isothermal), the amount of air is p V before, and after it
p (V - s) + p0 s = p' V. So p' = p + (p0 - p) s / V, and the vacuum d = p0 - p becomes
d' = d (1 - s / V): each press leaves the same share, whatever the air pressure of the place,
and n presses leave d (1 - s / V)^n.
"""

from __future__ import annotations

from math import floor, log, pi

VACUUM_LEAST_KPA = 54.0
"""Below ambient, for the booster's correct assistance (seen)."""
VACUUM_ON_KPA = 55.0
VACUUM_OFF_KPA = 72.0
"""Switching points of the pump, below ambient; common practice: on 51-61, off 68-75."""
VACUUM_WARNING_KPA = 40.0
"""Lamp and buzzer below this; common practice."""
VACUUM_LOST_KPA = 20.0
"""Assistance is lost: the limit at which a factory's control unit tells a fault (seen)."""
PRESSES_LEAST = 3
"""Full presses with the pump off before assistance is lost; common practice."""
EFFECTIVE_AREA = 0.9
"""Of a booster's outer area, for its diaphragm; common practice."""
FULL_STROKE_MM = 35.0
"""Of the push rod at a full press; common practice."""
DEPTH_MM = 110.0
"""Inner depth of a booster, both chambers; common practice."""
MOST_PRESSES = 100
"""Counted no further."""


def swept_l(diameter_mm: float) -> float:
    """Air that a full press of a booster of this diameter lets in, in litres (common practice)."""
    return pi / 4.0 * diameter_mm**2 * EFFECTIVE_AREA * FULL_STROKE_MM / 1e6


def booster_l(diameter_mm: float) -> float:
    """Volume of both chambers of a booster of this diameter, in litres (common practice)."""
    return pi / 4.0 * diameter_mm**2 * EFFECTIVE_AREA * DEPTH_MM / 1e6


def vacuum_after_kpa(start_kpa: float, presses: int, pressed_l: float, volume_l: float) -> float:
    """Vacuum that so many full presses leave: d (1 - s/V)^n, isothermal (computed)."""
    return start_kpa * (1.0 - pressed_l / volume_l) ** presses


def presses_left(volume_l: float, start_kpa: float, pressed_l: float, least_kpa: float) -> int:
    """Full pedal presses with the pump off after which the vacuum is not below ``least_kpa``.

    ``volume_l`` is reservoir and booster together, ``pressed_l`` the air of one press, in
    litres; pressures are vacuum below ambient. The derivation stands above.

    ValueError for volumes that are not above 0 L.
    """
    if volume_l <= 0 or pressed_l <= 0:
        raise ValueError("volumes must be above 0 L")
    if start_kpa < least_kpa or pressed_l >= volume_l:
        return 0
    # A hair's breadth, so that a vacuum that is met exactly counts on every machine.
    found = log(least_kpa / start_kpa) / log(1.0 - pressed_l / volume_l)
    return min(MOST_PRESSES, floor(found + 1e-9))
