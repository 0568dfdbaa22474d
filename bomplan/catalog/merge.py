"""Rows from elsewhere put into a catalogue folder: first as a difference, then as files.

Nothing here writes: the files' new contents are handed back, so that they can be shown
before they take their place.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from bomplan.catalog.cells import Problem
from bomplan.catalog.columns import Column, Family, schema
from bomplan.catalog.csv_text import new_csv, open_csv, with_rows
from bomplan.catalog.difference import Change
from bomplan.catalog.mapping import ColumnMap, slug
from bomplan.catalog.rows import KEY_COLUMNS, FolderRows, Row, read_rows
from bomplan.catalog.sheets import is_workbook, read_sheets
from bomplan.catalog.tables import Table, read_table
from bomplan.catalog.units import to_column
from bomplan.errors import Fault, InputError
from bomplan.money import CURRENCY_DECIMALS, format_money, parse_money

_SIGNS: Final = {"€": "EUR", "£": "GBP"}
# Many countries' money has this sign; it says nothing until the currency is named.
_DOLLAR: Final = "$"


@dataclass(frozen=True)
class Incoming:
    """One row of the source: texts by our columns, and where it stood."""

    cells: Mapping[str, str]
    file: str
    line: int


@dataclass
class Merged:
    """New contents by path, what differs, and what should be known."""

    files: dict[Path, bytes] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def open_source(path: Path, sheet: str = "") -> Table:
    """The table in ``path``: a CSV file, or one sheet of a workbook. Raises InputError."""
    if not is_workbook(path):
        table = read_table(path, path.name)
        if isinstance(table, Fault):
            raise InputError([table])
        return table
    sheets = read_sheets(path, path.name)
    if isinstance(sheets, Fault):
        raise InputError([sheets])
    names = list(sheets)
    wanted = sheet or (names[0] if len(names) == 1 else "")
    found = sheets.get(wanted)
    if found is None:
        near = difflib.get_close_matches(sheet, names, n=1)
        raise InputError(
            [
                Fault(
                    "import.sheet",
                    "the workbook has no such sheet" if sheet else "the workbook has many sheets",
                    path.name,
                    value=sheet or None,
                    allowed=", ".join(names) or "none: every sheet is empty",
                    hint=f"did you mean {near[0]}?" if near else "say which with --sheet",
                )
            ]
        )
    if isinstance(found, Fault):
        raise InputError([found])
    return found


def take_in(table: Table, mapping: ColumnMap) -> list[Incoming]:
    """The rows of ``table`` in our columns and units. Raises InputError with every fault."""
    family = schema()[mapping.family]
    faults: list[Fault] = []
    rows: list[Incoming] = []
    for line, texts in table.rows:
        cells: dict[str, str] = dict(mapping.values)
        for title, text in zip(table.header, texts, strict=False):
            target = mapping.columns.get(title)
            if target is None or not text.strip():
                continue
            found = convert(text.strip(), family, target.column, target.unit, table, cells)
            if isinstance(found, Problem):
                column = family.columns[target.column]
                faults.append(
                    Fault(
                        f"import.{found.code}",
                        f"cannot be read as {target.column}: {found.message}",
                        table.file,
                        f"row {line}, column {title}",
                        text.strip(),
                        column.allowed(),
                        found.hint,
                    )
                )
            else:
                cells[target.column] = found
        rows.append(Incoming(cells, table.file, line))
    if faults:
        raise InputError(faults)
    return rows


def convert(
    text: str, family: Family, name: str, unit: str, table: Table, cells: dict[str, str]
) -> str | Problem:
    """One cell of ``table`` as the text that column ``name`` holds, or what is wrong with it.

    A currency beside an amount is put into ``cells`` where they name none.
    """
    column = family.columns[name]
    if name == "id" and unit == "slug":
        return slug(text)
    if column.type == "money":
        text = _without_currency(text, cells, "currency" in family.columns)
        if _DOLLAR in text:
            hint = "many countries have dollars: give the currency before, such as USD"
            return Problem("not-a-figure", "does not say whose dollars these are", hint)
        return to_column(text, column, "", table.decimal_comma)
    if column.type in ("number", "integer"):
        return to_column(text, column, unit, table.decimal_comma)
    return text


def _without_currency(text: str, cells: dict[str, str], may_set: bool) -> str:
    """The amount alone; a currency beside it is taken where the row names none."""
    if _DOLLAR in text and cells.get("currency", "").endswith("D"):
        text = text.replace(_DOLLAR, "").strip()
    for mark in (*_SIGNS, *CURRENCY_DECIMALS):
        for bare in (text.removeprefix(mark), text.removesuffix(mark)):
            if bare != text and bare.strip():
                if may_set:
                    cells.setdefault("currency", _SIGNS.get(mark, mark))
                return bare.strip()
    return text


def missing_columns(mapping: ColumnMap) -> list[Column]:
    """The columns that every row needs and that neither a column nor a value gives."""
    given = {target.column for target in mapping.columns.values()} | set(mapping.values)
    family = schema()[mapping.family]
    return [
        column for column in family.columns.values() if column.required and column.name not in given
    ]


def merge_rows(folder: Path, family: str, rows: Sequence[Incoming]) -> Merged:
    """``rows`` over the table ``family`` of the catalogue in ``folder``.

    A row replaces the cells that it gives of the row with its key, or is added. Raises
    InputError with every fault of the table that would result.
    """
    path = folder / f"{family}.csv"
    file = f"{folder.name}/{path.name}"
    opened = open_csv(path, file) if path.exists() else None
    if isinstance(opened, Fault):
        raise InputError([opened])
    columns = [name for name in schema()[family].columns if any(name in r.cells for r in rows)]
    before = opened or new_csv(file, columns)
    after = with_rows(before, family, [row.cells for row in rows])
    checked = FolderRows({}, [], [])
    now = read_rows(schema()[family], after.table, checked)
    if checked.faults:
        raise InputError(_placed(checked.faults, rows, after.table, family))
    merged = Merged(notes=checked.notes)
    if after.table != before.table:
        merged.files[path] = after.bytes()
    old = read_rows(schema()[family], before.table, FolderRows({}, [], [])) if opened else []
    merged.changes.extend(_changes(family, old, now))
    return merged


def _placed(
    faults: list[Fault], rows: Sequence[Incoming], after: Table, family: str
) -> list[Fault]:
    """Faults of the new table, said of the source's row where one brought them in."""
    keys = KEY_COLUMNS.get(family, ("id",))
    brought = {tuple(row.cells.get(name, "") for name in keys): row for row in rows}
    origin = {}
    for line, cells in after.rows:
        named = dict(zip(after.header, cells, strict=False))
        row = brought.get(tuple(named.get(name, "").strip() for name in keys))
        if row is not None:
            origin[line] = row
    placed = []
    for fault in faults:
        match = re.match(r"row (\d+)", fault.where or "")
        row = origin.get(int(match[1])) if match else None
        if row is None or match is None:
            placed.append(fault)
        else:
            tail = (fault.where or "")[match.end() :]
            placed.append(replace(fault, file=row.file, where=f"row {row.line}{tail}"))
    return placed


