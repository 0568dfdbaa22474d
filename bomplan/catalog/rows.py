"""The rows of one catalogue folder or workbook, checked cell by cell against the schema."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from bomplan.catalog.cells import Cell, Problem, read_cell, text_problem
from bomplan.catalog.columns import Column, Family, schema
from bomplan.catalog.sheets import read_sheets
from bomplan.catalog.tables import Table, read_table
from bomplan.errors import Fault

# What makes a row the same row when a later catalogue repeats it, and twice when one does.
KEY_COLUMNS: dict[str, tuple[str, ...]] = {
    "pairs": ("motor", "controller"),
    "curves": ("curve", "state_of_charge"),
    "temperatures": ("chemistry", "temperature_c"),
    "suppliers": ("id",),
    "extras": ("id",),
    "offers": ("part", "supplier", "quantity_from"),
}


@dataclass(frozen=True)
class Row:
    """A checked row: cells by column (blank ones absent), unknown columns apart."""

    table: str
    file: str
    line: int
    cells: Mapping[str, Cell]
    unknown: Mapping[str, str]

    def text(self, column: str, default: str = "") -> str:
        """The cell as text (numbers with a decimal point), or ``default`` if blank."""
        cell = self.cells.get(column)
        return default if cell is None else str(cell.text)

    @property
    def key(self) -> tuple[str, ...]:
        """What this row is about: an id, a pair of ids, a point of a curve."""
        names = KEY_COLUMNS.get(self.table, ("id",))
        defaults = {"quantity_from": "1"}
        values = []
        for name in names:
            cell = self.cells.get(name)
            values.append(defaults.get(name, "") if cell is None else str(cell.value))
        return tuple(values)

    def fault(
        self,
        code: str,
        message: str,
        column: str | None = None,
        allowed: str | None = None,
        hint: str | None = None,
    ) -> Fault:
        """A Fault placed at this row, and at ``column`` with its value if given."""
        where = f"row {self.line}"
        if "id" in self.cells:
            where += f" ({self.text('id')})"
        value = None
        if column is not None:
            where += f", column {column}"
            value = self.text(column) or None
        return Fault(
            code=f"catalog.{code}",
            message=message,
            file=self.file,
            where=where,
            value=value,
            allowed=allowed,
            hint=hint,
        )


@dataclass
class FolderRows:
    """What one folder or workbook holds, what is wrong in it and what should be known."""

    rows: dict[str, list[Row]]
    faults: list[Fault]
    notes: list[str]


def read_folder(folder: Path, label: str) -> FolderRows:
    """Every table of ``folder`` that the schema knows; other files are left alone.

    ``label`` stands before the file names in messages. A CSV file whose name is close to
    that of a table is taken for a slip and is a fault; any other is only noted.
    """
    result = FolderRows({}, [], [])
    seen = 0
    for path in sorted(folder.glob("*.[cC][sS][vV]")):
        file = f"{label}/{path.name}"
        if path.stem.lower() not in schema():
            _unknown_table(path.stem, file, result, "unknown-file", ".csv")
            continue
        seen += 1
        _take(path.stem.lower(), read_table(path, file), result)
    if not seen and not result.faults:
        result.faults.append(
            Fault(
                code="catalog.no-tables",
                message="the folder holds no parts table",
                file=label,
                allowed="CSV files named after a family, such as motor.csv",
            )
        )
    return result


def read_workbook(path: Path, label: str) -> FolderRows:
    """Every sheet of a workbook that is named after a table; the same rules as for a folder."""
    result = FolderRows({}, [], [])
    sheets = read_sheets(path, label)
    if isinstance(sheets, Fault):
        result.faults.append(sheets)
        return result
    seen = 0
    for title, table in sheets.items():
        name = title.strip().lower()
        if name not in schema():
            _unknown_table(title, f"{label}, sheet {title}", result, "unknown-sheet", "")
            continue
        seen += 1
        _take(name, table, result)
    if not seen and not result.faults:
        result.faults.append(
            Fault(
                code="catalog.no-tables",
                message="the workbook holds no parts table",
                file=label,
                allowed="sheets named after a family, such as motor",
                hint="bomplan catalog import reads a table of any other shape",
            )
        )
    return result


def _take(name: str, table: Table | Fault, result: FolderRows) -> None:
    if isinstance(table, Fault):
        result.faults.append(table)
    else:
        result.rows[name] = read_rows(schema()[name], table, result)


def _unknown_table(name: str, file: str, result: FolderRows, code: str, ending: str) -> None:
    near = difflib.get_close_matches(name.lower(), schema(), n=1, cutoff=0.75)
    if near:
        result.faults.append(
            Fault(
                code=f"catalog.{code}",
                message="no table has this name",
                file=file,
                hint=f"did you mean {near[0]}{ending}?",
            )
        )
    else:
        what = "file" if ending else "sheet"
        result.notes.append(f"{file}: no table has this name, the {what} was left alone")


def read_rows(family: Family, table: Table, result: FolderRows) -> list[Row]:
    """The checked rows of one table; faults and notes are added to ``result``."""
    header = _check_header(family, table, result)
    if header is None:
        return []
    rows: list[Row] = []
    first_seen: dict[tuple[str, ...], int] = {}
    for line, texts in table.rows:
        row, faults = _read_row(family, table, header, line, texts)
        result.faults.extend(faults)
        if not all(part for part in row.key):
            continue
        if row.key in first_seen:
            result.faults.append(
                row.fault(
                    "duplicate-id" if row.table not in KEY_COLUMNS else "duplicate-row",
                    f"{' with '.join(row.key)} stands already in row {first_seen[row.key]}",
                    KEY_COLUMNS.get(row.table, ("id",))[0],
                )
            )
            continue
        first_seen[row.key] = line
        rows.append(row)
    return rows


def _check_header(family: Family, table: Table, result: FolderRows) -> list[str] | None:
    """Column names in the table's order ('' is dropped later); None if it cannot go on."""
    faults: list[Fault] = []
    names: list[str] = []
    for position, title in enumerate(table.header, start=1):
        name = title if title in family.columns else title.lower()
        name = name if name in family.columns else title
        if name and name in names:
            faults.append(
                Fault(
                    code="catalog.duplicate-column",
                    message="the column stands there twice",
                    file=table.file,
                    where=f"header, column {position}",
                    value=title,
                )
            )
        names.append(name)
    unknown = [name for name in names if name and name not in family.columns]
    for column in family.columns.values():
        if column.required and column.name not in names:
            slip = family.nearest_column(column.name, unknown)
            faults.append(
                Fault(
                    code="catalog.missing-column",
                    message=f"the column {column.name} is missing ({column.description})",
                    file=table.file,
                    where="header",
                    allowed=column.allowed(),
                    hint=f"rename {slip} to {column.name}?" if slip else None,
                )
            )
    for name in unknown:
        problem = text_problem(name)
        if problem is not None:
            faults.append(
                Fault(
                    code=f"catalog.{problem.code}",
                    message=problem.message,
                    file=table.file,
                    where="header",
                    value=name,
                )
            )
            continue
        free = [column for column in family.columns if column not in names]
        near = family.nearest_column(name, free)
        tail = f", did you mean {near}?" if near else ""
        result.notes.append(f"{table.file}: column {name} is not known, kept as it stands{tail}")
    result.faults.extend(faults)
    return None if faults else names


