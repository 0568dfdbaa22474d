"""What can be bought: parts, pairs, curves, suppliers and offers, as loaded and checked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

from pydantic import BaseModel, ConfigDict

from bomplan.catalog.extras import Extra

Figure = float | int | str | bool


class Part(BaseModel):
    """One row of a family's table.

    ``price`` is in smallest units of ``currency``; ``mass_g`` in grams; lengths in
    millimetres. Every other figure stands under its column name, in the unit that the
    name ends in. A figure left blank is absent, never zero. Cable is sold by the metre:
    its mass and price are per metre.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    family: str
    description: str
    mass_g: int
    length_mm: int | None = None
    width_mm: int | None = None
    height_mm: int | None = None
    price: int
    currency: str
    price_date: str
    source: str
    figures: dict[str, Figure] = {}

    def has(self, column: str) -> bool:
        """Whether the row gives a figure in this column."""
        return column in self.figures

    def number(self, column: str) -> float:
        """The figure as a float; KeyError if the row leaves it blank."""
        value = self.figures[column]
        if isinstance(value, (str, bool)):
            raise TypeError(f"{self.family} {self.id}: {column} is not a number")
        return float(value)

    def number_or(self, column: str, default: float) -> float:
        """The figure as a float, or ``default`` where the row leaves it blank."""
        return self.number(column) if column in self.figures else default

    def text(self, column: str) -> str:
        """The figure as text, empty where the row leaves it blank."""
        return str(self.figures.get(column, ""))

    def flag(self, column: str) -> bool:
        """A yes/no column; blank is no."""
        return bool(self.figures.get(column, False))


class Pair(BaseModel):
    """A motor and a controller known to work together, with the envelope they give."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    motor: str
    controller: str
    v_min: float
    v_max: float
    reference_v: float | None = None
    peak_torque_nm: float | None = None
    base_speed_rpm: float | None = None
    peak_kw: float | None = None
    peak_s: float | None = None
    hour_kw: float | None = None
    continuous_kw: float | None = None
    regeneration_torque_nm: float | None = None
    tuned: bool = False
    source: str = ""


class CurvePoint(BaseModel):
    """One row of an open-circuit voltage curve, per cell at 25 °C."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    curve: str
    state_of_charge: float
    open_circuit_v: float
    resistance_factor: float


class TemperaturePoint(BaseModel):
    """How a chemistry's capacity and resistance change with temperature (25 °C = 1)."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    chemistry: str
    temperature_c: float
    capacity_factor: float
    resistance_factor: float


class Supplier(BaseModel):
    """Who sells, and what an order costs beside the goods; amounts in smallest units.

    Shipping is a flat sum and so much a started kilogram. Percentages are decimal text, so
    that they stay exact.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    description: str = ""
    currency: str
    shipping_flat: int = 0
    shipping_per_kg: int = 0
    free_above: int | None = None
    minimum_order: int = 0
    duty_percent: str = "0"
    duty_on: Literal["goods", "goods+shipping"] = "goods+shipping"
    tax_percent: str = "0"
    tax_on: Literal["goods", "goods+shipping", "goods+shipping+duty"] = "goods+shipping+duty"
    lead_days: int = 0


class Offer(BaseModel):
    """One price step: from ``quantity_from`` pieces on, each costs ``unit_price``.

    ``stock`` is the most that can be had; ``valid_until`` the last day (ISO 8601), blank: open.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    part: str
    supplier: str
    pack_size: int = 1
    quantity_from: int = 1
    unit_price: int
    stock: int | None = None
    valid_until: str = ""


class Catalog(BaseModel):
    """Every table, resolved: stacked catalogues are already merged.

    ``digest`` is the SHA-256 of everything in it but ``name`` and ``notes``; ``notes`` are
    sentences about what was kept without being understood, or overridden.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    families: dict[str, dict[str, Part]]
    pairs: tuple[Pair, ...]
    curves: tuple[CurvePoint, ...]
    temperatures: tuple[TemperaturePoint, ...]
    suppliers: dict[str, Supplier]
    offers: tuple[Offer, ...]
    extras: dict[str, Extra] = {}
    digest: str = ""
    notes: tuple[str, ...] = ()

    def family(self, name: str) -> Mapping[str, Part]:
        """The parts of one family by id, in id order; empty if there are none."""
        return self.families.get(name, {})

    def part(self, part_id: str) -> Part:
        """The part with this id, whatever its family; KeyError if there is none."""
        for rows in self.families.values():
            if part_id in rows:
                return rows[part_id]
        raise KeyError(part_id)

    def parts(self) -> Iterator[Part]:
        """Every part, families and ids in order."""
        for name in sorted(self.families):
            yield from self.families[name].values()
