"""Tables written back as CSV, in the manner in which they were found.

Cells that nobody changed keep their text to the letter; delimiter, decimal mark, line ends
and byte order mark stay what they were.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bomplan.catalog.rows import KEY_COLUMNS
from bomplan.catalog.tables import Table, decode, parse_table
from bomplan.errors import Fault

_MARK: Final = b"\xef\xbb\xbf"
Cells = Mapping[str, str]


@dataclass(frozen=True)
class CsvFile:
    """A table with the way its file is written."""

    table: Table
    line_end: str = "\n"
    mark: bool = False

    def bytes(self) -> bytes:
        """The file's content."""
        text = io.StringIO()
        writer = csv.writer(text, delimiter=self.table.delimiter, lineterminator=self.line_end)
        if self.table.told:
            text.write(f"sep={self.table.delimiter}{self.line_end}")
        writer.writerow(self.table.header)
        writer.writerows(cells for _, cells in self.table.rows)
        return (_MARK if self.mark else b"") + text.getvalue().encode("utf-8")


def open_csv(path: Path, file: str) -> CsvFile | Fault:
    """The CSV file at ``path``; ``file`` is how messages call it."""
    try:
        data = path.read_bytes()
    except OSError as error:
        message = f"the file cannot be read ({error.strerror})"
        return Fault(code="catalog.unreadable", message=message, file=file)
    text = decode(data, file)
    table = text if isinstance(text, Fault) else parse_table(text, file)
    if isinstance(table, Fault):
        return table
    windows = data.count(b"\r\n") * 2 > data.count(b"\n") and b"\r\n" in data
    return CsvFile(table, "\r\n" if windows else "\n", data.startswith(_MARK))


def new_csv(file: str, columns: Sequence[str]) -> CsvFile:
    """An empty table with these columns."""
    return CsvFile(Table(file, tuple(columns), (), decimal_comma=False))


def with_rows(source: CsvFile, family: str, rows: Iterable[Cells]) -> CsvFile:
    """``source`` with each of ``rows`` put over the row of its key, or added at the end.

    A row gives texts by column name, numbers with a decimal point; columns that it leaves
    out stay as they are, columns that the table lacks are added. A blank text clears a cell.
    """
    table = source.table
    header = list(table.header)
    known = [dict(zip(header, cells, strict=False)) for _, cells in table.rows]
    extra = [list(cells[len(header) :]) for _, cells in table.rows]
    keys = KEY_COLUMNS.get(family, ("id",))
    places = {_key(row, keys): number for number, row in enumerate(known)}
    for row in rows:
        header += [name for name in row if name not in header]
        shown = {name: _shown(text, table.decimal_comma) for name, text in row.items()}
        place = places.get(_key(row, keys))
        if place is None:
            places[_key(row, keys)] = len(known)
            known.append(shown)
            extra.append([])
        else:
            same = {name for name in row if known[place].get(name, "").strip() == row[name]}
            known[place] |= {name: text for name, text in shown.items() if name not in same}
    lines = [
        (number, tuple([row.get(name, "") for name in header] + more))
        for number, (row, more) in enumerate(zip(known, extra, strict=True), start=2)
    ]
    changed = Table(
        table.file,
        tuple(header),
        tuple(lines),
        table.decimal_comma,
        table.delimiter,
        table.told,
    )
    return CsvFile(changed, source.line_end, source.mark)


def _key(row: Cells, keys: tuple[str, ...]) -> tuple[str, ...]:
    # A step of an offer that names no quantity starts at one.
    defaults = {"quantity_from": "1"}
    return tuple(row.get(name, "").strip() or defaults.get(name, "") for name in keys)


def _shown(text: str, decimal_comma: bool) -> str:
    """A number in the file's own manner; any other text as it is."""
    if not decimal_comma or text.count(".") != 1:
        return text
    whole, _, part = text.removeprefix("-").partition(".")
    return text.replace(".", ",") if (whole + part).isdecimal() else text
