"""The bill of materials, system by system; quantities and prices are there to be edited."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from bomplan.buying.prices import Shipping
from bomplan.design.records import Line, Plan
from bomplan.errors import InternalError
from bomplan.money import currency_decimals
from bomplan.report.reading import (
    CHARGE_FAMILIES,
    SHIPPING_FAMILY,
    SystemSum,
    by_system,
    grams,
    money_value,
)
from bomplan.report.standing_words import instead_words, slack_words
from bomplan.report.text import title
from bomplan.report.units import Show
from bomplan.report.workbook.sheet import Sheet
from bomplan.report.workbook.shipping import (
    goods_of,
    ordered_from,
    shipping_formula,
    shipping_terms,
    words_of,
)

NAME: Final = "Bill"
NO_SUPPLIER: Final = "not named"

_TOTAL_ROW: Final = 2
_HEAD_ROW: Final = 3
_FIRST_ROW: Final = 4
SYSTEM, FAMILY, PART, WORDS, FITTED, UNIT, BUY, UNIT_PRICE, PRICE = range(9)
UNIT_MASS, MASS, HOURS, SUPPLIER, WHY, STANDING = range(9, 15)


@dataclass(frozen=True)
class BillCells:
    """Where the other sheets find the bill's figures."""

    sheet: Sheet
    group_rows: dict[str, int]
    line_rows: tuple[int, ...]
    first: int
    last: int

    def total(self, col: int) -> str:
        return self.sheet.ref(_TOTAL_ROW, col)

    def group(self, system: str, col: int) -> str:
        return self.sheet.ref(self.group_rows[system], col)

    def line(self, index: int, col: int) -> str:
        """The cell of the plan's line number ``index``."""
        return self.sheet.ref(self.line_rows[index], col)

    def column(self, col: int) -> str:
        return self.sheet.span(self.first, self.last, col)


def write_bill(sheet: Sheet, plan: Plan) -> BillCells:
    """Write every line under its system, a subtotal per system, and the totals on top."""
    styles = sheet.styles
    decimals = currency_decimals(plan.currency)
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, f"Bill of materials: {plan.project}", styles.title())
    sheet.text(1, 0, _HOW_TO, styles.text(wrap=False))
    sheet.headers(_HEAD_ROW, _heads(plan.currency))
    sheet.helps(_HEAD_ROW, _HELP)

    order = {id(line): index for index, line in enumerate(plan.lines)}
    rows: dict[int, int] = {}
    group_rows: dict[str, int] = {}
    row = _FIRST_ROW
    terms = shipping_terms(plan)
    groups = sorted(by_system(plan), key=lambda group: _is_shipping(group.lines))
    for group in groups:
        group_rows[group.system] = row
        last_goods = row - 1
        head = row
        for line in group.lines:
            row += 1
            rows[order[id(line)]] = row
            _write_line(sheet, row, line, plan.currency, decimals)
            if line.family == SHIPPING_FAMILY and _follows(plan, line, terms):
                _write_shipping(sheet, row, plan, terms[line.supplier], last_goods, line.price)
        if _is_shipping(group.lines):
            shipped = {one.supplier for one in group.lines if one.family == SHIPPING_FAMILY}
            for supplier in ordered_from(plan):
                if supplier not in shipped and supplier in terms:
                    row += 1
                    _write_free(sheet, row, plan, terms[supplier], last_goods)
        row += 1
        _write_own_line(sheet, row, decimals)
        _write_group(sheet, head, row, group, plan.currency)
        row += 1
    last = max(row - 1, _FIRST_ROW)
    _write_totals(sheet, plan, group_rows)
    _finish(sheet, plan, last)
    line_rows = tuple(rows[index] for index in range(len(plan.lines)))
    return BillCells(sheet, group_rows, line_rows, _FIRST_ROW, last)


_HOW_TO: Final = (
    "Cells on a pale ground are yours to edit: what to buy, prices, masses. Everything else "
    "follows. An empty row ends each system, for lines of your own."
)


_HELP: Final = {
    PART: "Its id in the catalogue. 'bomplan catalog show ID' tells all about it.",
    FITTED: "How many go into the car; their mass counts.",
    BUY: "How many are paid for: packs and price steps may leave spares, parts at hand need not"
    " be bought.",
    UNIT_PRICE: "Without shipping, at the price step of this quantity. An edited price goes back"
    " into a catalogue with 'bomplan catalog update FOLDER --from bom.xlsx'.",
    PRICE: "To buy times unit price.",
    UNIT_MASS: "As an edited price, an edited mass goes back into a catalogue.",
    MASS: "Fitted times unit mass. The axle loads on Axles follow.",
    HOURS: "Hours to fit, as the catalogue estimates them.",
    WHY: "The rule that made it needed, and why in this size.",
    STANDING: "The limit that this part meets most narrowly, and the next best row that would do in"
    " its place while everything else stays, with what the whole bill would then cost more: orders"
    " with freight, duty, tax and rounding counted anew.",
}


