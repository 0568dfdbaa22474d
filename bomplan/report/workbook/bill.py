"""The bill of materials, system by system; quantities and prices are there to be edited."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from bomplan.buying.terms import CHARGES
from bomplan.design.records import Line, Plan
from bomplan.errors import InternalError
from bomplan.money import currency_decimals
from bomplan.report.reading import (
    CHARGE_FAMILIES,
    SystemSum,
    by_system,
    grams,
    money_value,
)
from bomplan.report.text import title
from bomplan.report.workbook.invoices import Charged, Goods, Invoices
from bomplan.report.workbook.sellers import Seller, asked
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Bill"
NO_SUPPLIER: Final = "not named"

_TOTAL_ROW: Final = 2
_HEAD_ROW: Final = 3
_FIRST_ROW: Final = 4
SYSTEM, FAMILY, PART, WORDS, FITTED, UNIT, BUY, UNIT_PRICE, PRICE = range(9)
UNIT_MASS, MASS, HOURS, SUPPLIER = range(9, 13)


@dataclass(frozen=True)
class BillCells:
    """Where the other sheets find the bill's figures.

    ``other_charges`` is the row for what orders cost beside what was planned; None without it.
    """

    sheet: Sheet
    group_rows: dict[str, int]
    line_rows: tuple[int, ...]
    last_goods: int
    charge_rows: tuple[int, int]
    other_charges: str | None

    def total(self, col: int) -> str:
        return self.sheet.ref(_TOTAL_ROW, col)

    def group(self, system: str, col: int) -> str:
        return self.sheet.ref(self.group_rows[system], col)

    def line(self, index: int, col: int) -> str:
        """The figure of the plan's line number ``index``; 0 once its row is deleted."""
        return f"IFERROR({self.sheet.ref(self.line_rows[index], col)},0)"

    def words(self, index: int, col: int) -> str:
        """As :meth:`line`, of text; nothing once the row is deleted."""
        return f'IFERROR({self.sheet.ref(self.line_rows[index], col)}&"","")'

    def goods(self) -> Goods:
        spans = (self.sheet.span(_FIRST_ROW, self.last_goods, col)
                 for col in (SUPPLIER, BUY, UNIT_PRICE, PRICE, UNIT_MASS))  # fmt: skip
        return Goods(*spans)

    def charged(self) -> Charged:
        first, last = self.charge_rows
        suppliers, families, prices = (
            self.sheet.span(first, last, col) for col in (SUPPLIER, FAMILY, PRICE)
        )
        return Charged(suppliers, families, prices, self.total(PRICE))


def write_bill(sheet: Sheet, plan: Plan, invoices: Invoices) -> BillCells:
    """Write every line under its system, a subtotal per system, and the totals on top.

    ``invoices`` says where the charges of each order will stand.
    """
    styles = sheet.styles
    decimals = currency_decimals(plan.currency)
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, f"Bill of materials: {plan.project}", styles.title())
    sheet.text(1, 0, _HOW_TO, styles.text(wrap=False))
    foreign = _foreign(plan, invoices)
    sheet.headers(_HEAD_ROW, _heads(plan.currency, foreign=foreign))
    sheet.helps(_HEAD_ROW, _HELP)

    order = {id(line): index for index, line in enumerate(plan.lines)}
    rows: dict[int, int] = {}
    group_rows: dict[str, int] = {}
    row = _FIRST_ROW
    last_goods, charge_rows, other = _FIRST_ROW, (_FIRST_ROW, _FIRST_ROW), None
    for group in groups_of(plan, invoices):
        group_rows[group.system] = head = row
        charges = _is_shipping(group.lines)
        for line in group.lines:
            row += 1
            rows[order[id(line)]] = row
            seller = invoices.seller(line.supplier)
            _write_line(sheet, row, line, seller, plan, invoices)
            if charges and seller is not None and seller.terms is not None:
                _write_charge(sheet, row, line, invoices, plan.currency)
        if charges:
            charge_rows = (head + 1, max(head + 1, row))
            if any(seller.terms for seller in invoices.sellers):
                row += 1
                other = _write_other(sheet, row, head + 1, invoices, decimals)
        row += 1
        _write_own_line(sheet, row, decimals, plan, invoices)
        if not charges:
            last_goods = row
        _write_group(sheet, head, row, group, plan.currency)
        row += 1
    last = max(row - 1, _FIRST_ROW)
    _write_totals(sheet, plan, group_rows)
    _finish(sheet, plan, invoices, last_goods, last)
    line_rows = tuple(rows[index] for index in range(len(plan.lines)))
    return BillCells(sheet, group_rows, line_rows, last_goods, charge_rows, other)


