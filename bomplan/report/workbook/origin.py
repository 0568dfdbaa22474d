"""What stood in the workbook when it was written, on a hidden sheet, for reading it back.

A workbook that comes back is compared with this sheet: only cells that differ were touched.
It is text only, and the workbook's figures do not depend on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from bomplan.buying.ledger import COLUMNS, Entry, entry_texts
from bomplan.design.records import Line, Plan
from bomplan.money import currency_decimals, format_amount
from bomplan.report.reading import CHARGE_FAMILIES, grams
from bomplan.report.workbook.sellers import asked, sellers_of
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "bomplan"
VERSION: Final = "1"
LEDGER_KIND: Final = "entry"
BILL_KIND: Final = "part"
BILL_COLUMNS: Final = (
    "part",
    "family",
    "supplier",
    "unit_price",
    "unit_mass_g",
    "currency",
    "rate",
    "quantity_from",
    "asked",
    "asked_in",
)


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
    lines.extend((BILL_KIND, *cells) for cells in _bill(plan))
    style = sheet.styles.get(num_format="@")
    for number, cells in enumerate(lines):
        for col, text in enumerate(cells):
            if text:
                sheet.exact(number, col, text, style)
    sheet.page.very_hidden()


def _bill(plan: Plan) -> Iterator[tuple[str, ...]]:
    """Every line with its price and mass, and where a catalogue has that price."""
    parts = _currencies(plan, "parts")
    suppliers = _currencies(plan, "suppliers")
    rates = {str(k): str(v) for k, v in plan.project_used.get("rates", {}).items()}
    sellers = {one.name: one for one in sellers_of(plan)}
    for line in plan.lines:
        if line.family in CHARGE_FAMILIES:
            continue
        sold = suppliers if line.supplier else parts
        currency = sold.get(line.supplier or line.part, plan.currency)
        rate = rates.get(currency, "") if currency != plan.currency else "1"
        step = _step(plan, line, currency, rate)
        seller = sellers.get(line.supplier)
        there = plan.currency if seller is None else seller.currency
        yield (
            line.part,
            line.family,
            line.supplier,
            format_amount(line.unit_price, plan.currency),
            str(grams(line.unit_mass_kg)),
            currency,
            rate,
            step,
            format_amount(asked(line, seller), there),
            there,
        )


def _currencies(plan: Plan, table: str) -> dict[str, str]:
    """In which currency each row of an embedded table has its prices."""
    rows = plan.parts_used.get(table, ())
    return {str(row["id"]): str(row.get("currency", plan.currency)) for row in rows}


def _step(plan: Plan, line: Line, currency: str, rate: str) -> str:
    """From how many pieces on the offer holds at which the line is bought; blank: no offer."""
    if not line.supplier or not rate:
        return ""
    steps = [
        int(row.get("quantity_from", 1))
        for row in plan.parts_used.get("offers", ())
        if (row["part"], row["supplier"]) == (line.part, line.supplier)
        and line.unit_price in _shown(int(row["unit_price"]), rate, currency, plan)
        and int(row.get("quantity_from", 1)) <= max(line.bought, 1)
    ]
    return str(max(steps)) if steps else ""


def _shown(asked: int, rate: str, currency: str, plan: Plan) -> tuple[int, int]:
    """A supplier's price of a piece as the bill shows it: rounded down, and as older ones, up."""
    scale = Fraction(10 ** currency_decimals(plan.currency), 10 ** currency_decimals(currency))
    exact = asked * Fraction(rate) * scale
    return math.floor(exact), math.ceil(exact)
