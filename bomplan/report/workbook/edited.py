"""Prices and masses that were edited on the sheet Bill, as a catalogue would write them.

Compared with the hidden sheet, so that only what was touched goes back; a price that was
converted on the way to the bill is converted back at the rate of the plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path
from typing import Final

from bomplan.catalog.edited import EditedPart
from bomplan.catalog.grid import Grid, GridCell, read_grids
from bomplan.catalog.sheets import is_workbook
from bomplan.errors import Fault, InputError
from bomplan.money import currency_decimals, format_amount, parse_money
from bomplan.report.workbook import bill, origin
from bomplan.report.workbook.reading import bare_head, read_origin

_HEADS: Final = {
    "Part": "part",
    "Supplier": "supplier",
    "Unit price": "unit_price",
    "Unit mass kg": "unit_mass",
}
_HEAD_WITHIN: Final = 40


@dataclass(frozen=True)
class Edited:
    """The lines with an edited price or mass, and what should be known."""

    parts: tuple[EditedPart, ...]
    notes: tuple[str, ...]


def edited_parts(path: Path) -> Edited | None:
    """What was edited on the bill in the workbook at ``path``; None if it is no bom.xlsx.

    Raises InputError with every fault.
    """
    if not is_workbook(path):
        return None
    book = read_grids(path, path.name, (bill.NAME, origin.NAME))
    if isinstance(book, Fault) or origin.NAME not in book.names:
        return None
    source = read_origin(book, path.name)
    grid = book.grids.get(bill.NAME)
    if grid is None or not source.bill:
        raise InputError(
            [
                Fault(
                    "workbook.no-bill",
                    f"the sheet {bill.NAME} or what it was when it was written is gone",
                    path.name,
                    value=", ".join(book.names[:12]),
                    allowed=bill.NAME,
                    hint="'bomplan plan' writes it anew; or give a table with the column id",
                )
            ]
        )
    head, columns = _head(grid, path.name)
    left: dict[tuple[str, str], list[Mapping[str, str]]] = {}
    for known in source.bill:
        left.setdefault((known["part"], known["supplier"]), []).append(known)
    faults: list[Fault] = []
    notes: list[str] = []
    parts: list[EditedPart] = []
    for number, cells in grid.rows.items():
        found = {name: cells[place] for name, place in columns.items() if place in cells}
        if number <= head or "part" not in found:
            continue
        part = found["part"].text.strip()
        supplier = found["supplier"].text.strip() if "supplier" in found else ""
        supplier = "" if supplier == bill.NO_SUPPLIER else supplier
        written = _take(left, part, supplier)
        if written is not None:
            place = f"row {number} ({part})"
            moved = supplier != written["supplier"]
            if moved:
                notes.append(_moved(place, written["supplier"], supplier))
                found.pop("unit_price", None)
            one = _edited(found, written, source.currency, path.name, number, place, faults, notes)
            if one is not None:
                parts.append(one)
    if faults:
        raise InputError(faults)
    return Edited(tuple(parts), tuple(notes))


def _take(
    left: dict[tuple[str, str], list[Mapping[str, str]]], part: str, supplier: str
) -> Mapping[str, str] | None:
    """The written line of this part, by its supplier first; each is given out once."""
    keys = [(part, supplier), *(key for key in left if key[0] == part)]
    for key in keys:
        if left.get(key):
            return left[key].pop(0)
    return None


def _moved(place: str, before: str, now: str) -> str:
    names = [name or bill.NO_SUPPLIER for name in (before, now)]
    return (
        f"{place}: moved from {names[0]} to {names[1]}; its price is not taken: write it into"
        " offers.csv"
    )


def _head(grid: Grid, file: str) -> tuple[int, dict[str, int]]:
    for number, cells in list(grid.rows.items())[:_HEAD_WITHIN]:
        names = {bare_head(cell.text): place for place, cell in cells.items()}
        if "Part" in names and ("Unit price" in names or "Unit mass kg" in names):
            return number, {_HEADS[name]: names[name] for name in _HEADS if name in names}
    raise InputError(
        [
            Fault(
                "workbook.no-bill-head",
                "the row of heads is gone, or the column Part",
                f"{file}, sheet {grid.name}",
                allowed=", ".join(_HEADS),
                hint="undo it in the spreadsheet program, or write the heads in again",
            )
        ]
    )


def _edited(
    found: Mapping[str, GridCell],
    known: Mapping[str, str],
    currency: str,
    file: str,
    number: int,
    place: str,
    faults: list[Fault],
    notes: list[str],
) -> EditedPart | None:
    # Workbooks of older versions have every price in the plan's money.
    was_price = Decimal(known["asked"] or known["unit_price"])
    shown_in = known["asked_in"] or currency
    was_mass = Decimal(known["unit_mass_g"]) / 1000
    price = _number(found.get("unit_price"), "Unit price", file, place, faults)
    mass = _number(found.get("unit_mass"), "Unit mass kg", file, place, faults)
    new_mass = "" if mass is None or mass == was_mass else format(mass.normalize(), "f")
    new_price = ""
    if price is not None and price != was_price:
        new_price = _sold_at(price, known, shown_in, place, file, faults, notes)
    if not new_mass and not new_price:
        return None
    return EditedPart(
        known["part"],
        f"{file}, sheet {bill.NAME}",
        number,
        new_mass,
        new_price,
        known["currency"],
        known["supplier"],
        known["quantity_from"],
    )


def _number(
    cell: GridCell | None, head: str, file: str, place: str, faults: list[Fault]
) -> Decimal | None:
    """The figure in a cell from 0 on; None for a blank one."""
    if cell is None:
        return None
    try:
        value = Decimal(cell.text.strip() or "nan")
    except InvalidOperation:
        value = Decimal("nan")
    if cell.kind in ("error", "empty") or not value.is_finite() or value < 0:
        faults.append(
            Fault(
                "workbook.not-a-figure",
                "is no figure from 0 on",
                f"{file}, sheet {bill.NAME}",
                f"{place}, column {head}",
                cell.formula or cell.text,
                "a number, or a formula with its value stored",
            )
        )
        return None
    return value


def _sold_at(
    price: Decimal,
    known: Mapping[str, str],
    currency: str,
    place: str,
    file: str,
    faults: list[Fault],
    notes: list[str],
) -> str:
    """The edited price in the currency in which it is sold, rounded to its smallest unit."""
    there = known["currency"]
    if there == currency:
        rounded = round(price, currency_decimals(currency))
        if rounded != price:
            notes.append(f"{place}: the price is rounded to {rounded} {currency}")
        return format_amount(parse_money(format(rounded, "f"), currency), currency)
    if not known["rate"]:
        faults.append(
            Fault(
                "workbook.no-rate",
                f"the price is sold in {there}, and the workbook carries no rate",
                f"{file}, sheet {bill.NAME}",
                place,
                str(price),
                hint="edit it in the catalogue, or plan again with a rate and edit that workbook",
            )
        )
        return ""
    scale = 10 ** currency_decimals(there)
    amount = round(Fraction(price) / Fraction(known["rate"]) * scale)
    shown = format_amount(amount, there)
    notes.append(
        f"{place}: {price} {currency} is {shown} {there}, at {known['rate']} {currency} for one"
    )
    return shown
