"""A whole catalogue as one workbook, a sheet per table, to be edited and read back.

Numbers and dates are cells of their own kind, so that a spreadsheet program sorts and sums
them; everything else is text and stays text, whatever it begins with. A number that a
spreadsheet's binary numbers cannot hold to the last digit is written as text, too.
"""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any, Final

from bomplan.catalog.columns import Column, Family, schema
from bomplan.catalog.reference import column_help
from bomplan.catalog.rows import Row

# A workbook that says the same is the same bytes: its date of making is always this one.
_MADE: Final = dt.datetime(2000, 1, 1)
# Before it, spreadsheet programs count days differently.
_FIRST_DAY: Final = dt.date(1900, 3, 1)
_ZERO_DAY: Final = dt.date(1899, 12, 30)
_RISKY: Final = ("=", "+", "-", "@")
# What a workbook would read as one character, wherever it begins.
_ESCAPE_LIKE: Final = re.compile(r"(?=_x[0-9A-Fa-f]{4}_)")
_ESCAPE_LENGTH: Final = 7
_HELP_LIMIT: Final = 250
_ROWS_WITH_HELP: Final = 2000


def workbook_of(tables: Mapping[str, Iterable[Row]]) -> bytes:
    """The rows of each table (by its name in the schema) as a workbook.

    ``load_catalog`` of it gives a catalogue with the same digest.
    """
    import xlsxwriter

    stream = io.BytesIO()
    book = xlsxwriter.Workbook(
        stream,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    book.set_properties({"title": "bomplan catalogue", "created": _MADE})
    formats = {
        "head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}),
        "text": book.add_format({"num_format": "@"}),
        # The mark that keeps such text from becoming a formula when somebody edits it.
        "risky": book.add_format({"num_format": "@", "quote_prefix": True}),
        "date": book.add_format({"num_format": "yyyy-mm-dd"}),
        "number": book.add_format({"num_format": "General"}),
    }
    for name, family in schema().items():
        rows = list(tables.get(name, ()))
        if rows:
            _sheet(book.add_worksheet(name), family, rows, formats)
    book.close()
    return stream.getvalue()


def _sheet(sheet: Any, family: Family, rows: Sequence[Row], formats: Mapping[str, Any]) -> None:
    unknown = list(dict.fromkeys(name for row in rows for name in row.unknown))
    columns = [*family.columns.values()]
    for place, name in enumerate([*family.columns, *unknown]):
        sheet.write_string(0, place, name, formats["head"])
    for line, row in enumerate(rows, start=1):
        for place, column in enumerate(columns):
            cell = row.cells.get(column.name)
            if cell is not None:
                _cell(sheet, line, place, cell.text, column, formats)
        for place, name in enumerate(unknown, start=len(columns)):
            if name in row.unknown:
                _words(sheet, line, place, row.unknown[name], formats)
    for place, column in enumerate(columns):
        _help(sheet, place, family.name, column, len(rows))
        sheet.set_column(place, place, 44 if column.name == "description" else 14)
    sheet.freeze_panes(1, 1)
    sheet.autofilter(0, 0, len(rows), len(columns) + len(unknown) - 1)


def _cell(
    sheet: Any, line: int, place: int, text: str, column: Column, formats: Mapping[str, Any]
) -> None:
    if column.type in ("number", "integer", "money"):
        value = float(text)
        if Decimal(repr(value)) == Decimal(text):
            sheet.write_number(line, place, value, formats["number"])
            return
    elif column.type == "date":
        day = dt.date.fromisoformat(text)
        if day >= _FIRST_DAY:
            sheet.write_number(line, place, (day - _ZERO_DAY).days, formats["date"])
            return
    _words(sheet, line, place, text, formats)


def _words(sheet: Any, line: int, place: int, text: str, formats: Mapping[str, Any]) -> None:
    style = formats["risky" if text.startswith(_RISKY) else "text"]
    pieces = exact_pieces(text)
    if len(pieces) > 1:
        failed = sheet.write_rich_string(line, place, *pieces, style)
    else:
        failed = sheet.write_string(line, place, text, style)
    if failed:
        raise ValueError(f"a cell of {len(text)} characters does not fit into a workbook")


def exact_pieces(text: str) -> list[str]:
    """The text in one piece, or in several where escapes of the format share an underscore.

    The writer cannot escape those; cut after each one's first letter, in runs of their own,
    they need no escaping.
    """
    starts = [match.start() for match in _ESCAPE_LIKE.finditer(text)]
    if all(b - a >= _ESCAPE_LENGTH for a, b in pairwise(starts)):
        return [text]
    cuts = [start + 1 for start in starts]
    return [text[a:b] for a, b in pairwise([0, *cuts, len(text)])]


def _help(sheet: Any, place: int, family: str, column: Column, rows: int) -> None:
    """What the column means, shown beside the cell that is being edited."""
    told = column_help(family, column.name)
    told = told if len(told) <= _HELP_LIMIT else told[: _HELP_LIMIT - 1] + "…"
    what: dict[str, Any] = {
        "validate": "any",
        "input_title": column.name[:32],
        "input_message": told,
    }
    choices = column.choices if column.type == "choice" else ()
    if column.type == "flag":
        choices = ("yes", "no")
    if choices and len(",".join(choices)) <= _HELP_LIMIT:
        what |= {"validate": "list", "source": list(choices), "error_type": "warning"}
    sheet.data_validation(1, place, rows + _ROWS_WITH_HELP, place, what)
