"""The whole sum by formula: the bill, everything around it, and the three ends of each.

Pale cells are there to be edited; the amounts follow the bill and the shares on top.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from bomplan.design.money_records import SumItem, SumKind, WholeSum
from bomplan.design.records import Plan
from bomplan.money import currency_decimals
from bomplan.project.budget import Budget
from bomplan.report.money_words import KIND_WORDS, OUTSIDE, by_kind
from bomplan.report.reading import money_value
from bomplan.report.workbook.bill import HOURS as BILL_HOURS
from bomplan.report.workbook.bill import PRICE, BillCells
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Whole sum"
KIND, WORDS, COUNT, LOW, TYPICAL, HIGH, HOURS, WHY, SOURCE = range(9)
ENDS: Final = (LOW, TYPICAL, HIGH)
_SHARES_ROW: Final = 3
_HOURS_ROW: Final = 5
_TOTAL_ROW: Final = 7
_HEAD_ROW: Final = 8
# Where each share stands in its row: words, column.
_SHARES: Final = {
    "prices_fall": ("Bill lower by", LOW),
    "prices_rise": ("Bill higher by", HIGH),
    "contingency": ("Contingency", TYPICAL),
    "hours_fall": ("Hours fewer by", HOURS),
    "hours_rise": ("Hours more by", WHY),
}
_HELP: Final = {
    LOW: "When all goes well: every low end at once. A bracket, not a likely range.",
    TYPICAL: "The usual amount, for all that are counted.",
    HIGH: "When nothing goes well: every high end at once.",
    HOURS: "Hours of work that all of them take; to fit the parts of the bill in a row of its own.",
    WHY: "Why this plan needs it.",
    SOURCE: "Estimates of the catalogue are there to be replaced: put a quote into budget.items of"
    " the project under the id of the row, and plan again.",
}


@dataclass(frozen=True)
class WholeCells:
    """Where the summary finds the whole sum: each heading's typical amount, and all ends."""

    kinds: Mapping[SumKind, str]
    total: Mapping[int, str]
    hours: str


def write_whole_sum(
    sheet: Sheet, plan: Plan, summed: WholeSum, budget: Budget, bill: BillCells
) -> WholeCells:
    """Write shares, totals and every item; where the summary finds them."""
    styles = sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "The whole sum: the bill and everything around it", styles.title())
    sheet.text(1, 0, OUTSIDE, styles.text(wrap=False))
    sheet.headers(_HEAD_ROW, _heads(plan.currency))
    sheet.helps(_HEAD_ROW, _HELP)
    shares = _write_shares(sheet, summed, budget, plan)
    first = _HEAD_ROW + 1
    last = first + len(summed.items)
    hours_sum = f"SUM({_span(sheet, first, last, HOURS)})"
    total_hours = f"ROUNDUP(ROUND({hours_sum},6),1)"
    rows: dict[str, int] = {}
    row = first
    for item in summed.items:
        if item.kind == "bill":
            sheet.text(row + 1, KIND, "Work to fit the parts")
            _write_bill(sheet, row, item, plan, bill, shares)
            row += 2
            continue
        rows[item.id] = row
        _write_item(sheet, row, item, plan)
        row += 1
    _write_fitting(sheet, first + 1, plan, bill)
    hours = _write_hours(sheet, summed, hours_sum, shares)
    for item in summed.items:
        if item.kind == "workshop":
            _write_paid(sheet, rows[item.id], item, plan, hours, shares)
        elif item.kind == "contingency":
            _write_contingency(sheet, rows[item.id], first, item, plan, shares)
    cells = _write_totals(sheet, summed, plan, first, last, total_hours)
    sheet.page.autofilter(_HEAD_ROW, 0, last, SOURCE)
    sheet.page.freeze_panes(_HEAD_ROW + 1, COUNT)
    for number, note in enumerate(summed.notes, start=last + 2):
        sheet.text(number, 0, f"Not counted: {note}", styles.text(wrap=False))
    _chart(sheet, plan, last + 3 + len(summed.notes))
    sheet.print_setup(plan.project, repeat_row=_HEAD_ROW)
    return cells


def _heads(currency: str) -> tuple[tuple[str, float, bool], ...]:
    return (
        ("Heading", 30, False),
        ("What", 46, False),
        ("Count", 8, True),
        (f"All goes well {currency}", 13, True),
        (f"Typical {currency}", 13, True),
        (f"Nothing does {currency}", 13, True),
        ("Hours", 10, True),
        ("Why", 44, False),
        ("From", 24, False),
    )


