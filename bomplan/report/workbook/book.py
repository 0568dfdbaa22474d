"""Puts the sheets together into one workbook, in memory."""

from __future__ import annotations

import datetime as dt
import io
import re
from typing import Final

from bomplan.buying.ledger import Ledger
from bomplan.design.planfile import project_of
from bomplan.design.purchase_lines import line_for_each_purchase
from bomplan.design.records import Plan
from bomplan.errors import InternalError
from bomplan.money import currency_decimals
from bomplan.report.kept_studies import Studies
from bomplan.report.text import clean
from bomplan.report.units import Units
from bomplan.report.workbook import (
    axles,
    bill,
    budget,
    buying,
    driving,
    figures,
    order,
    origin,
    sources,
    studies,
    summary,
    wheels,
    whole_sum,
)
from bomplan.report.workbook.sheet import Sheet, Styles, paper_of

# Every sheet that we may write; another one in a workbook that comes back is the builder's.
SHEETS: Final = (
    summary.NAME,
    bill.NAME,
    whole_sum.NAME,
    axles.NAME,
    wheels.NAME,
    figures.RANGE_NAME,
    driving.NAME,
    figures.CHECKS_NAME,
    buying.NAME,
    order.NAME,
    budget.NAME,
    studies.NAME,
    sources.NAME,
    origin.NAME,
)


def workbook_bytes(
    plan: Plan,
    ledger: Ledger | None = None,
    kept: Studies | None = None,
    units: Units | None = None,
) -> bytes:
    """The plan and the ledger as an xlsx file; the same ones always give the same bytes.

    ``kept`` are answers of studies that lie beside the plan; they get a sheet of their own.
    The print set-up is for the paper that goes with ``units`` unless the project names one.
    A plan without a choice (status ``none`` or ``unknown``) gives the sheets that still say
    something. InternalError if the plan's own figures do not add up.
    """
    import xlsxwriter

    plan = line_for_each_purchase(plan)
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
        return Sheet(book.add_worksheet(name), styles, name, paper=paper_of(plan, units))

    entries = ledger or Ledger(plan.currency)
    first = page(summary.NAME)
    cells = bill.write_bill(page(bill.NAME), plan)
    whole = loads = None
    if plan.whole_sum is not None:
        money = project_of(plan).budget
        whole = whole_sum.write_whole_sum(page(whole_sum.NAME), plan, plan.whole_sum, money, cells)
    if plan.mass is not None and "donor" in plan.project_used:
        loads = axles.write_axles(page(axles.NAME), plan, plan.mass, cells)
    if plan.mass is not None and plan.mass.weights is not None:
        wheels.write_wheels(page(wheels.NAME), plan, plan.mass.weights)
    figures.write_range(page(figures.RANGE_NAME), plan)
    if plan.driving is not None:
        driving.write_driving(page(driving.NAME), plan, plan.driving)
    figures.write_checks(page(figures.CHECKS_NAME), plan)
    buying.write_buying(page(buying.NAME), plan, cells)
    by_day = None if plan.buying_order is None else page(order.NAME)
    spent = budget.write_budget(page(budget.NAME), plan, entries, cells)
    if by_day is not None and plan.buying_order is not None:
        order.write_order(by_day, plan, plan.buying_order, cells, spent.states)
    if kept:
        studies.write_studies(page(studies.NAME), plan, kept)
    sources.write_sources(page(sources.NAME), plan)
    origin.write_origin(page(origin.NAME), plan, budget.written_entries(plan, entries))
    summary.write_summary(first, plan, cells, loads, spent, whole)
    first.page.activate()
    book.close()
    return buffer.getvalue()
