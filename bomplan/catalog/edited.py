"""Prices and masses edited on a bill of materials, put back where the catalogue has them.

A part's mass stands in its own row. Its price stands there, too, unless a supplier offers it:
then it is the price step of the offer at which the bill buys.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bomplan.catalog.columns import schema
from bomplan.catalog.merge import Incoming, Merged, merge_rows
from bomplan.catalog.rows import FolderRows, Row, read_rows
from bomplan.catalog.tables import Table, read_table
from bomplan.catalog.update import update_rows
from bomplan.errors import Fault, InputError


@dataclass(frozen=True)
class EditedPart:
    """One line of a bill with what was edited, as a catalogue writes it; blank: not edited.

    ``price`` is in ``currency``. ``supplier`` and ``quantity_from`` name the offer that the
    bill buys at; a part that nobody offers has neither.
    """

    part: str
    file: str
    row: int
    mass_kg: str = ""
    price: str = ""
    currency: str = ""
    supplier: str = ""
    quantity_from: str = ""


def update_edited(folder: Path, edits: Sequence[EditedPart], price_date: str) -> Merged:
    """The files of the catalogue folder with the edits in them. Raises InputError."""
    own = [
        (one.row, (one.part, one.mass_kg, "" if one.supplier else one.price))
        for one in edits
        if one.mass_kg or (one.price and not one.supplier)
    ]
    merged = Merged()
    faults: list[Fault] = []
    if own:
        header = ("id", "mass_kg", "price")
        table = Table(edits[0].file, header, tuple(own), decimal_comma=False)
        try:
            merged = update_rows(folder, table, {name: name for name in header}, price_date)
        except InputError as error:
            faults.extend(error.faults)
    faults.extend(_other_currency(folder, edits))
    offered = [one for one in edits if one.price and one.supplier]
    if offered:
        try:
            _join(merged, _update_offers(folder, offered))
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(faults)
    return merged


def _update_offers(folder: Path, edits: Sequence[EditedPart]) -> Merged:
    known = {(row.text("part"), row.text("supplier"), row.text("quantity_from") or "1"): row
             for row in _rows(folder, "offers")}  # fmt: skip
    faults = [
        Fault(
            "update.no-offer",
            f"the catalogue has no offer of {one.supplier} from {one.quantity_from} pieces on",
            one.file,
            f"row {one.row}",
            one.part,
            hint="it stands in another catalogue of the project; update that one, or add the"
            " offer to offers.csv here",
        )
        for one in edits
        if (one.part, one.supplier, one.quantity_from) not in known
    ]
    if faults:
        raise InputError(faults)
    rows = []
    for one in edits:
        row = known[one.part, one.supplier, one.quantity_from]
        cells = {"part": one.part, "supplier": one.supplier, "unit_price": one.price}
        if row.text("quantity_from"):
            cells["quantity_from"] = row.text("quantity_from")
        rows.append(Incoming(cells, one.file, one.row))
    return merge_rows(folder, "offers", rows)


def _other_currency(folder: Path, edits: Sequence[EditedPart]) -> list[Fault]:
    """Prices that the catalogue has in another currency by now."""
    sold = {("", row.text("id")): row.text("currency")
            for family in schema().values() if "mass_kg" in family.columns
            for row in _rows(folder, family.name)}  # fmt: skip
    sold |= {(row.text("id"), ""): row.text("currency") for row in _rows(folder, "suppliers")}
    found = []
    for one in edits:
        key = (one.supplier, "") if one.supplier else ("", one.part)
        now = sold.get(key, one.currency)
        if one.price and now != one.currency:
            found.append(
                Fault("update.currency", f"the catalogue has this price in {now} by now",
                      one.file, f"row {one.row} ({one.part})", f"{one.price} {one.currency}", now,
                      "plan again with this catalogue, and edit the new workbook")
            )  # fmt: skip
    return found


def _rows(folder: Path, name: str) -> list[Row]:
    path = folder / f"{name}.csv"
    table = read_table(path, f"{folder.name}/{path.name}") if path.exists() else None
    if table is None or isinstance(table, Fault):
        return []
    return read_rows(schema()[name], table, FolderRows({}, [], []))


def _join(merged: Merged, more: Merged) -> None:
    merged.files |= more.files
    merged.changes += more.changes
    merged.notes += more.notes
