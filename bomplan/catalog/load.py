"""From folders of CSV files and workbooks to one checked :class:`Catalog`.

Steps: find the sources, read every table against the schema, stack them (later ones
override), check what rows say of one another, build the records. Faults of every step
before are collected and raised together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import ROUND_CEILING, Decimal
from pathlib import Path
from typing import Final, TypeVar

from bomplan.catalog.cells import Cell
from bomplan.catalog.columns import part_families
from bomplan.catalog.digest import catalog_digest
from bomplan.catalog.extras import Extra
from bomplan.catalog.links import check_links
from bomplan.catalog.records import (
    Catalog,
    CurvePoint,
    Figure,
    Offer,
    Pair,
    Part,
    Supplier,
    TemperaturePoint,
)
from bomplan.catalog.rows import Row, read_folder, read_workbook
from bomplan.catalog.sources import find_source
from bomplan.errors import Fault, InputError
from bomplan.money import parse_money

# Columns that have a field of their own in Part; every other becomes a figure.
_OWN_FIELDS: Final = frozenset(
    {
        "id",
        "description",
        "mass_kg",
        "length_mm",
        "width_mm",
        "height_mm",
        "price",
        "currency",
        "price_date",
        "source",
    }
)
# A later catalogue that names one of these replaces all the rows of the earlier ones on it.
_STACK_BY: Final[dict[str, int]] = {"curves": 1, "temperatures": 1, "offers": 2}

Record = TypeVar("Record")
Tables = Mapping[str, Mapping[tuple[str, ...], Row]]


def load_catalog(names_or_paths: Sequence[str | Path]) -> Catalog:
    """The catalogues named, stacked in this order, checked and resolved.

    A bare name is a shipped catalogue (``"generic"``), anything else a folder with one CSV
    file per table, or a workbook with one sheet per table. A later catalogue replaces parts
    and suppliers by id, pairs by both ids, curves and temperatures by name, offers by part
    and supplier. Raises InputError with every fault found; what is kept without being
    understood stands in ``Catalog.notes``.
    """
    stacked, labels, faults, notes = _read_all(names_or_paths)
    unread = bool(faults)
    catalog = _build(" + ".join(labels), stacked, faults, tuple(notes))
    # A row that was dropped for a fault would make every mention of it look dangling.
    faults.extend(check_links(stacked, dangling=not unread))
    if faults:
        raise InputError(faults)
    return catalog.model_copy(update={"digest": catalog_digest(catalog)})


def stacked_rows(names_or_paths: Sequence[str | Path]) -> dict[str, list[Row]]:
    """The rows of every table as :func:`load_catalog` stacks them, to be written elsewhere.

    Raises InputError for what cannot be read; what rows say of one another is not looked at.
    """
    stacked, _, faults, _ = _read_all(names_or_paths)
    if faults:
        raise InputError(faults)
    return {table: list(rows.values()) for table, rows in stacked.items()}


def _read_all(
    names_or_paths: Sequence[str | Path],
) -> tuple[dict[str, dict[tuple[str, ...], Row]], list[str], list[Fault], list[str]]:
    """Stacked rows by table, the sources' labels, faults and notes."""
    if isinstance(names_or_paths, str | Path):
        raise TypeError("load_catalog takes a sequence of names, not one name")
    faults: list[Fault] = []
    notes: list[str] = []
    stacked: dict[str, dict[tuple[str, ...], Row]] = {}
    labels: list[str] = []
    if not names_or_paths:
        faults.append(Fault(code="catalog.none-named", message="no catalogue is named"))
    for name in names_or_paths:
        source = find_source(name)
        if isinstance(source, Fault):
            faults.append(source)
            continue
        labels.append(source.label)
        read = read_workbook if source.is_workbook else read_folder
        content = read(source.folder, source.label)
        faults.extend(content.faults)
        notes.extend(content.notes)
        for table, rows in content.rows.items():
            notes.extend(_stack(stacked.setdefault(table, {}), rows))
    return stacked, labels, faults, notes


