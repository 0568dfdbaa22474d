"""What the builder has ordered, paid and received: ``ledger.csv``, in and out.

One row per line of the bill or line of one's own, and a further one for each further order of
the same line. The file belongs to the user: it is opened by any spreadsheet program, columns
that we do not know stay in it, and text that looks like a formula is written so that none runs.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Final

from bomplan.catalog.csv_text import open_csv
from bomplan.catalog.tables import Table
from bomplan.errors import Fault, InputError
from bomplan.money import format_amount, parse_money

LEDGER_FILE: Final = "ledger.csv"
# Column of the file = what it holds. The page of the reference is made from this table.
COLUMNS: Final[dict[str, str]] = {
    "line": "which line of the bill: family/part; own/1 and so on for lines of your own; "
    "a further order of the same line ends in #2, #3",
    "what": "what it is, in words",
    "supplier": "where it was ordered",
    "planned": "how many the plan asked for when the workbook was last read",
    "expected": "what that was to cost; for a line of your own, what you expect it to cost",
    "ordered": "how many are ordered (decimals allowed)",
    "paid": "money paid; a refund is negative",
    "received": "how many have arrived",
    "date": "day of the last of these, as 2026-11-02",
    "note": "anything worth keeping",
    "currency": "ISO 4217 code of expected and paid; blank: the project's",
}
OWN: Final = "own/"
MOST_ENTRIES: Final = 5_000
MOST_TEXT: Final = 2_000
_MOST_QUANTITY: Final = Decimal(1_000_000)
_AMOUNTS: Final = ("expected", "paid")
_QUANTITIES: Final = ("planned", "ordered", "received")
_TEXTS: Final = ("line", "what", "supplier", "note")
# A spreadsheet program runs a cell of a CSV file that begins like this.
_RISKY: Final = re.compile(r"'*[=+\-@\t]")
_LINE: Final = re.compile(r"[^\s#][^\n#]{0,120}(?:#[1-9]\d{0,3})?")


@dataclass(frozen=True)
class Entry:
    """One row: blank text and None where nothing is recorded.

    ``expected`` and ``paid`` are in smallest units of the ledger's currency. ``more`` keeps
    the cells of columns that are not ours.
    """

    line: str
    what: str = ""
    supplier: str = ""
    planned: Decimal | None = None
    expected: int | None = None
    ordered: Decimal | None = None
    paid: int | None = None
    received: Decimal | None = None
    date: str = ""
    note: str = ""
    more: tuple[tuple[str, str], ...] = ()

    @property
    def own(self) -> bool:
        """Whether it is a line of the builder's own, not one of a plan."""
        return self.line.startswith(OWN)

    @property
    def bill_line(self) -> str:
        """The line of the bill to which it counts, without the number of a further order."""
        return self.line.partition("#")[0]

    @property
    def recorded(self) -> bool:
        """Whether the builder has entered anything; the plan's own figures do not count."""
        of_own = self.own and bool(self.what or self.supplier or self.expected is not None)
        amounts = (self.ordered, self.paid, self.received)
        return of_own or any(one is not None for one in amounts) or bool(self.date or self.note)


@dataclass(frozen=True)
class Ledger:
    """The rows in the file's order, all amounts in ``currency``."""

    currency: str
    entries: tuple[Entry, ...] = ()
    other_columns: tuple[str, ...] = field(default=(), compare=False)

    def by_line(self) -> dict[str, Entry]:
        """Every entry by its ``line``, which is unique."""
        return {entry.line: entry for entry in self.entries}


