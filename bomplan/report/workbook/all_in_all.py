"""From the bill to what it costs all in all, on the summary: everything around it, tax, own lines.

Tax stands at nothing until somebody fills it in. The budget of the project limits the bill, a
limit of its own the whole.
"""

from __future__ import annotations

from bomplan.design.records import Plan
from bomplan.money import currency_decimals
from bomplan.report.money_words import KIND_WORDS, budget_of_bill, by_kind
from bomplan.report.reading import money_value
from bomplan.report.workbook.budget import BudgetCells
from bomplan.report.workbook.sheet import Sheet
from bomplan.report.workbook.whole_sum import HIGH, LOW, TYPICAL, WholeCells


def write_all_in_all(
    sheet: Sheet,
    plan: Plan,
    row: int,
    bill_cell: str,
    spent: BudgetCells,
    whole: WholeCells | None,
) -> tuple[int, tuple[str, float]]:
    """Write below ``row``, which holds the bill; the last row, and the whole's cell and value."""
    styles = sheet.styles
    currency, digits = plan.currency, currency_decimals(plan.currency)
    money = styles.number(styles.money)
    bill = sum(line.price for line in plan.lines)
    budget = budget_of_bill(plan)
    if budget is not None:
        row = _write_limit(sheet, plan, row, ("Budget of the bill", budget), bill_cell, bill)
    parts = [bill_cell]
    summed = plan.whole_sum
    if whole is not None and summed is not None:
        for kind, _, typical, _, _ in by_kind(summed):
            if kind == "bill":
                continue
            row += 1
            sheet.text(row, 0, KIND_WORDS[kind])
            sheet.formula(row, 1, f"={whole.kinds[kind]}", money_value(typical, currency), money)
            parts.append(sheet.at(row, 1))
    row += 1
    sheet.text(row, 0, "Lines of your own (Budget)")
    sheet.formula(row, 1, f"={spent.own}", spent.own_value, money)
    parts.append(sheet.at(row, 1))
    for words in ("Tax on top",) if whole is not None else ("Tax on top", "Contingency"):
        row += 1
        sheet.text(row, 0, words)
        sheet.number(row, 2, 0, styles.number("0 %", edit=True))
        sheet.formula(row, 1, f"={bill_cell}*{sheet.at(row, 2)}", 0.0, money)
        parts.append(sheet.at(row, 1))
    row += 1
    total = sheet.at(row, 1)
    typical = bill if summed is None else summed.typical
    value = round(money_value(typical, currency) + spent.own_value, digits)
    sheet.text(row, 0, "All in all", styles.group())
    formula = f"=ROUND({'+'.join(parts)},{digits})"
    sheet.formula(row, 1, formula, value, styles.group(styles.money))
    sheet.page.write_blank(row, 2, None, styles.group())
    if whole is not None and summed is not None:
        for words, col, amount in (
            ("if all goes well", LOW, summed.low),
            ("if nothing does", HIGH, summed.high),
        ):
            row += 1
            sheet.text(row, 0, words)
            # What the end differs by from the typical sum, so that tax and own lines are in.
            formula = f"=ROUND({total}+{whole.total[col]}-{whole.total[TYPICAL]},{digits})"
            end = round(value + money_value(amount - typical, currency), digits)
            sheet.formula(row, 1, formula, end, money)
    if summed is not None and summed.limit is not None:
        limit = ("Limit of all of it", summed.limit)
        row = _write_limit(sheet, plan, row, limit, total, round(value * 10**digits))
    return row, (total, value)


def _write_limit(
    sheet: Sheet, plan: Plan, row: int, limit: tuple[str, int], cell: str, spent: int
) -> int:
    """A limit to be edited, and what is left of it below."""
    styles = sheet.styles
    digits = currency_decimals(plan.currency)
    words, amount = limit
    row += 1
    sheet.text(row, 0, words)
    value = money_value(amount, plan.currency)
    sheet.number(row, 1, value, styles.number(styles.money, edit=True))
    row += 1
    sheet.text(row, 0, "left of it")
    formula = f"=ROUND({sheet.at(row - 1, 1)}-{cell},{digits})"
    left = money_value(amount - spent, plan.currency)
    sheet.formula(row, 1, formula, left, styles.number(styles.money, bold=True))
    return row
