"""The page of catalogue tables, made from their schema."""

from __future__ import annotations

from pathlib import Path

from bomplan.catalog.reference import columns_page

README = Path(__file__).parents[2] / "catalogs" / "generic" / "README.md"

INTRODUCTION = """\
# The catalogue's tables

A catalogue is a folder of CSV files, one for each family of parts, that any spreadsheet program
opens. This page is made from the schema that the loader checks against. How to make one of your
own: [own prices](../how-to/own-prices.md).

- UTF-8; cells parted by comma, semicolon or tab. Decimal commas are read where cells are parted
  by semicolon or tab.
- The unit stands in the column's name. A blank cell means *not known* or *does not apply*,
  never zero.
- Ids are unique in the whole catalogue. Columns that are not listed here are kept and reported,
  never dropped.
- Several catalogues stack: a later one replaces rows with the same id, column by column not,
  row by row.
- Every fault is listed at once with file, row, column, what was found and what is allowed.
"""


def page() -> str:
    """Markdown: the introduction and a table of columns for each family."""
    return f"{INTRODUCTION}\n{columns_page()}"


def readme() -> str:
    """The shipped catalogue's own page: its introduction as it stands, the columns made anew."""
    text = README.read_text("utf-8")
    return text[: text.index("## Columns of every part family")] + columns_page()
