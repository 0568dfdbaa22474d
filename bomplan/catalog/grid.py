"""Cells of a workbook one by one, with what kind each is; for sheets that are no plain table.

The same files are refused as in :mod:`bomplan.catalog.sheets`, and nothing runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from bomplan.catalog.sheets import MOST_COLUMNS, cell_text, guarded, open_workbook, refusal
from bomplan.errors import Fault

MOST_GRID_ROWS: Final = 20_000
Kind = Literal["text", "number", "date", "error", "empty"]


@dataclass(frozen=True)
class GridCell:
    """What a cell holds as text, and whether a formula gave it (then perhaps nothing)."""

    text: str
    kind: Kind
    formula: str = ""


@dataclass(frozen=True)
class Grid:
    """The cells of one sheet that are not empty, row by row, counted from 1 as programs do."""

    name: str
    rows: Mapping[int, Mapping[int, GridCell]] = field(default_factory=dict)


@dataclass(frozen=True)
class Book:
    """The sheets that were asked for and are there, and the names of all."""

    grids: Mapping[str, Grid]
    names: tuple[str, ...]


def read_grids(path: Path, file: str, wanted: Iterable[str]) -> Book | Fault:
    """The sheets named in ``wanted``, as far as the workbook has them, or why not."""
    refused = refusal(path, file)
    if refused is not None:
        return refused
    return guarded(lambda: _read(path, file, tuple(wanted)), file)


def _read(path: Path, file: str, wanted: tuple[str, ...]) -> Book | Fault:
    values = open_workbook(path, data_only=True)
    formulas = open_workbook(path, data_only=False)
    try:
        names = tuple(str(name) for name in values.sheetnames)
        grids: dict[str, Grid] = {}
        for name in wanted:
            if name not in names or not hasattr(values[name], "iter_rows"):
                continue
            found = _grid(values[name], formulas[name], name)
            if found is None:
                return Fault(
                    code="catalog.sheet-too-large",
                    message="the sheet has more rows or columns than any parts table",
                    file=f"{file}, sheet {name}",
                    allowed=f"at most {MOST_GRID_ROWS} rows and {MOST_COLUMNS} columns",
                )
            grids[name] = found
        return Book(grids, names)
    finally:
        values.close()
        formulas.close()


def _grid(values: Any, formulas: Any, name: str) -> Grid | None:
    rows: dict[int, dict[int, GridCell]] = {}
    values.reset_dimensions()
    formulas.reset_dimensions()
    for number, (plain, live) in enumerate(
        zip(values.iter_rows(), formulas.iter_rows(), strict=True), start=1
    ):
        cells: dict[int, GridCell] = {}
        for place, (value, source) in enumerate(zip(plain, live, strict=True), start=1):
            formula = _formula(source)
            if value.value is None and not formula:
                continue
            if place > MOST_COLUMNS:
                return None
            cells[place] = GridCell(cell_text(value.value), _kind(value), formula)
        if cells:
            if len(rows) >= MOST_GRID_ROWS:
                return None
            rows[number] = cells
    return Grid(name, rows)


def _formula(cell: Any) -> str:
    if cell.value is None or cell.data_type != "f":
        return ""
    return str(getattr(cell.value, "text", cell.value))


def _kind(cell: Any) -> Kind:
    if cell.value is None:
        return "empty"
    if cell.data_type == "e":
        return "error"
    if cell.data_type == "d" or hasattr(cell.value, "year"):
        return "date"
    return "number" if isinstance(cell.value, (int, float)) and cell.data_type == "n" else "text"
