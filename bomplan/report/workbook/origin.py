"""What stood in the workbook when it was written, on a hidden sheet, for reading it back.

A workbook that comes back is compared with this sheet: only cells that differ were touched.
It is text only, and the workbook's figures do not depend on it.
"""

from __future__ import annotations

from typing import Final

from bomplan.buying.ledger import COLUMNS, Entry, entry_texts
from bomplan.design.records import Plan
from bomplan.money import format_amount
from bomplan.report.reading import grams
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "bomplan"
VERSION: Final = "1"
LEDGER_KIND: Final = "entry"
BILL_KIND: Final = "part"
BILL_COLUMNS: Final = ("part", "family", "supplier", "bought", "unit_price", "unit_mass_g")


def write_origin(sheet: Sheet, plan: Plan, rows: tuple[Entry, ...]) -> None:
    """Every row of Budget (``rows``) and every price and mass of Bill, as they were written."""
    lines: list[tuple[str, ...]] = [
        ("bomplan-workbook", VERSION, plan.currency, plan.as_of),
        (LEDGER_KIND, *COLUMNS),
        (BILL_KIND, *BILL_COLUMNS),
    ]
    for entry in rows:
        texts = entry_texts(entry, plan.currency)
        lines.append((LEDGER_KIND, *(texts[name] for name in COLUMNS)))
    lines.extend(
        (
            BILL_KIND,
            line.part,
            line.family,
            line.supplier,
            str(line.bought),
            format_amount(line.unit_price, plan.currency),
            str(grams(line.unit_mass_kg)),
        )
        for line in plan.lines
    )
    style = sheet.styles.get(num_format="@")
    for number, cells in enumerate(lines):
        for col, text in enumerate(cells):
            if text:
                sheet.exact(number, col, text, style)
    sheet.page.very_hidden()
