"""The page of the ledger's columns, made from the table that reads and writes them."""

from __future__ import annotations

from bomplan.buying.ledger import COLUMNS, MOST_ENTRIES, MOST_TEXT, OWN
from bomplan.report.workbook.reading import column_heads

INTRODUCTION = f"""\
# The ledger

`ledger.csv` holds what you have ordered, paid and received, beside the project file (for a shipped
example: in the output folder). It is yours: edit it in any spreadsheet program, or record on the
sheet *Budget* of `bom.xlsx` and let `bomplan plan` or `bomplan ledger read` take it over.
How to work with it through a build: [budget for a year](../how-to/budget-for-a-year.md).

- UTF-8; cells parted by comma, semicolon or tab (with semicolons or tabs a decimal comma is read).
- One row for a line of the bill, and a further one for each further order of it. At most
  {MOST_ENTRIES} rows and {MOST_TEXT} characters of text in a cell.
- Columns that are not listed here stay in the file and are not read.
- Text that a spreadsheet program would run as a formula is written with `'` before it, and read
  back without.
- A blank cell records nothing; it is not a zero.
- A fault in it is told before a long search begins, with row, column and what is allowed; the file
  stays as it was.

"""


def page() -> str:
    """Markdown: the introduction, then each column and where it stands on the sheet Budget."""
    heads = column_heads()
    lines = ["| column | on the sheet *Budget* | what it holds |", "|---|---|---|"]
    for name, words in COLUMNS.items():
        head = heads.get(name, "")
        shown = f"**{head}**" if head else ""
        lines.append(f"| `{name}` | {shown} | {words} |")
    closing = (
        f"\n`{OWN}1`, `{OWN}2` and so on are lines of your own: what you expect to pay for them"
        " counts in the totals of the workbook's *Budget* and *Summary*.\n"
    )
    return INTRODUCTION + "\n".join(lines) + "\n" + closing
