"""An edited workbook read back: what was recorded on Budget, and what is not understood.

Columns are found by their heads, rows by their line; what the workbook looked like when it was
written stands on its hidden sheet. Nothing is calculated: formulas count with the value that
the spreadsheet program stored.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Final

from bomplan.buying.ledger import COLUMNS, OWN, Entry, entry_of
from bomplan.buying.taking_back import FIELDS, Seen
from bomplan.catalog.grid import Book, Grid, GridCell, read_grids
from bomplan.errors import Fault, InputError
from bomplan.money import CURRENCY_DECIMALS, currency_decimals
from bomplan.report.workbook import budget, origin

_HEAD_WITHIN: Final = 60
_NUMBERS: Final = ("expected", "ordered", "paid", "received")
_MONEY: Final = ("expected", "paid")
# Head on the sheet = column of the ledger.
_COLUMN_OF: Final[Mapping[str, str]] = {
    "Line": "line",
    "What": "what",
    "Supplier": "supplier",
    "Planned": "expected",
    "Ordered": "ordered",
    "Paid": "paid",
    "Received": "received",
    "Date": "date",
    "Note": "note",
}
_OURS: Final = (*budget.HEADS, "State", "To buy", "Unit", "Still to buy", "Still to pay", "Change")


@dataclass(frozen=True)
class Origin:
    """What the workbook says of itself; empty where its hidden sheet is gone."""

    currency: str = ""
    entries: Mapping[str, Entry] = field(default_factory=dict)
    bill: tuple[Mapping[str, str], ...] = ()
    digest: str = ""


@dataclass(frozen=True)
class ReadBack:
    """The rows of Budget, what the workbook was, and sentences about what is left aside."""

    currency: str
    seen: tuple[Seen, ...]
    origin: Origin
    notes: tuple[str, ...]


def read_back(path: Path, currency: str = "") -> ReadBack:
    """The entries in the workbook at ``path``, amounts in ``currency`` (blank: its own).

    Raises InputError with every fault; then nothing has been read.
    """
    book = _open(path)
    source = read_origin(book, path.name)
    told = currency or source.currency
    if budget.NAME not in book.grids:
        raise InputError([_no_sheet(book, path.name)])
    grid = book.grids[budget.NAME]
    notes: list[str] = []
    if not source.entries:
        notes.append(
            "the workbook no longer says what stood in it when it was written: every cell that"
            " is filled in counts, blank ones do not"
        )
    head, columns = _head(grid, path.name, notes)
    told = _currency(grid.rows[head], path.name, told)
    lacking = tuple(name for name in FIELDS if name not in columns)
    for name in lacking:
        notes.append(
            f"the column {_head_of(name)} is not on the sheet {budget.NAME}: what the ledger"
            " says there stays"
        )
    faults: list[Fault] = []
    seen: list[Seen] = []
    for number, cells in grid.rows.items():
        if number <= head:
            continue
        one = _row(cells, columns, number, told, path.name, source, faults, notes)
        if one is not None:
            seen.append(replace(one, lacking=lacking))
    if faults:
        raise InputError(faults)
    notes.extend(_other_sheets(book))
    return ReadBack(told, tuple(seen), source, tuple(notes))


def _open(path: Path) -> Book:
    found = read_grids(path, path.name, (budget.NAME, origin.NAME))
    if isinstance(found, Fault):
        code = found.code.replace("catalog.", "workbook.")
        hint = found.hint
        if found.code == "catalog.unreadable" and not path.exists():
            hint = "give the bom.xlsx in the folder that 'bomplan plan' wrote"
        elif found.code == "catalog.unreadable":
            hint = "if a spreadsheet program has it open, save and close it there"
        raise InputError([replace(found, code=code, hint=hint)])
    return found


def read_origin(book: Book, file: str) -> Origin:
    """The hidden sheet of the workbook, as far as it is there. Raises InputError."""
    grid = book.grids.get(origin.NAME)
    if grid is None or not grid.rows:
        return Origin()
    rows = [
        tuple(cells[place].text if place in cells else "" for place in range(1, 30))
        for cells in grid.rows.values()
    ]
    if rows[0][0] != "bomplan-workbook" or rows[0][1] != origin.VERSION:
        raise InputError(
            [
                Fault(
                    "workbook.newer",
                    "the workbook was written by another version of bomplan",
                    file,
                    f"sheet {origin.NAME}",
                    rows[0][1],
                    origin.VERSION,
                    "update bomplan, or write the workbook anew with 'bomplan plan'",
                )
            ]
        )
    currency = rows[0][2]
    if currency not in CURRENCY_DECIMALS:
        return Origin()
    heads: dict[str, tuple[str, ...]] = {}
    entries: dict[str, Entry] = {}
    bill: list[Mapping[str, str]] = []
    for kind, *cells in rows[1:]:
        if kind not in heads:
            heads[kind] = tuple(cells)
            continue
        named = dict(zip(heads[kind], cells, strict=False))
        if kind == origin.BILL_KIND:
            bill.append({name: named.get(name, "") for name in origin.BILL_COLUMNS})
        elif kind == origin.LEDGER_KIND:
            texts = {name: named.get(name, "") for name in COLUMNS}
            entry, wrong = entry_of(texts, currency, file, "hidden sheet")
            # A sheet that somebody has changed is no base to compare with.
            if entry is None or wrong:
                return Origin(currency)
            entries[entry.line] = entry
    digest = hashlib.sha256(repr(rows).encode()).hexdigest()
    return Origin(currency, entries, tuple(bill), digest)


def _head(grid: Grid, file: str, notes: list[str]) -> tuple[int, dict[str, int]]:
    """The row of heads and where each column of the ledger stands. Raises InputError."""
    for number, cells in list(grid.rows.items())[:_HEAD_WITHIN]:
        names = {place: bare_head(cell.text) for place, cell in cells.items()}
        if "Line" not in names.values() or len(set(names.values()) & set(_COLUMN_OF)) < 2:
            continue
        twice = {name for name in names.values() if list(names.values()).count(name) > 1}
        twice &= set(_COLUMN_OF)
        if twice:
            raise InputError(
                [
                    Fault(
                        "workbook.column-twice",
                        "two columns have this head, and only one can be read",
                        f"{file}, sheet {grid.name}",
                        f"row {number}",
                        name,
                        hint="give your own column another head",
                    )
                    for name in sorted(twice)
                ]
            )
        other = [name for name in names.values() if name not in _OURS]
        if other:
            notes.append(f"columns of your own are not read: {', '.join(other[:8])}")
        return number, {_COLUMN_OF[n]: place for place, n in names.items() if n in _COLUMN_OF}
    raise InputError(
        [
            Fault(
                "workbook.no-head",
                "the column Line is gone, or its head: without it no row can be told from another",
                f"{file}, sheet {grid.name}",
                "the row of heads",
                allowed=", ".join(budget.HEADS),
                hint="undo it in the spreadsheet program, or write the heads in again",
            )
        ]
    )


def bare_head(text: str) -> str:
    """A head without the currency behind it."""
    words = text.split()
    if len(words) > 1 and words[-1] in CURRENCY_DECIMALS:
        words.pop()
    return " ".join(words)


def _currency(head: Mapping[int, GridCell], file: str, told: str) -> str:
    """The currency of the amounts; a head that names another one is a fault."""
    named = {
        cell.text.split()[-1]
        for cell in head.values()
        if bare_head(cell.text) in ("Paid", "Planned")
        and cell.text.split()[-1] in CURRENCY_DECIMALS
    }
    if told and named - {told}:
        raise InputError(
            [
                Fault(
                    "workbook.currency",
                    "the amounts in the workbook are in another currency",
                    f"{file}, sheet {budget.NAME}",
                    "the row of heads",
                    ", ".join(sorted(named)),
                    told,
                    "turn the amounts over and give the head this currency",
                )
            ]
        )
    if not told and not named:
        raise InputError(
            [
                Fault(
                    "workbook.no-currency",
                    "nothing says in which currency the amounts are",
                    f"{file}, sheet {budget.NAME}",
                    "the row of heads",
                    hint="write it behind the head, such as Paid EUR",
                )
            ]
        )
    return told or sorted(named)[0]


def _row(
    cells: Mapping[int, GridCell],
    columns: Mapping[str, int],
    number: int,
    currency: str,
    file: str,
    source: Origin,
    faults: list[Fault],
    notes: list[str],
) -> Seen | None:
    """One row below the heads; None where the builder has written nothing."""
    found = {name: cells[place] for name, place in columns.items() if place in cells}
    line = found["line"].text.strip() if "line" in found else ""
    own = not line or line.startswith(OWN)
    if not own and source.entries and line.partition("#")[0] not in source.entries:
        notes.append(f"row {number}: no line of the plan is called {line}: taken as one of yours")
        found.setdefault("what", GridCell(line, "text"))
        line, own = "", True
    if not own:
        # What the plan asks for is its own figure there.
        found.pop("expected", None)
    where = f"row {number}"
    texts = {"line": line or f"{OWN}new"}
    for name, cell in found.items():
        if name != "line":
            texts[name] = _text(name, cell, number, currency, file, faults, notes)
    if not line and not any(text for name, text in texts.items() if name != "line"):
        return None
    entry, wrong = entry_of(texts, currency, f"{file}, sheet {budget.NAME}", where)
    faults.extend(replace(one, where=_with_head(one.where or "")) for one in wrong)
    if entry is None:
        return None
    return Seen(replace(entry, line=line), number)


def _text(
    name: str,
    cell: GridCell,
    number: int,
    currency: str,
    file: str,
    faults: list[Fault],
    notes: list[str],
) -> str:
    """What the cell says as text of the ledger; a formula counts with its stored value."""
    where = f"row {number}, column {_head_of(name)}"
    if cell.kind == "error" or (cell.formula and cell.kind == "empty"):
        error = cell.kind == "error"
        itself = (
            "write the figure itself"
            if name in _NUMBERS
            else "write the words themselves, with ' before words that begin with ="
        )
        faults.append(
            Fault(
                "workbook.cell-error" if error else "workbook.formula-without-value",
                "the cell holds an error of the spreadsheet program"
                if error
                else "the cell holds a formula and no value beside it",
                f"{file}, sheet {budget.NAME}",
                where,
                cell.formula or cell.text,
                hint=itself
                if error
                else f"let a spreadsheet program calculate and save it, or {itself}",
            )
        )
        return ""
    text = cell.text
    if cell.formula:
        if name in _NUMBERS and cell.kind == "number":
            text = _rounded(text, currency_decimals(currency) if name in _MONEY else 3)
        shown = text if len(text) <= 40 else f"{text[:39]}…"
        notes.append(f"{where}: a formula stands there; its value counts: {shown}")
    return text


def _rounded(text: str, decimals: int) -> str:
    try:
        return format(round(Decimal(text), decimals), "f")
    except InvalidOperation:
        return text


def _with_head(where: str) -> str:
    start, comma, column = where.partition(", column ")
    return f"{start}{comma}{_head_of(column)}" if comma else where


def _head_of(column: str) -> str:
    return next((head for head, name in _COLUMN_OF.items() if name == column), column)


def _other_sheets(book: Book) -> Iterator[str]:
    from bomplan.report.workbook.book import SHEETS

    other = [name for name in book.names if name not in SHEETS]
    if other:
        yield f"sheets of your own are not read: {', '.join(other[:8])}"


def _no_sheet(book: Book, file: str) -> Fault:
    return Fault(
        "workbook.no-budget",
        f"the sheet {budget.NAME} is gone or has another name, so there are no entries to read",
        file,
        value=", ".join(book.names[:12]),
        allowed=budget.NAME,
        hint="give it its name back; a deleted sheet comes back with 'bomplan plan'",
    )


def column_heads() -> dict[str, str]:
    """Column of the ledger = its head on the sheet Budget."""
    return {column: head for head, column in _COLUMN_OF.items()}