def _read_row(
    family: Family, table: Table, header: list[str], line: int, texts: tuple[str, ...]
) -> tuple[Row, list[Fault]]:
    cells: dict[str, Cell] = {}
    unknown: dict[str, str] = {}
    wrong: list[tuple[Column | None, str, str, Problem]] = []
    spoilt: set[str] = set()
    for name, raw in zip(header, texts, strict=False):
        text = raw.strip()
        if not text or not name:
            if text:
                problem = Problem("extra-cell", "the cell stands under no column name")
                wrong.append((None, name, text, problem))
            continue
        column = family.columns.get(name)
        if column is None:
            bad = text_problem(text)
            if bad is None:
                unknown[name] = text
            else:
                wrong.append((None, name, text, bad))
            continue
        cell = read_cell(text, column, table.decimal_comma)
        if isinstance(cell, Cell):
            cells[name] = cell
        else:
            spoilt.add(name)
            wrong.append((column, name, text, cell))
    row = Row(family.name, table.file, line, cells, unknown)
    faults = [
        _cell_fault(row, column, name, text, problem) for column, name, text, problem in wrong
    ]
    extra = next((text.strip() for text in texts[len(header) :] if text.strip()), None)
    if extra is not None:
        message = f"the row has {len(texts)} cells, the header {len(header)}"
        faults.append(row.fault("extra-cell", message))
    faults.extend(_missing(row, family, spoilt))
    return row, faults


def _cell_fault(row: Row, column: Column | None, name: str, text: str, problem: Problem) -> Fault:
    base = row.fault(problem.code, problem.message, name or None, hint=problem.hint)
    return Fault(
        code=base.code,
        message=base.message,
        file=base.file,
        where=base.where,
        value=text,
        allowed=column.allowed() if column is not None else None,
        hint=base.hint,
    )


def _missing(row: Row, family: Family, spoilt: set[str]) -> list[Fault]:
    faults = []
    for column in family.columns.values():
        if column.name in row.cells or column.name in spoilt:
            continue
        why = None
        if column.required:
            why = "the cell is blank"
        elif column.needed_when is not None:
            name, values = column.needed_when
            if row.text(name) in values:
                why = f"the cell is blank, {row.text(name)} needs it"
        if why is not None:
            faults.append(
                row.fault("missing-value", why, column.name, column.allowed(), column.description)
            )
    return faults
