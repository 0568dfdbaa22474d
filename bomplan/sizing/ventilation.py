"""Hydrogen from lead-acid cells on charge: air flow, openings, fan."""

from __future__ import annotations

from bomplan.sizing.finding import Finding
from bomplan.source import seen

COEFFICIENT_25C = 0.055
"""m³/h per cell and ampere at 25 °C: IEC 62485-3 (seen in an industry leaflet, May 2020)."""
COEFFICIENT_0C = 0.05
"""The same with the gas volume at 0 °C: EN 50272-3 (seen in reproduction)."""
OPENING_CM2_PER_M3H = 28.0
"""Inlet and outlet each, for natural draught of 0.1 m/s: EN 50272-3 (seen)."""
ROOM_M3_PER_M3H = 2.5
"""Free volume of the room: EN 50272-3 (seen)."""
HYDROGEN_L_PER_AH_25C = 0.4564
HYDROGEN_L_PER_AH_0C = 0.4181
"""Litres of hydrogen per cell and ampere-hour of gassing (computed from electrolysis)."""
HYDROGEN_G_PER_AH = 0.0376
"""Grams of hydrogen per cell and ampere-hour: 1.00794 x 3600 / 96485 (computed)."""
CHARGE_LIMIT_G = 125.0
"""In a charge of 5 h: UN working paper EVS-05-19e (seen)."""
CFM_PER_M3H = 0.5886
"""Cubic feet per minute in one m³/h."""

GASSING_A_PER_100AH: dict[tuple[str, str], float] = {
    ("vented", "IU"): 2.0,
    ("sealed", "IU"): 1.0,
    ("vented", "IUI"): 6.0,
    ("sealed", "IUI"): 1.5,
    ("vented", "W"): 7.0,
}
"""Gassing current by cell (sealed: valve-regulated) and charging: voltage-limited IU, with a
closing constant current IUI, taper W (5 to 7): EN 50272-3 (seen). Sealed cells must not be
taper charged."""


def gassing_a(a_per_100ah: float, capacity_ah: float) -> float:
    """Current that splits water in each cell, in A."""
    return a_per_100ah * capacity_ah / 100.0


def air_flow_m3_h(
    cells: int,
    a_per_100ah: float,
    capacity_ah: float,
    coefficient: float = COEFFICIENT_25C,
) -> float:
    """Air that keeps hydrogen below 4 % with a safety of 5: Q = coefficient n Igas.

    ``cells`` counts every cell of the string; with strings in parallel ``capacity_ah`` is that
    of all of them. IEC 62485-3 / EN 50272-3; 0.055 is the safer of the two published forms.

    ValueError for a number of cells below 0.
    """
    if cells < 0:
        raise ValueError("cells cannot be below 0")
    return coefficient * cells * gassing_a(a_per_100ah, capacity_ah)


def opening_cm2(flow_m3_h: float) -> float:
    """Free area of the inlet, and of the outlet again, for natural draught, in cm²."""
    return OPENING_CM2_PER_M3H * flow_m3_h


def room_m3(flow_m3_h: float) -> float:
    """Free volume that a room for natural draught must have, in m³."""
    return ROOM_M3_PER_M3H * flow_m3_h


def hydrogen_l_h(cells: int, a_per_100ah: float, capacity_ah: float) -> float:
    """Litres of hydrogen per hour at 25 °C while this gassing current flows (computed)."""
    return HYDROGEN_L_PER_AH_25C * cells * gassing_a(a_per_100ah, capacity_ah)


def hydrogen_g(cells: int, a_per_100ah: float, capacity_ah: float, hours: float = 5.0) -> float:
    """Grams of hydrogen in a charge with this gassing current for all of its hours."""
    return HYDROGEN_G_PER_AH * cells * gassing_a(a_per_100ah, capacity_ah) * hours


def check_ventilation(
    cells: int,
    a_per_100ah: float,
    capacity_ah: float,
    fan_m3_h: float,
    inside_cabin: bool,
    vented_outside: bool,
) -> tuple[Finding, ...]:
    """Air flow of the fan, and no gas into the cabin; none for cells that do not gas."""
    if a_per_100ah <= 0 or cells == 0:
        return ()
    sound = vented_outside or not inside_cabin
    return (
        Finding(
            "ventilation-flow",
            "air flow of the fan against what keeps hydrogen below 4 %",
            fan_m3_h,
            air_flow_m3_h(cells, a_per_100ah, capacity_ah),
            "m³/h",
            "at least",
            seen("IEC 62485-3, 0.055 n Igas (seen in an industry leaflet, May 2020)"),
        ),
        Finding(
            "ventilation-cabin",
            "cells that gas inside the cabin in a box not vented outside (1 = yes)",
            0.0 if sound else 1.0,
            0.0,
            "",
            "at most",
            seen(
                "sealed box vented outside only: Australian guideline summary and UN working paper "
                "EVS-05-19e (seen)"
            ),
        ),
    )
