"""The buying list: what each supplier gets, and what to order there."""

from __future__ import annotations

from typing import Final

from bomplan.design.records import Line, Plan
from bomplan.report.reading import CHARGE_FAMILIES, money_value
from bomplan.report.text import clean
from bomplan.report.workbook import bill as columns
from bomplan.report.workbook.bill import NO_SUPPLIER, BillCells
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Buying"
_HEAD: Final = 2


def write_buying(sheet: Sheet, plan: Plan, bill: BillCells) -> None:
    """A sum per supplier, then every line that is bought, supplier by supplier."""
    styles = sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "What to order where", styles.title())
    heads = (
        ("Supplier", 22, False),
        ("Part", 24, False),
        ("Description", 44, False),
        ("To buy", 9, True),
        ("Unit", 10, False),
        (f"Unit price {plan.currency}", 12, True),
        (f"Price {plan.currency}", 13, True),
        ("Price from", 11, False),
        ("Figures from", 13, False),
    )
    sheet.headers(_HEAD, heads)
    row = _HEAD
    bought: dict[str, list[tuple[int, Line]]] = {}
    for index, line in enumerate(plan.lines):
        if line.bought or line.price:
            bought.setdefault(line.supplier or NO_SUPPLIER, []).append((index, line))
    known = part_sources(plan)
    for supplier in sorted(bought):
        for index, line in bought[supplier]:
            row += 1
            _write_line(sheet, row, supplier, index, line, plan, bill, known)
    if row > _HEAD:
        sheet.page.autofilter(_HEAD, 0, row, len(heads) - 1)
    sheet.page.freeze_panes(_HEAD + 1, 1)
    _write_suppliers(sheet, row + 2, plan, bill, sorted(bought))
    sheet.print_setup(plan.project, repeat_row=_HEAD)


def _write_line(
    sheet: Sheet,
    row: int,
    supplier: str,
    index: int,
    line: Line,
    plan: Plan,
    bill: BillCells,
    known: dict[str, tuple[str, str]],
) -> None:
    styles = sheet.styles
    sheet.text(row, 0, supplier)
    sheet.text(row, 1, line.part)
    sheet.text(row, 2, line.description)
    sheet.formula(
        row, 3, f"={bill.line(index, columns.BUY)}", line.bought, styles.number("0", bold=True)
    )
    sheet.text(row, 4, line.unit)
    for col, source, amount in (
        (5, columns.UNIT_PRICE, line.unit_price),
        (6, columns.PRICE, line.price),
    ):
        value = money_value(amount, plan.currency)
        sheet.formula(row, col, f"={bill.line(index, source)}", value, styles.number(styles.money))
    date, origin = known.get(line.part, ("", ""))
    sheet.text(row, 7, date)
    sheet.text(row, 8, origin)
    sheet.fit(row, ((0, supplier), (1, line.part), (2, line.description), (4, line.unit)))


def _write_suppliers(
    sheet: Sheet, row: int, plan: Plan, bill: BillCells, suppliers: list[str]
) -> None:
    styles = sheet.styles
    sheet.text(row, 0, "By supplier", styles.heading())
    row += 1
    heads = ("Supplier", "", "", "Lines", "Lead days", "Goods", "With shipping")
    for col, name in enumerate(heads):
        sheet.text(row, col, name, styles.header(right=col > 2))
    days = lead_days(plan)
    first = row + 1
    whole_lines = whole_goods = whole = 0
    names, families = bill.column(columns.SUPPLIER), bill.column(columns.FAMILY)
    prices = bill.column(columns.PRICE)
    for supplier in suppliers:
        row += 1
        lines = [one for one in plan.lines if (one.supplier or NO_SUPPLIER) == supplier]
        total = sum(one.price for one in lines)
        goods = sum(one.price for one in lines if one.family not in CHARGE_FAMILIES)
        count = sum(one.family not in CHARGE_FAMILIES for one in lines)
        whole_lines += count
        whole_goods += goods
        whole += total
        sheet.text(row, 0, supplier)
        key = sheet.at(row, 0)
        if days.get(supplier):
            sheet.number(row, 4, days[supplier], styles.number("0"))
        counted = f"=COUNTIFS({names},{key}{_no_charges(families)})"
        sheet.formula(row, 3, counted, count, styles.number("0"))
        sheet.formula(
            row,
            5,
            f"=SUMIFS({prices},{names},{key}{_no_charges(families)})",
            money_value(goods, plan.currency),
            styles.number(styles.money),
        )
        sheet.formula(
            row,
            6,
            f"=SUMIFS({prices},{names},{key})",
            money_value(total, plan.currency),
            styles.number(styles.money, bold=True),
        )
    if not suppliers:
        return
    last = row
    row += 1
    for col in range(7):
        sheet.page.write_blank(row, col, None, styles.group())
    sheet.text(row, 0, "All", styles.group())
    for col, value, shape in (
        (3, float(whole_lines), "0"),
        (5, money_value(whole_goods, plan.currency), styles.money),
        (6, money_value(whole, plan.currency), styles.money),
    ):
        span = f"{sheet.at(first, col)}:{sheet.at(last, col)}"
        sheet.formula(row, col, f"=SUM({span})", value, styles.group(shape))


def _no_charges(families: str) -> str:
    """Criteria that leave out what an order costs beside its goods."""
    return "".join(f',{families},"<>{family}"' for family in CHARGE_FAMILIES)


def part_sources(plan: Plan) -> dict[str, tuple[str, str]]:
    """(price date, where the figures come from) of every part that the plan embeds."""
    return {
        str(row["id"]): (clean(str(row["price_date"]), 20), clean(str(row["source"]), 60))
        for row in plan.parts_used.get("parts", ())
    }


def lead_days(plan: Plan) -> dict[str, int]:
    """Days from order to delivery by supplier, where the catalogue tells (0: it does not)."""
    return {
        str(row["id"]): int(row.get("lead_days", 0)) for row in plan.parts_used.get("suppliers", ())
    }
