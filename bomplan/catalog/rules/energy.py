"""Rules on what a module weighs, holds and costs, and on the tables behind it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from bomplan.catalog.records import Catalog, CurvePoint, Part, TemperaturePoint
from bomplan.catalog.rules.finding import Finding, about

# kg per nominal kWh of the bare module. Common practice, typical rows of the mid 2020s:
# flooded 21 to 22, sealed lead 26, LFP bare 6.0 to 6.6 (small cells and packaged blocks up to
# 9), NMC 5 to 11, LTO 13.8, sodium 8.4; widened by about 15 %.
KG_PER_KWH: Final[dict[str, tuple[float, float]]] = {
    "flooded": (18.0, 26.0),
    "agm": (22.0, 31.0),
    "gel": (23.0, 32.0),
    "lfp": (5.3, 10.0),
    "nmc": (4.2, 12.0),
    "lto": (11.5, 17.0),
    "sodium": (7.0, 11.0),
}
# USD per nominal kWh, mid 2020s, common practice; prices scatter by 30 %.
USD_PER_KWH: Final[dict[str, tuple[float, float]]] = {
    "flooded": (85.0, 260.0),
    "agm": (140.0, 360.0),
    "gel": (180.0, 420.0),
    "lfp": (75.0, 380.0),
    "nmc": (60.0, 400.0),
    "lto": (240.0, 700.0),
    "sodium": (90.0, 300.0),
}
# Nominal volts of one cell.
CELL_V: Final[dict[str, tuple[float, float]]] = {
    "flooded": (1.95, 2.1),
    "agm": (1.95, 2.1),
    "gel": (1.95, 2.1),
    "lfp": (3.15, 3.35),
    "nmc": (3.55, 3.8),
    "lto": (2.2, 2.5),
    "sodium": (2.8, 3.3),
}


def nominal_kwh(part: Part) -> float:
    """Nominal energy of one module when new, kWh."""
    cells = part.number("cells_series")
    return cells * part.number("cell_v_nominal") * part.number("capacity_ah") / 1000


def energy_density(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Mass per nominal kWh lies in the window of its chemistry."""
    for part in catalog.family("module").values():
        window = KG_PER_KWH.get(part.text("chemistry"))
        if window is None:
            continue
        value = part.mass_g / 1000 / nominal_kwh(part)
        if not window[0] <= value <= window[1]:
            message = f"{value:.1f} kg/kWh, {window[0]:g} to {window[1]:g} is usual"
            yield about(part, "energy-density", "mass_kg", message)