def _stack(below: dict[tuple[str, ...], Row], rows: Sequence[Row]) -> list[str]:
    """Put ``rows`` of one table over those below; what they override as sentences."""
    notes: list[str] = []
    if not rows:
        return notes
    table = rows[0].table
    depth = _STACK_BY.get(table)
    if depth is not None:
        named = {row.key[:depth] for row in rows}
        for key in [key for key in below if key[:depth] in named]:
            del below[key]
    for row in rows:
        if row.key in below:
            notes.append(f"{row.file}: {' with '.join(row.key)} overrides {below[row.key].file}")
        below[row.key] = row
    return notes


def _build(name: str, tables: Tables, faults: list[Fault], notes: tuple[str, ...]) -> Catalog:
    families: dict[str, dict[str, Part]] = {}
    for family in part_families():
        rows = tables.get(family.name, {})
        parts = _each(rows, faults, _part)
        if parts:
            families[family.name] = parts
    suppliers = _each(tables.get("suppliers", {}), faults, _supplier)

    def offer(row: Row, found: list[Fault]) -> Offer:
        return _offer(row, suppliers, found)

    return Catalog(
        name=name,
        families=families,
        pairs=tuple(_each(tables.get("pairs", {}), faults, _pair).values()),
        curves=tuple(_each(tables.get("curves", {}), faults, _curve_point).values()),
        temperatures=tuple(
            _each(tables.get("temperatures", {}), faults, _temperature_point).values()
        ),
        suppliers=suppliers,
        offers=tuple(_each(tables.get("offers", {}), faults, offer).values()),
        extras=_each(tables.get("extras", {}), faults, _extra),
        notes=notes,
    )


def _each(
    rows: Mapping[tuple[str, ...], Row],
    faults: list[Fault],
    make: Callable[[Row, list[Fault]], Record],
) -> dict[str, Record]:
    """Records by key in sorted order; rows that lack a needed cell are left out."""
    made: dict[str, Record] = {}
    for row in sorted(rows.values(), key=_order):
        try:
            found: list[Fault] = []
            record = make(row, found)
        except KeyError:
            # the blank or unreadable cell is among the faults already
            continue
        faults.extend(found)
        made["\n".join(row.key)] = record
    return made


def _order(row: Row) -> tuple[tuple[int, float, str], ...]:
    """Ids by text, points of a curve and price steps by number."""
    order = []
    for part in row.key:
        try:
            order.append((0, float(part), ""))
        except ValueError:
            order.append((1, 0.0, part))
    return tuple(order)


def _grams(cell: Cell) -> int:
    return int((Decimal(cell.text) * 1000).to_integral_value(rounding=ROUND_CEILING))


def _money(row: Row, column: str, currency: str, found: list[Fault]) -> int:
    try:
        return parse_money(str(row.cells[column].value), currency)
    except InputError as error:
        for fault in error.faults:
            about = "currency" if fault.code == "money.unknown-currency" else column
            base = row.fault("money", fault.message, about, fault.allowed, fault.hint)
            found.append(base)
        return 0


def _optional_int(row: Row, column: str) -> int | None:
    cell = row.cells.get(column)
    return None if cell is None else int(cell.value)


def _optional_float(row: Row, column: str) -> float | None:
    cell = row.cells.get(column)
    return None if cell is None else float(cell.value)


def _part(row: Row, found: list[Fault]) -> Part:
    figures: dict[str, Figure] = {
        name: cell.value for name, cell in sorted(row.cells.items()) if name not in _OWN_FIELDS
    }
    figures.update(sorted(row.unknown.items()))
    currency = str(row.cells["currency"].value)
    return Part(
        id=str(row.cells["id"].value),
        family=row.table,
        description=str(row.cells["description"].value),
        mass_g=_grams(row.cells["mass_kg"]),
        length_mm=_optional_int(row, "length_mm"),
        width_mm=_optional_int(row, "width_mm"),
        height_mm=_optional_int(row, "height_mm"),
        price=_money(row, "price", currency, found),
        currency=currency,
        price_date=str(row.cells["price_date"].value),
        source=str(row.cells["source"].value),
        figures=figures,
    )