_HOW_TO: Final = (
    "Cells on a pale ground are yours to edit: what to buy, prices, masses, where. Everything else "
    "follows. An empty row ends each system, for lines of your own."
)


_HELP: Final = {
    PART: "Its id in the catalogue. 'bomplan catalog show ID' tells all about it.",
    FITTED: "How many go into the car; their mass counts. Where the description says that some are"
    " to spare, they count and weigh here, too, and take no hours.",
    BUY: "How many are paid for: packs and price steps may leave spares, parts at hand need not"
    " be bought.",
    UNIT_PRICE: "In the supplier's money, without shipping, at the price step of this quantity. An"
    " edited price goes back into a catalogue with 'bomplan catalog update FOLDER --from"
    " bom.xlsx'.",
    PRICE: "To buy times unit price, in the money of the plan. What the order costs beside it"
    " stands at the end of the bill, and on Invoices.",
    UNIT_MASS: "As an edited price, an edited mass goes back into a catalogue.",
    MASS: "Fitted times unit mass. The axle loads on Axles follow.",
    HOURS: "Hours to fit, as the catalogue estimates them.",
    SUPPLIER: "Another supplier's name from Invoices moves the line to that order, with freight,"
    " duty, tax and exchange; write that supplier's price, too, in its money.",
}


def _heads(currency: str, *, foreign: bool) -> tuple[tuple[str, float, bool], ...]:
    return (
        ("System", 12, False),
        ("Family", 15, False),
        ("Part", 24, False),
        ("Description", 34, False),
        ("Fitted", 8, True),
        ("Unit", 9, False),
        ("To buy", 8, True),
        ("Unit price", 13, True) if foreign else (f"Unit price {currency}", 11, True),
        (f"Price {currency}", 12, True),
        ("Unit mass kg", 10, True),
        ("Mass kg", 10, True),
        ("Hours", 8, True),
        ("Supplier", 13, False),
    )


def groups_of(plan: Plan, invoices: Invoices) -> list[SystemSum]:
    """Goods first, what orders cost beside them last, even where nothing is planned of it."""
    groups = sorted(by_system(plan), key=lambda group: _is_shipping(group.lines))
    if any(one.terms for one in invoices.sellers) and not any(
        _is_shipping(group.lines) for group in groups
    ):
        groups.append(SystemSum(CHARGES[0], (), 0, 0, 0.0))
    return groups


def _is_shipping(lines: tuple[Line, ...]) -> bool:
    return all(line.family in CHARGE_FAMILIES for line in lines)


def _foreign(plan: Plan, invoices: Invoices) -> bool:
    return any(one.currency != plan.currency for one in invoices.sellers)


def _write_charge(sheet: Sheet, row: int, line: Line, invoices: Invoices, currency: str) -> None:
    """What an order costs beside its goods, from the sheet of invoices."""
    styles = sheet.styles
    cell = f"={invoices.charge(line.supplier, line.family)}"
    value = money_value(line.price, currency)
    sheet.formula(row, UNIT_PRICE, cell, value, styles.number(styles.money))
    for col in (FITTED, BUY):
        sheet.number(row, col, 1, styles.number("0"))
    sheet.text(row, SUPPLIER, line.supplier)


def _write_other(sheet: Sheet, row: int, first: int, invoices: Invoices, decimals: int) -> str:
    """What orders cost beyond the rows above: nothing, until something is edited."""
    styles = sheet.styles
    sheet.text(row, SYSTEM, title(CHARGES[0]))
    sheet.text(row, FAMILY, "other charges")
    sheet.text(row, WORDS, "what an edited order costs beside the rows above")
    sheet.number(row, FITTED, 1, styles.number("0"))
    sheet.text(row, UNIT, "order")
    sheet.number(row, BUY, 1, styles.number("0"))
    above = f"-SUM({sheet.at(first, PRICE)}:{sheet.at(row - 1, PRICE)})" if row > first else ""
    formula = f"=ROUND({invoices.charges()}{above},{decimals})"
    sheet.formula(row, UNIT_PRICE, formula, 0.0, styles.number(styles.money))
    _write_products(sheet, row, decimals, 0.0, 0.0)
    sheet.fit(row, ((WORDS, "what an edited order costs beside the rows above"),), level=1)
    return sheet.ref(row, PRICE)


def _write_group(sheet: Sheet, row: int, end: int, group: SystemSum, currency: str) -> None:
    styles = sheet.styles
    for col in range(SUPPLIER + 1):
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


def _words(line: Line) -> str:
    if not line.to_spare:
        return line.description
    return f"{line.description}; {line.in_place} fitted, {line.to_spare} to spare"


