"""Edited figures put over the parts of a catalogue folder, whatever their family.

Nothing here writes: the files' new contents are handed back.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from pathlib import Path

from bomplan.catalog.cells import Problem
from bomplan.catalog.columns import Family, part_families, schema
from bomplan.catalog.merge import Incoming, Merged, convert, merge_rows
from bomplan.catalog.rows import FolderRows, read_rows
from bomplan.catalog.tables import Table, read_table
from bomplan.errors import Fault, InputError


def update_rows(folder: Path, table: Table, columns: Mapping[str, str], price_date: str) -> Merged:
    """Edited figures of parts that the catalogue in ``folder`` has, whatever their family.

    ``columns`` says which column of ``table`` is which of ours. Every row must name a part
    that is there; blank cells change nothing. Raises InputError with every fault.
    """
    home = _homes(folder)
    faults: list[Fault] = []
    by_family: dict[str, list[Incoming]] = {}
    for line, texts in table.rows:
        given = {
            columns[title]: text.strip()
            for title, text in zip(table.header, texts, strict=False)
            if title in columns and text.strip()
        }
        part = given.get("id", "")
        family = home.get(part)
        if family is None:
            near = difflib.get_close_matches(part, home, n=1)
            faults.append(
                Fault(
                    "update.unknown-part",
                    "the catalogue has no such part" if part else "the row names no part",
                    table.file,
                    f"row {line}",
                    part or None,
                    hint=f"did you mean {near[0]}?"
                    if near
                    else "bomplan catalog import adds parts",
                )
            )
            continue
        row = _edit(schema()[family], given, table, line, faults)
        if price_date and "price" in row:
            row.setdefault("price_date", price_date)
        by_family.setdefault(family, []).append(Incoming(row, table.file, line))
    if faults:
        raise InputError(faults)
    merged = Merged()
    offered = _offered(folder)
    for family, rows in by_family.items():
        try:
            one = merge_rows(folder, family, rows)
        except InputError as error:
            faults.extend(error.faults)
            continue
        faults.extend(_undated(one, rows, family))
        merged.files |= one.files
        merged.changes += one.changes
        merged.notes += one.notes
        merged.notes += [
            f"{change.id} is sold at the prices in offers.csv; its own price counts for nothing"
            for change in one.changes
            if change.column == "price" and change.id in offered
        ]
    if faults:
        raise InputError(faults)
    return merged


def _offered(folder: Path) -> set[str]:
    """The parts that offers.csv has prices for."""
    path = folder / "offers.csv"
    table = read_table(path, path.name) if path.exists() else None
    if table is None or isinstance(table, Fault):
        return set()
    rows = read_rows(schema()["offers"], table, FolderRows({}, [], []))
    return {row.text("part") for row in rows}


def _edit(
    family: Family, given: Mapping[str, str], table: Table, line: int, faults: list[Fault]
) -> dict[str, str]:
    row: dict[str, str] = {}
    for name, text in given.items():
        column = family.columns.get(name)
        if column is None:
            near = family.nearest_column(name)
            faults.append(
                Fault(
                    "update.unknown-column",
                    f"is no column of {family.name}",
                    table.file,
                    f"row {line} ({given['id']})",
                    name,
                    hint=f"did you mean {near}?" if near else None,
                )
            )
            continue
        found = convert(text, family, name, "", table, {})
        if isinstance(found, Problem):
            faults.append(
                Fault(
                    f"update.{found.code}",
                    found.message,
                    table.file,
                    f"row {line} ({given['id']}), column {name}",
                    text,
                    column.allowed(),
                    found.hint,
                )
            )
        else:
            row[name] = found
    return row


def _undated(merged: Merged, rows: Sequence[Incoming], family: str) -> list[Fault]:
    """A price that changes needs the day on which it was seen."""
    dated = {row.cells["id"] for row in rows if "price_date" in row.cells}
    lines = {row.cells["id"]: row for row in rows}
    return [
        Fault(
            "update.no-date",
            "a new price says nothing of the day on which it was seen",
            lines[change.id].file,
            f"row {lines[change.id].line} ({change.id})",
            change.after,
            hint="add a column price_date, or give --price-date 2026-09-15",
        )
        for change in merged.changes
        if change.table == family and change.column == "price" and change.id not in dated
    ]


def _homes(folder: Path) -> dict[str, str]:
    """Part id = family, for every part of the folder."""
    homes: dict[str, str] = {}
    faults: list[Fault] = []
    for family in part_families():
        path = folder / f"{family.name}.csv"
        if not path.exists():
            continue
        table = read_table(path, f"{folder.name}/{path.name}")
        if isinstance(table, Fault):
            faults.append(table)
            continue
        read = FolderRows({}, [], [])
        homes |= {row.key[0]: family.name for row in read_rows(family, table, read)}
        faults.extend(read.faults)
    if faults:
        raise InputError(faults)
    return homes
