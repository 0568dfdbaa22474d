"""Copper conductors: gauge, cross-section, resistance, mass, voltage drop, bend radius."""

from __future__ import annotations

from math import pi, sqrt

RESISTIVITY_OHM_MM2_PER_M = 1.0 / 58.0
"""Annealed copper at 20 °C: IEC 60028:1925 (from memory)."""
TEMPERATURE_COEFFICIENT_PER_K = 0.00393
"""At 20 °C: IEC 60028 (from memory)."""
DENSITY_KG_PER_M3 = 8890.0
"""IEC 60028 (from memory)."""
INSULATION_KG_PER_M3 = 1350.0
"""Common practice; the mass of a cable comes out within about 15 %."""
STRAIGHT_MM = 50
"""Least straight length behind a lug or a gland before the first bend; common practice."""
HELD_MM = (300, 450)
"""From one clip to the next along a cable; common practice."""
STRAND_FILL = 0.63
"""Share of copper in the circle around a fine-stranded conductor; common practice."""

CLASS_5_OHM_PER_KM: dict[float, tuple[float, float]] = {
    1.5: (13.3, 13.7),
    2.5: (7.98, 8.21),
    4: (4.95, 5.09),
    6: (3.30, 3.39),
    10: (1.91, 1.95),
    16: (1.21, 1.24),
    25: (0.780, 0.795),
    35: (0.554, 0.565),
    50: (0.386, 0.393),
    70: (0.272, 0.277),
    95: (0.206, 0.210),
    120: (0.161, 0.164),
}
"""Greatest direct-current resistance at 20 °C of flexible (class 5) conductors, by nominal
mm²: plain and tinned copper. IEC 60228:2004 (figures seen in reproduction; table number 3
from memory)."""


def awg_diameter_mm(gauge: int) -> float:
    """Diameter of an American wire gauge; 1/0 is 0, 2/0 is -1, 3/0 is -2, 4/0 is -3.

    ASTM B258: d = 0.127 mm x 92^((36 - n) / 39) (formula from memory, diameters agree with a
    table seen in print).

    ValueError for a gauge outside 4/0 to 40.
    """
    if not -3 <= gauge <= 40:
        raise ValueError(f"gauge {gauge} is outside 4/0 (-3) to 40")
    return 0.127 * float(92.0 ** ((36 - gauge) / 39.0))


def awg_area_mm2(gauge: int) -> float:
    """Cross-section of a gauge as a solid round wire, in mm²."""
    return pi / 4.0 * awg_diameter_mm(gauge) ** 2


def awg_name(gauge: int) -> str:
    """``4/0`` to ``1/0`` and then plain numbers."""
    return f"{1 - gauge}/0" if gauge <= 0 else str(gauge)


def nearest_awg(area_mm2: float) -> int:
    """The gauge whose cross-section is nearest in ratio, from 4/0 (-3) to 20.

    ValueError for an area that is not above 0 mm².
    """
    if area_mm2 <= 0:
        raise ValueError("a cross-section must be above 0 mm2")
    return min(
        range(-3, 21),
        key=lambda n: (max(awg_area_mm2(n) / area_mm2, area_mm2 / awg_area_mm2(n)), n),
    )


def resistance_ohm_per_m(area_mm2: float, temperature_c: float = 20.0) -> float:
    """Resistance of a metre of ideal copper of this cross-section."""
    return at_temperature(RESISTIVITY_OHM_MM2_PER_M / area_mm2, temperature_c)


def at_temperature(resistance_20: float, temperature_c: float) -> float:
    """A copper resistance known at 20 °C (``resistance_20``), at another, in the same unit."""
    return resistance_20 * (1.0 + TEMPERATURE_COEFFICIENT_PER_K * (temperature_c - 20.0))


def effective_area_mm2(resistance_mohm_per_m: float) -> float:
    """The cross-section of ideal copper with this resistance at 20 °C (mohm/m).

    Class 5 fixes the resistance, not the area: nominal 50 mm² counts as 44.7 mm².

    ValueError for a resistance that is not above 0.
    """
    if resistance_mohm_per_m <= 0:
        raise ValueError("a resistance must be above 0")
    return RESISTIVITY_OHM_MM2_PER_M * 1000.0 / resistance_mohm_per_m


def voltage_drop_v(
    current_a: float, resistance_mohm_per_m: float, loop_m: float, temperature_c: float
) -> float:
    """Voltage lost in a loop of cable (both poles and box links counted), in V."""
    return current_a * at_temperature(resistance_mohm_per_m, temperature_c) * loop_m / 1000.0


def heating_k_per_s(current_a: float, area_mm2: float, temperature_c: float = 20.0) -> float:
    """Adiabatic rise of a copper conductor in K/s.

    Resistance times current squared over heat capacity, with 3.45 MJ/m³K (from memory).
    """
    density = current_a / area_mm2
    resistivity = at_temperature(RESISTIVITY_OHM_MM2_PER_M, temperature_c)
    return density * density * resistivity / 3.45


def cable_kg_per_m(area_mm2: float, outer_diameter_mm: float) -> float:
    """Estimated mass of a metre of single-core cable, within about 15 % (common practice)."""
    core = sqrt(4.0 * area_mm2 / (STRAND_FILL * pi))
    jacket_mm2 = max(0.0, pi / 4.0 * (outer_diameter_mm**2 - core**2))
    return (DENSITY_KG_PER_M3 * area_mm2 + INSULATION_KG_PER_M3 * jacket_mm2) * 1e-6


def bend_radius_mm(
    outer_diameter_mm: float, *, moving: bool = False, rubber: bool = False, screened: bool = False
) -> float:
    """Least inner bend radius of a flexible cable.

    IEC 62440, multiples of the outer diameter (seen in reproduction): fixed 3 up to 12 mm and
    4 above; moving 5 and 6 for thermoplastic; 4, 5 (to 20 mm) and 6 for rubber. Screened
    cable 6 fixed, 10 moving (common practice).
    """
    if screened:
        factor = 10 if moving else 6
    elif not moving:
        factor = 3 if outer_diameter_mm <= 12 else 4
    elif rubber:
        factor = 4 if outer_diameter_mm <= 12 else 5 if outer_diameter_mm <= 20 else 6
    else:
        factor = 5 if outer_diameter_mm <= 12 else 6
    return factor * outer_diameter_mm
