"""Puts the sheets together into one workbook, in memory."""

from __future__ import annotations

import datetime as dt
import io
import re

from bomplan.design.records import Plan
from bomplan.errors import InternalError
from bomplan.money import currency_decimals
from bomplan.report.text import clean
from bomplan.report.workbook import axles, bill, buying, figures, sources, summary
from bomplan.report.workbook.sheet import Sheet, Styles


def workbook_bytes(plan: Plan) -> bytes:
    """The plan as an xlsx file; the same plan always gives the same bytes.

    A plan without a choice (status ``none`` or ``unknown``) gives the sheets that still say
    something. InternalError if the plan's own figures do not add up.
    """
    import xlsxwriter

    if not re.fullmatch(r"[A-Z]{3}", plan.currency):
        raise InternalError(f"not a currency code: {plan.currency!r}")
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_numbers": False,
            "strings_to_urls": False,
        },
    )
    book.set_properties(
        {
            "title": clean(f"{plan.project}: conversion plan", 200),
            "comments": "Made by bomplan. Not an approval.",
            "created": dt.datetime.combine(dt.date.fromisoformat(plan.as_of), dt.time()),
        }
    )
    styles = Styles(book, plan.currency, currency_decimals(plan.currency))

    def page(name: str) -> Sheet:
        return Sheet(book.add_worksheet(name), styles, name)

    first = page(summary.NAME)
    cells = bill.write_bill(page(bill.NAME), plan)
    loads = None
    if plan.mass is not None and "donor" in plan.project_used:
        loads = axles.write_axles(page(axles.NAME), plan, plan.mass, cells)
    figures.write_range(page(figures.RANGE_NAME), plan)
    figures.write_checks(page(figures.CHECKS_NAME), plan)
    buying.write_buying(page(buying.NAME), plan, cells)
    sources.write_sources(page(sources.NAME), plan)
    summary.write_summary(first, plan, cells, loads)
    first.page.activate()
    book.close()
    return buffer.getvalue()