def _write_shares(sheet: Sheet, summed: WholeSum, budget: Budget, plan: Plan) -> dict[str, str]:
    """The shares that the ends follow from, to be edited; their cells by name."""
    styles = sheet.styles
    cells: dict[str, str] = {}
    sheet.text(_SHARES_ROW, KIND, "Set in the project, [budget]", styles.text(bold=True))
    for name, (words, col) in _SHARES.items():
        sheet.text(_SHARES_ROW - 1, col, words, styles.text(wrap=False))
        style = styles.input(num_format="0 %")
        sheet.number(_SHARES_ROW, col, getattr(budget, name), style)
        cells[name] = sheet.at(_SHARES_ROW, col, absolute=True)
    if summed.hours.rate is not None:
        sheet.text(_SHARES_ROW - 1, WORDS, f"Workshop, {plan.currency} an hour")
        rate = money_value(summed.hours.rate, plan.currency)
        sheet.number(_SHARES_ROW, WORDS, rate, styles.input(num_format=styles.money))
        cells["rate"] = sheet.at(_SHARES_ROW, WORDS, absolute=True)
        sheet.text(_SHARES_ROW - 1, COUNT, "paid", styles.text(wrap=False))
        share = summed.hours.paid_share
        sheet.number(_SHARES_ROW, COUNT, share, styles.input(num_format="0 %"))
        cells["paid"] = sheet.at(_SHARES_ROW, COUNT, absolute=True)
    return cells


def _write_bill(
    sheet: Sheet, row: int, item: SumItem, plan: Plan, bill: BillCells, shares: dict[str, str]
) -> None:
    total, digits = bill.total(PRICE), currency_decimals(plan.currency)
    _words(sheet, row, item)
    for col, formula, amount in (
        (LOW, _up(f"{total}*(1-{shares['prices_fall']})", digits), item.low),
        (TYPICAL, f"={total}", item.typical),
        (HIGH, _up(f"{total}*(1+{shares['prices_rise']})", digits), item.high),
    ):
        value = money_value(amount, plan.currency)
        sheet.formula(row, col, formula, value, sheet.styles.number(sheet.styles.money))


def _write_fitting(sheet: Sheet, row: int, plan: Plan, bill: BillCells) -> None:
    hours = sum(line.hours for line in plan.lines)
    sheet.text(row, WORDS, "hours of every line of the bill")
    formula = f"={bill.total(BILL_HOURS)}"
    sheet.formula(row, HOURS, formula, hours, sheet.styles.number("0.0;-0.0;"))
    sheet.text(row, SOURCE, "catalogue")


def _write_item(sheet: Sheet, row: int, item: SumItem, plan: Plan) -> None:
    styles = sheet.styles
    _words(sheet, row, item)
    sheet.number(row, COUNT, item.count, styles.number("0"))
    for col, amount in zip(ENDS, (item.low, item.typical, item.high), strict=True):
        value = money_value(amount, plan.currency)
        sheet.number(row, col, value, styles.number(styles.money, edit=True))
    if item.kind not in ("workshop", "contingency", "credit"):
        sheet.number(row, HOURS, item.hours, styles.number("0.0;-0.0;", edit=True))


def _words(sheet: Sheet, row: int, item: SumItem) -> None:
    sheet.text(row, KIND, KIND_WORDS[item.kind])
    sheet.text(row, WORDS, item.words)
    sheet.text(row, WHY, item.why)
    sheet.text(row, SOURCE, item.source)
    sheet.fit(
        row,
        (
            (KIND, KIND_WORDS[item.kind]),
            (WORDS, item.words),
            (WHY, item.why),
            (SOURCE, item.source),
        ),
    )


def _write_hours(
    sheet: Sheet, summed: WholeSum, total: str, shares: dict[str, str]
) -> dict[int, str]:
    """Hours at each end, in the columns of the money; their cells."""
    styles = sheet.styles
    hours = summed.hours
    sheet.text(_HOURS_ROW, KIND, "Hours in all", styles.text(bold=True))
    cells = {}
    for col, formula, value in (
        (LOW, f"=ROUNDUP(ROUND({total}*(1-{shares['hours_fall']}),6),1)", hours.low),
        (TYPICAL, f"=ROUNDUP(ROUND({total},6),1)", hours.typical),
        (HIGH, f"=ROUNDUP(ROUND({total}*(1+{shares['hours_rise']}),6),1)", hours.high),
    ):
        sheet.formula(_HOURS_ROW, col, formula, value, styles.number("0.0", bold=True))
        cells[col] = sheet.at(_HOURS_ROW, col, absolute=True)
    return cells