def _write_line(
    sheet: Sheet, row: int, line: Line, seller: Seller | None, plan: Plan, invoices: Invoices
) -> None:
    currency = plan.currency
    if line.price != line.bought * line.unit_price:
        raise InternalError(
            f"the price of {line.part} is not its quantity times its unit price: "
            f"{line.bought} x {line.unit_price} against {line.price}"
        )
    styles = sheet.styles
    sheet.text(row, SYSTEM, title(line.system))
    sheet.text(row, FAMILY, line.family.replace("_", " "))
    sheet.text(row, PART, line.part)
    sheet.text(row, WORDS, _words(line))
    sheet.number(row, FITTED, line.quantity, styles.number("0", edit=True))
    sheet.text(row, UNIT, line.unit)
    sheet.number(row, BUY, line.bought, styles.number("0", edit=True))
    if line.family in CHARGE_FAMILIES:
        seller = None
    there = currency if seller is None else seller.currency
    unit_price = money_value(asked(line, seller), there)
    style = styles.number(money_in(there, currency), edit=True)
    sheet.number(row, UNIT_PRICE, unit_price, style)
    unit_mass = grams(line.unit_mass_kg) / 1000
    sheet.number(row, UNIT_MASS, unit_mass, styles.number("0.000", edit=True))
    rate = invoices.rate_of(sheet.at(row, SUPPLIER)) if _foreign(plan, invoices) else ""
    if line.family in CHARGE_FAMILIES:
        rate = ""
    price = money_value(line.price, currency)
    decimals = currency_decimals(currency)
    _write_products(sheet, row, decimals, price, grams(line.mass_kg) / 1000, rate=rate)
    sheet.number(row, HOURS, line.hours, styles.number("0.0", edit=True))
    sheet.text(row, SUPPLIER, line.supplier or NO_SUPPLIER, styles.input(wrap=True))
    texts = (
        (FAMILY, line.family),
        (PART, line.part),
        (WORDS, _words(line)),
        (UNIT, line.unit),
        (SUPPLIER, line.supplier),
    )
    sheet.fit(row, texts, level=1)


def _write_own_line(sheet: Sheet, row: int, decimals: int, plan: Plan, invoices: Invoices) -> None:
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
    for col in (PART, WORDS, UNIT, SUPPLIER):
        sheet.page.write_blank(row, col, None, styles.input(wrap=True))
    rate = invoices.rate_of(sheet.at(row, SUPPLIER)) if _foreign(plan, invoices) else ""
    _write_products(sheet, row, decimals, 0.0, 0.0, hide_zero=True, rate=rate)
    sheet.page.set_row(row, None, None, {"level": 1})


def _write_products(
    sheet: Sheet,
    row: int,
    decimals: int,
    price: float,
    mass: float,
    *,
    hide_zero: bool = False,
    rate: str = "",
) -> None:
    """Price and mass of a row. With a ``rate`` each piece is rounded down, as the plan shows it."""
    styles = sheet.styles
    money, kg = styles.money, "0.000"
    if hide_zero:
        money, kg = f"{money};-{money};", f"{kg};-{kg};"
    buy, unit = sheet.at(row, BUY), sheet.at(row, UNIT_PRICE)
    if rate:
        unit = f"INT(ROUND({unit}*{rate}*{10**decimals},7))/{10**decimals}"
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


def money_in(currency: str, plans: str) -> str:
    """The number format of a price, with its currency where that is not the plan's."""
    count = currency_decimals(currency)
    cents = "#,##0" + ("." + "0" * count if count else "")
    return cents if currency == plans else f'{cents} "{currency}"'


def _finish(sheet: Sheet, plan: Plan, invoices: Invoices, last_goods: int, last: int) -> None:
    page: Any = sheet.page
    if invoices.sellers:
        page.data_validation(_FIRST_ROW, SUPPLIER, last_goods, SUPPLIER, {
            "validate": "list", "source": f"={invoices.names()}", "error_type": "information",
            "error_title": "No order of this name",
            "error_message": "Its price counts, and no freight, duty or tax.",
        })  # fmt: skip
    if _foreign(plan, invoices):
        # The unit beside a price follows the supplier that is named in the row.
        there = invoices.money_of(sheet.at(_FIRST_ROW, SUPPLIER).replace("M", "$M"))
        for currency in sorted({one.currency for one in invoices.sellers}):
            page.conditional_format(_FIRST_ROW, UNIT_PRICE, last_goods, UNIT_PRICE, {
                "type": "formula", "criteria": f'={there}="{currency}"',
                "format": sheet.styles.mark(num_format=money_in(currency, plan.currency)),
            })  # fmt: skip
    page.freeze_panes(_FIRST_ROW, WORDS)
    page.autofilter(_HEAD_ROW, 0, last, SUPPLIER)
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