def read_ledger(path: Path, currency: str) -> Ledger:
    """The ledger at ``path``; an empty one when there is no file.

    Raises InputError with every fault: unreadable, twice the same line, a cell that is not
    what its column holds, amounts in another currency than ``currency``.
    """
    if not path.exists():
        return Ledger(currency)
    opened = open_csv(path, path.name)
    if isinstance(opened, Fault):
        raise InputError([replace(opened, code=opened.code.replace("catalog.", "ledger."))])
    table = opened.table
    faults = _header_faults(table)
    if faults:
        raise InputError(faults)
    if len(table.rows) > MOST_ENTRIES:
        raise InputError(
            [
                Fault(
                    "ledger.too-long",
                    "the ledger has more rows than any build",
                    path.name,
                    value=str(len(table.rows)),
                    allowed=f"at most {MOST_ENTRIES}",
                )
            ]
        )
    entries: list[Entry] = []
    first: dict[str, int] = {}
    for number, cells in table.rows:
        named = dict(zip(table.header, cells, strict=False))
        where = f"row {number}"
        if len(cells) > len(table.header) and any(c.strip() for c in cells[len(table.header) :]):
            faults.append(
                Fault("ledger.extra-cell", "the row has more cells than the header", table.file,
                      where, hint="text with a comma in it stands in quotation marks")
            )  # fmt: skip
            continue
        shown = {
            name: _plain(named.get(name, ""), name, decimal_comma=table.decimal_comma)
            for name in COLUMNS
        }
        other = tuple((n, named[n]) for n in table.header if n not in COLUMNS and named.get(n))
        entry, wrong = entry_of(shown, currency, table.file, where)
        faults.extend(wrong)
        if entry is None:
            continue
        if entry.line in first:
            faults.append(
                Fault("ledger.line-twice", f"the line stands in row {first[entry.line]} already",
                      table.file, where, entry.line,
                      hint=f"a further order of it is written {entry.bill_line}#2")
            )  # fmt: skip
            continue
        first[entry.line] = number
        entries.append(replace(entry, more=other))
    if faults:
        raise InputError(faults)
    others = tuple(name for name in table.header if name not in COLUMNS)
    return Ledger(currency, tuple(entries), others)