def _heads(currency: str) -> tuple[tuple[str, float, bool], ...]:
    return (
        ("System", 12, False),
        ("Family", 15, False),
        ("Part", 24, False),
        ("Description", 34, False),
        ("Fitted", 8, True),
        ("Unit", 9, False),
        ("To buy", 8, True),
        (f"Unit price {currency}", 11, True),
        (f"Price {currency}", 12, True),
        ("Unit mass kg", 10, True),
        ("Mass kg", 10, True),
        ("Hours", 8, True),
        ("Supplier", 13, False),
        ("Why it is there", 38, False),
        ("How close, and what else", 46, False),
    )


def _is_shipping(lines: tuple[Line, ...]) -> bool:
    return all(line.family in CHARGE_FAMILIES for line in lines)


def _follows(plan: Plan, line: Line, terms: Mapping[str, Shipping]) -> bool:
    """Whether the terms that the plan carries give this line's price."""
    known = terms.get(line.supplier)
    return known is not None and known.on(goods_of(plan, line.supplier)) == line.price


def _write_shipping(
    sheet: Sheet, row: int, plan: Plan, terms: Shipping, last_goods: int, price: int
) -> None:
    """The price of an order's shipping follows from the goods above that come from there."""
    prices, suppliers = (
        f"{sheet.at(_FIRST_ROW, col, absolute=True)}:{sheet.at(last_goods, col, absolute=True)}"
        for col in (PRICE, SUPPLIER)
    )
    goods = f"SUMIFS({prices},{suppliers},{sheet.at(row, SUPPLIER)})"
    sheet.formula(
        row,
        UNIT_PRICE,
        shipping_formula(terms, goods, plan.currency),
        money_value(price, plan.currency),
        sheet.styles.number(sheet.styles.money),
    )
    sheet.text(row, WHY, words_of(terms, plan.currency))


def _write_free(sheet: Sheet, row: int, plan: Plan, terms: Shipping, last_goods: int) -> None:
    """An order that ships free as planned; it may not when a price is edited."""
    styles = sheet.styles
    sheet.text(row, SYSTEM, title(SHIPPING_FAMILY))
    sheet.text(row, FAMILY, SHIPPING_FAMILY)
    sheet.text(row, PART, terms.supplier)
    sheet.text(row, WORDS, f"shipping of the order at {terms.supplier}")
    sheet.number(row, FITTED, 1, styles.number("0"))
    sheet.text(row, UNIT, "order")
    sheet.number(row, BUY, 1, styles.number("0"))
    sheet.text(row, SUPPLIER, terms.supplier)
    _write_shipping(sheet, row, plan, terms, last_goods, 0)
    sheet.number(row, UNIT_MASS, 0, styles.number("0.000"))
    _write_products(sheet, row, currency_decimals(plan.currency), 0.0, 0.0)
    sheet.fit(row, ((WHY, words_of(terms, plan.currency)),), level=1)


def _write_group(sheet: Sheet, row: int, end: int, group: SystemSum, currency: str) -> None:
    styles = sheet.styles
    for col in range(STANDING + 1):
        sheet.page.write_blank(row, col, None, styles.group())
    sheet.text(row, SYSTEM, title(group.system), styles.group())
    first, last = row + 1, end
    sums: tuple[tuple[int, str, float], ...] = (
        (PRICE, styles.money, money_value(group.price, currency)),
        (MASS, "0.000", group.mass_g / 1000),
        (HOURS, "0.0", group.hours),
    )
    for col, shape, value in sums:
        span = f"{sheet.at(first, col)}:{sheet.at(last, col)}"
        sheet.formula(row, col, f"=SUM({span})", value, styles.group(shape))