def price_per_kwh(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Price per nominal kWh lies in the window of its chemistry (rows in USD only)."""
    for part in catalog.family("module").values():
        window = USD_PER_KWH.get(part.text("chemistry"))
        if window is None or part.currency != "USD":
            continue
        value = part.price / 100 / nominal_kwh(part)
        if not window[0] <= value <= window[1]:
            message = f"{value:.0f} USD/kWh, {window[0]:g} to {window[1]:g} is usual"
            yield about(part, "price-per-kwh", "price", message)


def bulk_density(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Mass over outer volume is 0.8 to 3.5 kg/l: cells and lead blocks are 1.5 to 2.8."""
    for part in catalog.family("module").values():
        if part.length_mm is None or part.width_mm is None or part.height_mm is None:
            continue
        litres = part.length_mm * part.width_mm * part.height_mm / 1e6
        value = part.mass_g / 1000 / litres
        if not 0.8 <= value <= 3.5:
            message = f"{value:.2f} kg/l with these sizes, 0.8 to 3.5 is possible"
            yield about(part, "bulk-density", "length_mm", message)


def cell_voltage(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """The nominal cell voltage suits the chemistry."""
    for part in catalog.family("module").values():
        window = CELL_V.get(part.text("chemistry"))
        volts = part.number("cell_v_nominal")
        if window is not None and not window[0] <= volts <= window[1]:
            message = f"{volts:g} V, {window[0]:g} to {window[1]:g} is usual for it"
            yield about(part, "cell-voltage", "cell_v_nominal", message)


def curve_shape(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Open-circuit voltage rises with charge; the resistance factor is 1 at half charge."""
    for name, points in curves_by_name(catalog).items():
        for low, high in pairwise(points):
            if high.open_circuit_v <= low.open_circuit_v:
                message = f"does not rise from {low.state_of_charge:g} to {high.state_of_charge:g}"
                yield Finding("curve-shape", "curves", name, "open_circuit_v", message)
        half = [point for point in points if point.state_of_charge == 0.5]
        if not half or abs(half[0].resistance_factor - 1) > 1e-9:
            message = "is not 1 at half charge"
            yield Finding("curve-shape", "curves", name, "resistance_factor", message)


def curve_against_module(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A module's nominal voltage is within 5 % of its curve's at half charge, and its cut-off
    and charge voltages stand on either side of that."""
    curves = curves_by_name(catalog)
    for part in catalog.family("module").values():
        half = [
            point.open_circuit_v
            for point in curves.get(part.text("curve"), [])
            if point.state_of_charge == 0.5
        ]
        if not half:
            continue
        if abs(half[0] / part.number("cell_v_nominal") - 1) > 0.05:
            message = f"{half[0]:g} V at half charge, nominal {part.number('cell_v_nominal'):g}"
            yield about(part, "curve-against-module", "curve", message)
        if not part.number("cell_v_min") < half[0] < part.number("cell_v_charge"):
            message = f"{half[0]:g} V at half charge lies outside the cell's limits"
            yield about(part, "curve-against-module", "curve", message)


def temperature_shape(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """At 25 C both factors are 1; in the cold capacity falls and resistance grows."""
    code = "temperature-shape"
    for chemistry, points in temperatures_by_chemistry(catalog).items():
        base = [point for point in points if point.temperature_c == 25.0]
        if not base or base[0].capacity_factor != 1 or base[0].resistance_factor != 1:
            message = "the factors are not 1 at 25 C"
            yield Finding(code, "temperatures", chemistry, "temperature_c", message)
        for cold, warm in pairwise(points):
            span = f"from {cold.temperature_c:g} to {warm.temperature_c:g} C"
            if warm.temperature_c <= 25 and warm.capacity_factor < cold.capacity_factor:
                message = f"falls {span}"
                yield Finding(code, "temperatures", chemistry, "capacity_factor", message)
            if warm.resistance_factor > cold.resistance_factor:
                message = f"grows {span}"
                yield Finding(code, "temperatures", chemistry, "resistance_factor", message)


def cable_resistance(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Resistance times area is that of fine copper strand.

    IEC 60228 class 5 (2004, table 3) allows 19.1 to 20.0 ohm mm2/km at 20 C from 10 to
    120 mm2; copper itself is 17.24 (IEC 60028, from memory).
    """
    for part in catalog.family("cable").values():
        value = part.number("resistance_mohm_per_m") * part.number("area_mm2")
        if not 17.2 <= value <= 21.0:
            message = f"{value:.2f} mohm mm2/m, class 5 copper is 19 to 20"
            yield about(part, "cable-resistance", "resistance_mohm_per_m", message)


def curves_by_name(catalog: Catalog) -> dict[str, list[CurvePoint]]:
    """Points of each curve, emptiest first."""
    curves: dict[str, list[CurvePoint]] = {}
    for point in sorted(catalog.curves, key=lambda point: (point.curve, point.state_of_charge)):
        curves.setdefault(point.curve, []).append(point)
    return curves


def temperatures_by_chemistry(catalog: Catalog) -> dict[str, list[TemperaturePoint]]:
    """Points of each chemistry, coldest first."""
    tables: dict[str, list[TemperaturePoint]] = {}
    for point in sorted(catalog.temperatures, key=lambda p: (p.chemistry, p.temperature_c)):
        tables.setdefault(point.chemistry, []).append(point)
    return tables
