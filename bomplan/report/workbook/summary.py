"""The first sheet: what it costs, how far it goes, what the axles have left, what binds."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from math import floor, isfinite
from typing import Final

from bomplan.design.records import Plan
from bomplan.report.lines import exact_money
from bomplan.report.reading import (
    cautions,
    core_line,
    counted_on,
    failed,
    grams,
    money_value,
    relative_margin,
    tightest,
    verdict,
    worst_axles,
    zero_margins,
)
from bomplan.report.text import title
from bomplan.report.workbook.all_in_all import write_all_in_all
from bomplan.report.workbook.axles import CHART_WORDS, AxleCells, loads_chart
from bomplan.report.workbook.bill import PRICE, BillCells, groups_of
from bomplan.report.workbook.budget import BudgetCells
from bomplan.report.workbook.invoices import Invoices
from bomplan.report.workbook.sheet import Sheet
from bomplan.report.workbook.whole_sum import WholeCells

NAME: Final = "Summary"
_TIGHTEST: Final = 8


def write_summary(
    sheet: Sheet,
    plan: Plan,
    bill: BillCells,
    axles: AxleCells | None,
    spent: BudgetCells,
    whole: WholeCells | None,
    invoices: Invoices,
) -> None:
    """Write the one-page answer; its money and masses follow the other sheets."""
    styles = sheet.styles
    page = sheet.page
    for col, width in enumerate((34, 15, 11, 3, 44, 20, 20, 12)):
        page.set_column(col, col, width)
    page.set_row(0, 26)
    sheet.text(0, 0, plan.project, styles.title())
    sheet.text(0, 4, f"as of {plan.as_of}", styles.text(wrap=False))
    status, sentence = verdict(plan)
    page.set_row(1, 22)
    sheet.text(1, 0, status, styles.get(bold=True, font_size=13, valign="vcenter"))
    sheet.text(2, 0, sentence, styles.text(wrap=False))

    if invoices.sellers:
        _write_below(sheet, invoices)
    left_end, all_in_all = _write_money(sheet, plan, bill, spent, whole, invoices, 9)
    _write_answers(sheet, plan, bill, axles, spent, all_in_all)
    right_end = _write_build(sheet, plan, 9)
    right_end = _write_weights(sheet, plan, axles, right_end + 2)
    right_end = _write_binding(sheet, plan, right_end + 2)
    if axles is not None and axles.rows:
        chart = loads_chart(styles, axles.rows)
        chart.set_size({"width": 700, "height": 300})
        right_end = max(right_end, left_end)
        page.insert_chart(right_end + 2, 4, chart, {"description": CHART_WORDS})
    _write_cautions(sheet, plan, max(left_end, right_end) + 17 + 1)
    sheet.print_setup(plan.project)
    page.fit_to_pages(1, 1)


def _write_answers(
    sheet: Sheet,
    plan: Plan,
    bill: BillCells,
    axles: AxleCells | None,
    spent: BudgetCells,
    all_in_all: tuple[str, float],
) -> None:
    """The figures that a builder looks for first: cost, still to buy, axles, range."""
    styles = sheet.styles
    label, below = styles.text(wrap=False), styles.text(wrap=False)
    sheet.page.set_row(5, 26)
    total = money_value(sum(line.price for line in plan.lines), plan.currency)
    sheet.text(4, 0, "The bill comes to", label)
    sheet.formula(5, 0, f"={bill.total(PRICE)}", total, styles.big(styles.whole_money))
    paid = Decimal(repr(spent.paid_value)).quantize(Decimal(1), ROUND_HALF_UP)
    words = f'="Still to pay ("&ROUND({spent.paid},0)&" paid)"'
    sheet.formula(4, 1, words, f"Still to pay ({int(paid)} paid)", label)
    sheet.formula(5, 1, f"={spent.owing}", spent.owing_value, styles.big("#,##0"))
    lines = styles.get(num_format='0 "lines to buy"', align="left")
    sheet.formula(6, 1, f"={spent.lines_left}", spent.lines_left_value, lines)
    shape = f'"all in all about" #,##0 "{plan.currency}"'
    style = styles.get(num_format=shape, align="left")
    sheet.formula(6, 0, f"={all_in_all[0]}", all_in_all[1], style)
    worst = counted_on(plan)
    if worst is not None:
        sheet.text(4, 6, "Count on", label)
        if worst.end_cause == "endless" or not isfinite(worst.range_km):
            sheet.text(5, 6, "no end", styles.big())
        else:
            # Rounded down, as wherever a range is told: no range is flattered.
            kept = floor(worst.range_km * 10 + 1e-6) / 10
            sheet.number(5, 6, kept, styles.big('0.0 "km"'))
        sheet.text(6, 6, f"{worst.target}, {worst.condition}", below)
    if axles is not None and plan.mass is not None:
        for col, axle in ((4, "rear"), (5, "front")):
            load = next(one for one in worst_axles(plan.mass) if one.name == axle)
            sheet.text(4, col, f"The {axle} axle has left", label)
            cell, kg = axles.left[axle, load.load_case]
            sheet.formula(5, col, _kept(cell), floor(round(kg, 3)), styles.big('0 "kg"'))
            sheet.text(6, col, f"{load.load_case}, to its {load.limit_kg:,.0f} kg", below)
    wrong = failed(plan)
    if wrong:
        words = "FAILED: " + "; ".join(check.words for check in wrong)
        sheet.page.merge_range(7, 0, 7, 7, "", styles.text(bold=True))
        sheet.text(7, 0, words, styles.text(bold=True))
        sheet.page.set_row(7, 13.5 * (1 + len(words) // 130))


def _write_below(sheet: Sheet, invoices: Invoices) -> None:
    """A word on orders that an edit has made too small; nothing where there are none."""
    count = invoices.below_least
    words = "Orders below what the supplier accepts: "
    formula = f'=IF({count}>0,"{words}"&{count}&", see Invoices","")'
    value = f"{words}{invoices.below_least_value}, see Invoices"
    told = value if invoices.below_least_value else ""
    sheet.formula(3, 0, formula, told, sheet.styles.text(bold=True, wrap=False))


def _write_money(
    sheet: Sheet,
    plan: Plan,
    bill: BillCells,
    spent: BudgetCells,
    whole_sum: WholeCells | None,
    invoices: Invoices,
    row: int,
) -> tuple[int, tuple[str, float]]:
    """The last row, and the cell and value of what it comes to all in all."""
    styles = sheet.styles
    currency = plan.currency
    _heading(sheet, row, 0, 2, f"What it costs ({currency})")
    whole = sum(line.price for line in plan.lines)
    groups = sorted(groups_of(plan, invoices), key=lambda group: -group.price)
    first = row + 1
    for group in groups:
        row += 1
        sheet.text(row, 0, title(group.system))
        sheet.formula(
            row,
            1,
            f"={bill.group(group.system, PRICE)}",
            money_value(group.price, currency),
            styles.number(styles.money),
        )
        share = group.price / whole if whole else 0.0
        sheet.formula(
            row,
            2,
            f"=IF({bill.total(PRICE)}>0,{sheet.at(row, 1)}/{bill.total(PRICE)},0)",
            share,
            styles.number("0 %"),
        )
    last = row
    row += 1
    sheet.text(row, 0, "Bill", styles.group())
    bill_cell = sheet.at(row, 1)
    sheet.formula(
        row, 1, f"={bill.total(PRICE)}", money_value(whole, currency), styles.group(styles.money)
    )
    sheet.page.write_blank(row, 2, None, styles.group())
    row, all_in_all = write_all_in_all(sheet, plan, row, bill_cell, spent, whole_sum)
    if groups:
        _cost_chart(sheet, first, last, row + 2)
    return row, all_in_all


def _cost_chart(sheet: Sheet, first: int, last: int, row: int) -> None:
    chart = sheet.styles.bars("Cost by system", sheet.name, first, last)
    chart.set_x_axis({"visible": False, "major_gridlines": {"visible": False}})
    chart.set_size({"width": 430, "height": 300})
    sheet.page.insert_chart(row, 0, chart, {"description": "Cost by system"})


def _write_build(sheet: Sheet, plan: Plan, row: int) -> int:
    core = plan.core
    _heading(sheet, row, 4, 7, "What to build")
    if core is None:
        return row
    facts = [
        ("Motor", _words(plan, "motor", core.motor)),
        ("Controller", _words(plan, "controller", core.controller)),
        ("Final drive", f"{core.final_ratio:g} : 1"),
        ("Module", _words(plan, "module", core.module)),
        (
            "Pack",
            f"{core.series} in series x {core.parallel} in parallel ({core.topology}), "
            f"{core.modules} modules",
        ),
    ]
    facts.extend((f"In bay: {place.bay}", f"{place.modules} modules") for place in plan.placement)
    for words, text in facts:
        row += 1
        sheet.text(row, 4, words)
        bold = sheet.styles.text(bold=True)
        sheet.page.merge_range(row, 5, row, 7, "", bold)
        sheet.text(row, 5, text, bold)
        sheet.page.set_row(row, 13.5 * (1 + len(text) // 58))
    return row


def _write_weights(sheet: Sheet, plan: Plan, axles: AxleCells | None, row: int) -> int:
    mass = plan.mass
    if mass is None or axles is None:
        return row
    styles = sheet.styles
    _heading(sheet, row, 4, 7, "What it weighs (heaviest load case)")
    facts = (
        ("Kerb", axles.kerb, (grams(mass.base_kg) + grams(mass.added_kg)) / 1000),
        ("Laden", axles.laden, mass.laden_kg),
    )
    for words, cell, value in facts:
        row += 1
        sheet.text(row, 4, words)
        sheet.formula(row, 5, f"={cell}", value, styles.get(num_format='0 "kg"', align="left"))
    for axle in worst_axles(mass):
        row += 1
        sheet.text(row, 4, f"{title(axle.name)} axle, {axle.load_case}: left of the limit")
        cell, kg = axles.left[axle.name, axle.load_case]
        bold = styles.get(num_format='0 "kg"', align="left", bold=True)
        sheet.formula(row, 5, _kept(cell), floor(round(kg, 3)), bold)
    return row


def _kept(cell: str) -> str:
    """Whole kilograms left, rounded down as on the terminal: no axle is flattered."""
    return f"=INT(ROUND({cell},3))"


def _write_binding(sheet: Sheet, plan: Plan, row: int) -> int:
    tight = tightest(plan, _TIGHTEST)
    if not tight:
        return row
    styles = sheet.styles
    _heading(sheet, row, 4, 7, "What binds (least room first)")
    for check in tight:
        row += 1
        words = check.words if len(check.words) <= 52 else check.words[:51] + "…"
        sheet.text(row, 4, words, styles.text(wrap=False))
        value, limit = check.value, f"{check.limit:.6g} {check.unit}"
        if check.id == "money.budget":
            value = money_value(round(value), plan.currency)
            limit = exact_money(round(check.limit), plan.currency)
        sheet.number(row, 5, value, styles.get(num_format="#,##0.0#", align="left"))
        sheet.text(row, 6, f"{check.sense} {limit}")
        sheet.number(row, 7, relative_margin(check) or 0.0, styles.number("+0.0 %;-0.0 %;0 %"))
    return row


def _write_cautions(sheet: Sheet, plan: Plan, row: int) -> None:
    styles = sheet.styles
    _heading(sheet, row, 0, 7, "Mind")
    told = list(cautions(plan))
    none = zero_margins(plan)
    if none:
        told.insert(0, f"Made with zero margin on request: {', '.join(none)}.")
    for text in told:
        row += 1
        sheet.page.merge_range(row, 0, row, 7, "", styles.text())
        sheet.text(row, 0, text)
        sheet.page.set_row(row, 13.5 * (1 + len(text) // 150))


def _words(plan: Plan, family: str, part: str) -> str:
    line = core_line(plan, family, part)
    return part if line is None else f"{line.description} ({part})"


def _heading(sheet: Sheet, row: int, first: int, last: int, words: str) -> None:
    for col in range(first, last + 1):
        sheet.page.write_blank(row, col, None, sheet.styles.heading())
    sheet.text(row, first, words, sheet.styles.heading())