def _changes(family: str, old: Sequence[Row], new: Sequence[Row]) -> list[Change]:
    """What differs between the rows of one table, in the order of its rows."""
    before = {row.key: row for row in old}
    changes: list[Change] = []
    for row in new:
        name = "/".join(row.key)
        known = before.get(row.key)
        if known is None:
            words = row.text("description")
            if "price" in row.cells:
                words += f", {_amount(row)}"
            changes.append(Change("new", family, name, after=words))
            continue
        for column in schema()[family].columns:
            a, b = known.text(column), row.text(column)
            same = known.cells.get(column) == row.cells.get(column) or _equal(known, row, column)
            if not same:
                changes.append(_changed(family, name, column, a, b, known, row))
        for column in dict.fromkeys([*known.unknown, *row.unknown]):
            a, b = known.unknown.get(column, ""), row.unknown.get(column, "")
            if a != b:
                changes.append(Change("changed", family, name, column, a, b))
    return changes


def _amount(row: Row) -> str:
    currency = row.text("currency")
    if currency not in CURRENCY_DECIMALS:
        return row.text("price")
    return format_money(parse_money(row.text("price"), currency), currency)


def _equal(old: Row, new: Row, column: str) -> bool:
    a, b = old.cells.get(column), new.cells.get(column)
    if a is None or b is None:
        return a is b
    money = schema()[old.table].columns[column].type == "money"
    return float(a.text) == float(b.text) if money else a.value == b.value


def _changed(family: str, name: str, column: str, a: str, b: str, old: Row, new: Row) -> Change:
    money = schema()[family].columns[column].type == "money"
    if not money or not a or not b or old.text("currency") != new.text("currency"):
        return Change("changed", family, name, column, a, b)
    before, after = float(a), float(b)
    share = (after - before) / before if before else None
    return Change("dearer" if after > before else "cheaper", family, name, column, a, b, share)