def _pair(row: Row, _found: list[Fault]) -> Pair:
    return Pair(
        motor=str(row.cells["motor"].value),
        controller=str(row.cells["controller"].value),
        v_min=float(row.cells["v_min"].value),
        v_max=float(row.cells["v_max"].value),
        reference_v=_optional_float(row, "reference_v"),
        peak_torque_nm=_optional_float(row, "peak_torque_nm"),
        base_speed_rpm=_optional_float(row, "base_speed_rpm"),
        peak_kw=_optional_float(row, "peak_kw"),
        peak_s=_optional_float(row, "peak_s"),
        hour_kw=_optional_float(row, "hour_kw"),
        continuous_kw=_optional_float(row, "continuous_kw"),
        regeneration_torque_nm=_optional_float(row, "regeneration_torque_nm"),
        tuned="tuned" in row.cells and bool(row.cells["tuned"].value),
        source=str(row.cells["source"].value),
    )


def _curve_point(row: Row, _found: list[Fault]) -> CurvePoint:
    return CurvePoint(
        curve=str(row.cells["curve"].value),
        state_of_charge=float(row.cells["state_of_charge"].value),
        open_circuit_v=float(row.cells["open_circuit_v"].value),
        resistance_factor=float(row.cells["resistance_factor"].value),
    )


def _temperature_point(row: Row, _found: list[Fault]) -> TemperaturePoint:
    return TemperaturePoint(
        chemistry=str(row.cells["chemistry"].value),
        temperature_c=float(row.cells["temperature_c"].value),
        capacity_factor=float(row.cells["capacity_factor"].value),
        resistance_factor=float(row.cells["resistance_factor"].value),
    )


def _supplier(row: Row, found: list[Fault]) -> Supplier:
    currency = str(row.cells["currency"].value)

    def money(column: str) -> int:
        return _money(row, column, currency, found) if column in row.cells else 0

    return Supplier.model_validate(
        {
            "id": str(row.cells["id"].value),
            "description": row.text("description"),
            "currency": currency,
            "shipping_flat": money("shipping_flat"),
            "shipping_per_kg": money("shipping_per_kg"),
            "free_above": money("free_above") if "free_above" in row.cells else None,
            "minimum_order": money("minimum_order"),
            "duty_percent": _plain_decimal(row.text("duty_percent", "0")),
            "duty_on": row.text("duty_on", "goods+shipping"),
            "tax_percent": _plain_decimal(row.text("tax_percent", "0")),
            "tax_on": row.text("tax_on", "goods+shipping+duty"),
            "lead_days": _optional_int(row, "lead_days") or 0,
        }
    )


def _offer(row: Row, suppliers: Mapping[str, Supplier], found: list[Fault]) -> Offer:
    supplier = suppliers[str(row.cells["supplier"].value)]
    return Offer(
        part=str(row.cells["part"].value),
        supplier=supplier.id,
        pack_size=_optional_int(row, "pack_size") or 1,
        quantity_from=_optional_int(row, "quantity_from") or 1,
        unit_price=_money(row, "unit_price", supplier.currency, found),
        stock=_optional_int(row, "stock"),
        valid_until=str(row.cells["valid_until"].value) if "valid_until" in row.cells else "",
    )


def _extra(row: Row, found: list[Fault]) -> Extra:
    currency = str(row.cells["currency"].value)
    price = _money(row, "price", currency, found)
    low = _money(row, "price_low", currency, found) if "price_low" in row.cells else price
    high = _money(row, "price_high", currency, found) if "price_high" in row.cells else price
    for column, wrong in (("price_low", low > price), ("price_high", high < price)):
        if wrong and not found:
            side = "above" if column == "price_low" else "below"
            found.append(row.fault("price-order", f"lies {side} the price", column))
    return Extra(
        id=str(row.cells["id"].value),
        description=str(row.cells["description"].value),
        kind=row.cells["kind"].value,
        needed=row.cells["needed"].value,
        per=row.text("per", "conversion"),
        vehicle=row.text("vehicle", "any"),
        price=price,
        price_low=low,
        price_high=high,
        currency=currency,
        price_date=str(row.cells["price_date"].value),
        source=str(row.cells["source"].value),
        hours=_optional_float(row, "hours") or 0.0,
        lead_days=_optional_int(row, "lead_days") or 0,
        v_dc=_optional_float(row, "v_dc"),
        covered_by=tuple(one.strip() for one in row.text("covered_by").split("|") if one.strip()),
    )


def _plain_decimal(text: str) -> str:
    """A number as plain decimal text that is the same however it was written."""
    return format(Decimal(text).normalize(), "f")