def ledger_bytes(ledger: Ledger) -> bytes:
    """The ledger as the content of its file."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*COLUMNS, *ledger.other_columns])
    for entry in ledger.entries:
        shown = entry_texts(entry, ledger.currency)
        more = dict(entry.more)
        cells = [_guarded(shown[name]) if name in _TEXTS else shown[name] for name in COLUMNS]
        writer.writerow([*cells, *(more.get(name, "") for name in ledger.other_columns)])
    return text.getvalue().encode("utf-8")


def entry_texts(entry: Entry, currency: str) -> dict[str, str]:
    """The entry as text by column; :func:`entry_of` reads it back."""
    money = entry.expected is not None or entry.paid is not None
    return {
        "line": entry.line,
        "what": entry.what,
        "supplier": entry.supplier,
        "planned": quantity_text(entry.planned),
        "expected": "" if entry.expected is None else format_amount(entry.expected, currency),
        "ordered": quantity_text(entry.ordered),
        "paid": "" if entry.paid is None else format_amount(entry.paid, currency),
        "received": quantity_text(entry.received),
        "date": entry.date,
        "note": entry.note,
        "currency": currency if money else "",
    }


def entry_of(
    texts: dict[str, str], currency: str, file: str, where: str
) -> tuple[Entry | None, list[Fault]]:
    """An entry from text by column, or every fault in it. Blank cells record nothing."""
    faults: list[Fault] = []

    def fault(column: str, code: str, message: str, allowed: str, hint: str | None = None) -> None:
        place = f"{where}, column {column}"
        faults.append(
            Fault(f"ledger.{code}", message, file, place, texts.get(column), allowed, hint)
        )

    found: dict[str, object] = {}
    for name in _TEXTS:
        text = plain_text(texts.get(name, ""))
        if len(text) > MOST_TEXT:
            fault(name, "text-too-long", "the text is too long", f"at most {MOST_TEXT} characters")
        found[name] = text
    line = str(found["line"])
    if not _LINE.fullmatch(line):
        fault("line", "no-line", "says nothing of the line of the bill that is meant",
              "family/part, or own/1 for a line of your own")  # fmt: skip
    for name in _QUANTITIES:
        text = texts.get(name, "").strip()
        try:
            found[name] = read_quantity(text)
        except ValueError:
            fault(name, "not-a-quantity", "is not a quantity",
                  "a number from 0 on, at most three decimals, such as 12 or 2.5")  # fmt: skip
    told = texts.get("currency", "").strip() or currency
    for name in _AMOUNTS:
        text = texts.get(name, "").strip()
        if text and told != currency:
            fault("currency", "currency", f"the amounts are in {told}, the project counts in"
                  f" {currency}", currency, "turn the amounts over, or go back to that currency"
                  )  # fmt: skip
            break
        try:
            found[name] = read_amount(text, currency)
        except InputError as error:
            problem = error.faults[0]
            fault(name, "not-an-amount", problem.message, problem.allowed or "", problem.hint)
    day = texts.get("date", "").strip()
    found["date"] = day
    if day and not is_day(day):
        fault("date", "not-a-date", "is not a day", "year, month and day, such as 2026-11-02")
    if faults:
        return None, faults
    return Entry(**found), []  # type: ignore[arg-type]


def read_quantity(text: str) -> Decimal | None:
    """A quantity such as ``2.5``; None for blank text. ValueError for anything else."""
    if not text:
        return None
    if not re.fullmatch(r"\d{1,7}(\.\d{1,12})?", text, re.ASCII):
        raise ValueError(text)
    try:
        value = Decimal(text)
    except InvalidOperation:  # pragma: no cover - the pattern lets none through
        raise ValueError(text) from None
    if value > _MOST_QUANTITY or value != round(value, 3):
        raise ValueError(text)
    return value.normalize()


def quantity_text(value: Decimal | None) -> str:
    """A quantity as :func:`read_quantity` reads it."""
    return "" if value is None else format(value.normalize(), "f")


def read_amount(text: str, currency: str) -> int | None:
    """Money that may be negative (a refund); None for blank text. Raises InputError."""
    if not text:
        return None
    sign = -1 if text.startswith("-") else 1
    return sign * parse_money(text.removeprefix("-"), currency)


def is_day(text: str) -> bool:
    """Whether ``text`` is a day of the calendar in the form 2026-11-02."""
    try:
        return bool(re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII)) and bool(
            dt.date.fromisoformat(text)
        )
    except ValueError:
        return False


def plain_text(text: str) -> str:
    """``text`` with plain line ends and no other control characters, no blanks around it."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = (c for c in lines if c in "\n\t" or unicodedata.category(c) not in ("Cc", "Cs"))
    return "".join(kept).strip()


def own_line(taken: Iterable[str]) -> str:
    """The first free ``own/N`` beside the lines that are taken."""
    known = set(taken)
    number = 1
    while f"{OWN}{number}" in known:
        number += 1
    return f"{OWN}{number}"


def _header_faults(table: Table) -> list[Fault]:
    faults = []
    if "line" not in table.header:
        faults.append(
            Fault("ledger.no-line-column", "the column line is missing: it says what each row"
                  " is about", table.file, "header", ", ".join(table.header), ", ".join(COLUMNS))
        )  # fmt: skip
    twice = {name for name in table.header if name and table.header.count(name) > 1}
    faults.extend(
        Fault("ledger.column-twice", "two columns have this name", table.file, "header", name)
        for name in sorted(twice)
    )
    return faults


def _guarded(text: str) -> str:
    return f"'{text}" if _RISKY.match(text) else text


def _plain(text: str, column: str, *, decimal_comma: bool) -> str:
    """A cell of the file as entry_of reads it."""
    if column in _TEXTS:
        return text[1:] if text.startswith("'") and _RISKY.match(text) else text
    if decimal_comma and column not in ("date", "currency"):
        return text.strip().replace(",", ".")
    return text.strip()