def _write_line(sheet: Sheet, row: int, line: Line, currency: str, decimals: int) -> None:
    if line.price != line.bought * line.unit_price:
        raise InternalError(
            f"the price of {line.part} is not its quantity times its unit price: "
            f"{line.bought} x {line.unit_price} against {line.price}"
        )
    styles = sheet.styles
    sheet.text(row, SYSTEM, title(line.system))
    sheet.text(row, FAMILY, line.family.replace("_", " "))
    sheet.text(row, PART, line.part)
    sheet.text(row, WORDS, line.description)
    sheet.number(row, FITTED, line.quantity, styles.number("0", edit=True))
    sheet.text(row, UNIT, line.unit)
    sheet.number(row, BUY, line.bought, styles.number("0", edit=True))
    unit_price = money_value(line.unit_price, currency)
    sheet.number(row, UNIT_PRICE, unit_price, styles.number(styles.money, edit=True))
    unit_mass = grams(line.unit_mass_kg) / 1000
    sheet.number(row, UNIT_MASS, unit_mass, styles.number("0.000", edit=True))
    _write_products(
        sheet, row, decimals, money_value(line.price, currency), grams(line.mass_kg) / 1000
    )
    sheet.number(row, HOURS, line.hours, styles.number("0.0", edit=True))
    sheet.text(row, SUPPLIER, line.supplier or NO_SUPPLIER)
    why = line.why
    if line.owned:
        why = f"{line.owned} at hand already. {why}"
    sheet.text(row, WHY, why)
    standing = _standing(line, currency)
    sheet.text(row, STANDING, standing)
    texts = (
        (FAMILY, line.family),
        (PART, line.part),
        (WORDS, line.description),
        (UNIT, line.unit),
        (SUPPLIER, line.supplier),
        (WHY, why),
        (STANDING, standing),
    )
    sheet.fit(row, texts, level=1)


def _standing(line: Line, currency: str) -> str:
    if line.standing is None:
        return ""
    other = instead_words(line.standing, currency, Show())
    return f"{slack_words(line.standing, Show())}. Next best: {other}"


def _write_own_line(sheet: Sheet, row: int, decimals: int) -> None:
    """An empty row inside the sums, so that lines of one's own count."""
    styles = sheet.styles
    for col, shape in (
        (FITTED, "0"),
        (BUY, "0"),
        (UNIT_PRICE, styles.money),
        (UNIT_MASS, "0.000"),
        (HOURS, "0.0"),
    ):
        sheet.page.write_blank(row, col, None, styles.number(shape, edit=True))
    _write_products(sheet, row, decimals, 0.0, 0.0, hide_zero=True)
    sheet.page.set_row(row, None, None, {"level": 1})


def _write_products(
    sheet: Sheet, row: int, decimals: int, price: float, mass: float, *, hide_zero: bool = False
) -> None:
    styles = sheet.styles
    money, kg = styles.money, "0.000"
    if hide_zero:
        money, kg = f"{money};-{money};", f"{kg};-{kg};"
    buy, unit = sheet.at(row, BUY), sheet.at(row, UNIT_PRICE)
    sheet.formula(row, PRICE, f"=ROUND({buy}*{unit},{decimals})", price, styles.number(money))
    fitted, each = sheet.at(row, FITTED), sheet.at(row, UNIT_MASS)
    sheet.formula(row, MASS, f"=ROUND({fitted}*{each},3)", mass, styles.number(kg))


def _write_totals(sheet: Sheet, plan: Plan, group_rows: dict[str, int]) -> None:
    styles = sheet.styles
    sheet.text(_TOTAL_ROW, SYSTEM, "Total", styles.text(bold=True))
    totals: tuple[tuple[int, str, float], ...] = (
        (PRICE, styles.money, money_value(sum(one.price for one in plan.lines), plan.currency)),
        (MASS, "0.000", sum(grams(one.mass_kg) for one in plan.lines) / 1000),
        (HOURS, "0.0", sum(one.hours for one in plan.lines)),
    )
    for col, shape, value in totals:
        cells = ",".join(sheet.at(row, col) for row in group_rows.values())
        sheet.formula(
            _TOTAL_ROW,
            col,
            f"=SUM({cells})" if cells else "=0",
            value,
            styles.number(shape, bold=True),
        )


def _finish(sheet: Sheet, plan: Plan, last: int) -> None:
    page: Any = sheet.page
    page.freeze_panes(_FIRST_ROW, WORDS)
    page.autofilter(_HEAD_ROW, 0, last, STANDING)
    page.outline_settings(True, False, True, False)
    for col, kind in ((FITTED, "integer"), (BUY, "integer"), (UNIT_PRICE, "decimal")):
        page.data_validation(
            _FIRST_ROW,
            col,
            last,
            col,
            {
                "validate": kind,
                "criteria": ">=",
                "value": 0,
                "error_type": "warning",
                "error_title": "Please check",
                "error_message": "A quantity or price is a number that is not negative.",
            },
        )
    sheet.print_setup(plan.project, repeat_row=_HEAD_ROW)
