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
    invoices,
    order,
    origin,
    sources,
    studies,
    summary,
    supply,
    wheels,
    whole_sum,
    why,
)
from bomplan.report.workbook.sellers import sellers_of
from bomplan.report.workbook.sheet import Sheet, Styles, paper_of

# Every sheet that we may write; another one in a workbook that comes back is the builder's.
SHEETS: Final = (
    summary.NAME,
    bill.NAME,
    why.NAME,
    whole_sum.NAME,
    axles.NAME,
    wheels.NAME,
    figures.RANGE_NAME,
    driving.NAME,
    supply.NAME,
    figures.CHECKS_NAME,
    buying.NAME,
    invoices.NAME,
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

    pages = {
        name: Sheet(book.add_worksheet(name), styles, name, paper=paper_of(plan, units))
        for name in _wanted(plan, kept)
    }
    entries = ledger or Ledger(plan.currency)
    orders = invoices.Invoices(pages[bill.NAME], ())
    if invoices.NAME in pages:
        orders = invoices.Invoices(pages[invoices.NAME], sellers_of(plan))
    cells = bill.write_bill(pages[bill.NAME], plan, orders)
    why.write_why(pages[why.NAME], plan)
    whole = loads = None
    if plan.whole_sum is not None:
        money = project_of(plan).budget
        page = pages[whole_sum.NAME]
        whole = whole_sum.write_whole_sum(page, plan, plan.whole_sum, money, cells)
    if plan.mass is not None and axles.NAME in pages:
        loads = axles.write_axles(pages[axles.NAME], plan, plan.mass, cells)
    if plan.mass is not None and plan.mass.weights is not None:
        wheels.write_wheels(pages[wheels.NAME], plan, plan.mass.weights)
    figures.write_range(pages[figures.RANGE_NAME], plan)
    if plan.driving is not None:
        driving.write_driving(pages[driving.NAME], plan, plan.driving)
    if plan.supply_12v is not None:
        supply.write_supply(pages[supply.NAME], plan, plan.supply_12v)
    figures.write_checks(pages[figures.CHECKS_NAME], plan)
    buying.write_buying(pages[buying.NAME], plan, cells, orders)
    if invoices.NAME in pages:
        invoices.write_invoices(orders, plan, cells.goods(), cells.charged())
    spent = budget.write_budget(pages[budget.NAME], plan, entries, cells)
    if plan.buying_order is not None:
        page = pages[order.NAME]
        order.write_order(page, plan, plan.buying_order, cells, spent.states, orders)
    if kept is not None and kept.of_other_plans:
        studies.write_studies(pages[studies.NAME], plan, kept)
    sources.write_sources(pages[sources.NAME], plan)
    origin.write_origin(pages[origin.NAME], plan, budget.written_entries(plan, entries))
    first = pages[summary.NAME]
    summary.write_summary(first, plan, cells, loads, spent, whole, orders)
    first.page.activate()
    book.close()
    return buffer.getvalue()


def _wanted(plan: Plan, kept: Studies | None) -> tuple[str, ...]:
    """The sheets that this plan has something for, in their order."""
    mass = plan.mass
    missing = {
        whole_sum.NAME: plan.whole_sum is None,
        axles.NAME: mass is None or "donor" not in plan.project_used,
        wheels.NAME: mass is None or mass.weights is None,
        driving.NAME: plan.driving is None,
        supply.NAME: plan.supply_12v is None,
        invoices.NAME: not any(line.supplier for line in plan.lines),
        order.NAME: plan.buying_order is None,
        studies.NAME: kept is None or not kept.of_other_plans,
    }
    return tuple(name for name in SHEETS if not missing.get(name))