def _write_paid(
    sheet: Sheet,
    row: int,
    item: SumItem,
    plan: Plan,
    hours: dict[int, str],
    shares: dict[str, str],
) -> None:
    digits = currency_decimals(plan.currency)
    for col, amount in zip(ENDS, (item.low, item.typical, item.high), strict=True):
        formula = _up(f"{shares['rate']}*{hours[col]}*{shares['paid']}", digits)
        value = money_value(amount, plan.currency)
        sheet.formula(row, col, formula, value, sheet.styles.number(sheet.styles.money))


def _write_contingency(
    sheet: Sheet, row: int, first: int, item: SumItem, plan: Plan, shares: dict[str, str]
) -> None:
    """Of everything above it; credits stand below. Nothing of it at the low end."""
    digits = currency_decimals(plan.currency)
    styles = sheet.styles
    sheet.number(row, LOW, 0, styles.number(styles.money))
    for col, amount in ((TYPICAL, item.typical), (HIGH, item.high)):
        above = f"SUM({_span(sheet, first, row - 1, col)})"
        formula = _up(f"{shares['contingency']}*{above}", digits)
        value = money_value(amount, plan.currency)
        sheet.formula(row, col, formula, value, styles.number(styles.money))


def _write_totals(
    sheet: Sheet, summed: WholeSum, plan: Plan, first: int, last: int, total_hours: str
) -> WholeCells:
    styles = sheet.styles
    sheet.text(_TOTAL_ROW, KIND, "All in all", styles.get(bold=True, font_size=12))
    for col, amount in zip(ENDS, (summed.low, summed.typical, summed.high), strict=True):
        value = money_value(amount, plan.currency)
        formula = f"=SUM({_span(sheet, first, last, col)})"
        style = styles.get(
            bold=True, font_size=12, num_format=f"{styles.money}_)", align="right", top=1
        )
        sheet.formula(_TOTAL_ROW, col, formula, value, style)
    style = styles.number("0.0", bold=True)
    sheet.formula(_TOTAL_ROW, HOURS, f"={total_hours}", summed.hours.typical, style)
    kinds: dict[SumKind, str] = {}
    names, amounts = (
        f"{sheet.ref(first, col)}:{sheet.at(last, col, absolute=True)}" for col in (KIND, TYPICAL)
    )
    for kind, *_ in by_kind(summed):
        kinds[kind] = f'SUMIFS({amounts},{names},"{KIND_WORDS[kind]}")'
    return WholeCells(
        kinds, {col: sheet.ref(_TOTAL_ROW, col) for col in ENDS}, sheet.ref(_TOTAL_ROW, HOURS)
    )


def _chart(sheet: Sheet, plan: Plan, row: int) -> None:
    """Three bars of what it comes to, so that the width of the bracket is seen."""
    chart = sheet.styles.chart("bar")
    chart.add_series(
        {
            "name": f"All in all, {plan.currency}",
            "categories": [sheet.name, _HEAD_ROW, LOW, _HEAD_ROW, HIGH],
            "values": [sheet.name, _TOTAL_ROW, LOW, _TOTAL_ROW, HIGH],
            "fill": {"color": "#2F6F8F"},
            "gap": 40,
            "data_labels": {"value": True, "num_format": "#,##0"},
        }
    )
    chart.set_title({"none": True})
    chart.set_legend({"none": True})
    chart.set_y_axis({"reverse": True})
    chart.set_x_axis({"visible": False, "min": 0, "major_gridlines": {"visible": False}})
    chart.set_size({"width": 620, "height": 170})
    sheet.page.insert_chart(row, 0, chart, {"description": "The whole sum and its ends"})


def _span(sheet: Sheet, first: int, last: int, col: int) -> str:
    return f"{sheet.at(first, col, absolute=True)}:{sheet.at(last, col, absolute=True)}"


def _up(formula: str, digits: int) -> str:
    """Rounded up to the smallest coin, clear of what the program's binary fractions add."""
    return f"=ROUNDUP(ROUND({formula},6),{digits})"
