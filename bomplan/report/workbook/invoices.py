"""What each supplier's order comes to, by formula from the bill: freight, duty, tax, exchange.

The rule is the planner's own (:mod:`bomplan.buying.terms`). Everything is counted in smallest
units of money and factors in units of a thousand millionth, so that all figures are whole
numbers: a spreadsheet's binary numbers then round an invoice up as the exact fractions do, for
orders up to a hundred million smallest units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from bomplan.buying.terms import CHARGES, FINEST, Terms, started_kg
from bomplan.design.records import Plan
from bomplan.money import currency_decimals
from bomplan.report.reading import money_value
from bomplan.report.workbook.sellers import Seller
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Invoices"
SUPPLIER, LINES, MASS, ASKED, FREIGHT, GOODS, SHIPPING, DUTY, TAX, ROUNDING, TOTAL, READING = range(
    12
)
_COLUMN_OF: Final = {"shipping": SHIPPING, "duty": DUTY, "tax": TAX, "rounding": ROUNDING}
_MONEY, _RATE, _FLAT, _PER_KG, _FREE, _LEAST, _DUTY, _DUTY_ON, _TAX, _TAX_ON, _LEAD = range(1, 12)
_GOODS_UNITS, _STARTED, _SHIPPING_UNITS, _ON_GOODS, _ON_SHIPPING, _WHOLE, _REST, _UNITS = range(
    1, 9
)
_ORDERS_HEAD: Final = 3
BELOW: Final = "BELOW LEAST ORDER"
_DUTY_BASES: Final = ("goods", "goods+shipping")
_TAX_BASES: Final = (*_DUTY_BASES, "goods+shipping+duty")
# A factor is split where it is multiplied, so that no product passes 2^53.
_PIECE: Final = 10_000
_HOW_TO: Final = (
    "Follows Bill: prices, quantities, masses and the supplier named in each row. The pale cells"
    " below are what each supplier asks."
)
_HELP: Final = {
    MASS: "Of everything bought there, spares among it.",
    ASKED: "In the supplier's own money, at the prices it asks.",
    FREIGHT: "In the supplier's own money. Nothing is sent for nothing.",
    GOODS: "The sum of its rows on Bill, each price rounded down.",
    ROUNDING: "Prices, freight, duty and tax are shown rounded down; the invoice is rounded up"
    " once, from exact figures.",
    TOTAL: "What is to be paid there, landed.",
    READING: "Whether the order is sent free, or is less than the supplier accepts.",
}
_TERMS_HELP: Final = {
    _RATE: "What one of the supplier's money costs.",
    _PER_KG: "For every started kilogram bought.",
    _FREE: "Goods worth so much are sent for nothing. Blank: never.",
    _LEAST: "The supplier takes no order below it.",
    _DUTY_ON: "goods, or goods+shipping.",
    _TAX_ON: "goods, goods+shipping, or goods+shipping+duty.",
}


@dataclass(frozen=True)
class Goods:
    """Spans of the bill's rows of goods, as the other sheets name them."""

    suppliers: str
    bought: str
    unit_prices: str
    prices: str
    unit_masses: str


@dataclass(frozen=True)
class Charged:
    """Spans of every row of the bill, charges among them, and the cell of its total."""

    suppliers: str
    families: str
    prices: str
    total: str


class Invoices:
    """Where the sheet's figures stand; made before the bill, which refers to them."""

    def __init__(self, sheet: Sheet, sellers: tuple[Seller, ...]) -> None:
        self.sheet = sheet
        self.sellers = sellers
        count = len(sellers)
        self.first_order = _ORDERS_HEAD + 1
        self.rest_row = self.first_order + count
        self.terms_head = self.rest_row + 4
        self.working_head = self.terms_head + count + 4

    def seller(self, name: str) -> Seller | None:
        return next((one for one in self.sellers if one.name == name), None)

    def order_row(self, name: str) -> int:
        return self.first_order + [one.name for one in self.sellers].index(name)

    def charge(self, name: str, family: str) -> str:
        """The cell of this charge, for a formula on another sheet."""
        return self.sheet.ref(self.order_row(name), _COLUMN_OF[family])

    def charges(self) -> str:
        """A formula for what all orders cost beside their goods."""
        row, last = self.first_order, self.rest_row - 1
        sheet = self.sheet
        return f"SUM({sheet.ref(row, SHIPPING)}:{sheet.at(last, ROUNDING, absolute=True)})"

    def terms_span(self, col: int) -> str:
        first = self.terms_head + 1
        return self.sheet.span(first, first + len(self.sellers) - 1, col)

    def names(self) -> str:
        return self.terms_span(SUPPLIER)

    def rate_of(self, supplier: str) -> str:
        """A formula for the rate of the supplier named in a cell; 1 for any that is not here."""
        return _looked_up(self.terms_span(_RATE), supplier, self.names(), "1")

    def lead_days_of(self, supplier: str, otherwise: str) -> str:
        """A formula for the days that the supplier named in a cell takes."""
        return _looked_up(self.terms_span(_LEAD), supplier, self.names(), otherwise)

    def money_of(self, supplier: str) -> str:
        """A formula for the currency of the supplier named in a cell."""
        return _looked_up(self.terms_span(_MONEY), supplier, self.names(), '""')

    @property
    def below_least(self) -> str:
        """A formula that counts orders below what their suppliers accept."""
        span = self.sheet.span(self.first_order, self.rest_row - 1, READING)
        return f'COUNTIF({span},"{BELOW}")'

    @property
    def below_least_value(self) -> int:
        return sum(_reading(one) == BELOW for one in self.sellers)


def write_invoices(places: Invoices, plan: Plan, goods: Goods, charged: Charged) -> None:
    """The orders on top, what is asked below them, and how each is rounded at the end."""
    sheet, styles = places.sheet, places.sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "What each order comes to", styles.title())
    sheet.text(1, 0, _HOW_TO, styles.text(wrap=False))
    sheet.headers(_ORDERS_HEAD, _heads(plan.currency))
    sheet.helps(_ORDERS_HEAD, _HELP)
    for number, seller in enumerate(places.sellers):
        row = places.first_order + number
        sheet.text(row, SUPPLIER, seller.name)
        if seller.terms is None:
            _write_planned(sheet, row, seller, plan, goods, charged)
        else:
            _write_live(places, number, seller, seller.terms, plan, goods)
        sheet.fit(row, ((SUPPLIER, seller.name),))
    _write_rest(places, plan, goods, charged)
    _write_terms(places, plan)
    sheet.page.freeze_panes(_ORDERS_HEAD + 1, 1)
    mark = styles.mark(bold=True, underline=1)
    sheet.page.conditional_format(
        places.first_order, READING, places.rest_row, READING,
        {"type": "cell", "criteria": "==", "value": f'"{BELOW}"', "format": mark},
    )  # fmt: skip
    sheet.print_setup(plan.project, repeat_row=_ORDERS_HEAD)


def _heads(currency: str) -> tuple[tuple[str, float, bool], ...]:
    return (
        ("Supplier", 24, False),
        ("Lines", 9, True),
        ("Mass kg", 11, True),
        ("Goods as asked", 15, True),
        ("Freight as asked", 14, True),
        (f"Goods {currency}", 12, True),
        (f"Shipping {currency}", 12, True),
        (f"Duty {currency}", 12, True),
        (f"Tax {currency}", 15, True),
        (f"Rounding {currency}", 11, True),
        (f"Invoice {currency}", 20, True),
        ("Mind", 22, False),
    )


def _looked_up(span: str, what: str, names: str, otherwise: str) -> str:
    return f"IFERROR(INDEX({span},MATCH({what},{names},0)),{otherwise})"


def _of(goods_names: str, key: str, *spans: str) -> str:
    """A sum of products over the rows of one supplier; names are matched whole, never a pattern."""
    return f"SUMPRODUCT(--({goods_names}={key}),{','.join(spans)})"


def _write_planned(
    sheet: Sheet, row: int, seller: Seller, plan: Plan, goods: Goods, charged: Charged
) -> None:
    """An order whose terms the plan does not carry: its rows of the bill, summed."""
    money, key = sheet.styles.number(sheet.styles.money), sheet.at(row, SUPPLIER)
    _write_counts(sheet, row, seller, goods)
    _money(sheet, row, GOODS, _of(goods.suppliers, key, goods.prices), seller.shown, plan)
    for family in CHARGES:
        of = f'--({charged.suppliers}={key}),--({charged.families}="{family}"),{charged.prices}'
        amount = seller.charges[family]
        _money(sheet, row, _COLUMN_OF[family], f"SUMPRODUCT({of})", amount, plan)
    span = f"{sheet.at(row, GOODS)}:{sheet.at(row, ROUNDING)}"
    bold = sheet.styles.number(sheet.styles.money, bold=True)
    value = money_value(seller.total, plan.currency)
    sheet.formula(row, TOTAL, f"=SUM({span})", value, bold)
    sheet.text(row, READING, "as planned" if seller.lines else "nothing ordered",
               sheet.styles.get(indent=1))  # fmt: skip
    for col in (ASKED, FREIGHT):
        sheet.page.write_blank(row, col, None, money)


def _write_counts(sheet: Sheet, row: int, seller: Seller, goods: Goods) -> None:
    key, styles = sheet.at(row, SUPPLIER), sheet.styles
    lines = f"=SUMPRODUCT(--({goods.suppliers}={key}),--({goods.bought}>0))"
    sheet.formula(row, LINES, lines, seller.lines, styles.number("0"))
    mass = f"={_of(goods.suppliers, key, goods.bought, goods.unit_masses)}"
    sheet.formula(row, MASS, mass, seller.mass_g / 1000, styles.number("0.0"))


def _write_live(
    places: Invoices, number: int, seller: Seller, terms: Terms, plan: Plan, goods: Goods
) -> None:
    sheet = places.sheet
    row = places.first_order + number
    work = _write_working(places, number, seller, terms, plan, goods)
    _write_counts(sheet, row, seller, goods)
    told = f'#,##0{_decimals(terms.currency)} "{terms.currency}"'
    there = 10 ** currency_decimals(terms.currency)
    for col, cell, amount in (
        (ASKED, work[_GOODS_UNITS], seller.goods),
        (FREIGHT, work[_SHIPPING_UNITS], terms.shipping(seller.goods, seller.mass_g)),
    ):
        value = money_value(amount, terms.currency)
        sheet.formula(row, col, f"={cell}/{there}", value, sheet.styles.number(told))
    key = sheet.at(row, SUPPLIER)
    _money(sheet, row, GOODS, _of(goods.suppliers, key, goods.prices), seller.shown, plan)
    here = 10 ** currency_decimals(plan.currency)
    for family, formula in _shown(places, number, work, terms, plan).items():
        whole = f"INT(ROUND({formula}))/{here}"
        _money(sheet, row, _COLUMN_OF[family], whole, seller.charges[family], plan)
    value = money_value(seller.total, plan.currency)
    bold = sheet.styles.number(sheet.styles.money, bold=True)
    sheet.formula(row, TOTAL, f"={work[_UNITS]}/{here}", value, bold)
    parts = f"SUM({sheet.at(row, GOODS)}:{sheet.at(row, TAX)})"
    rest = f"ROUND({sheet.at(row, TOTAL)}-{parts},{currency_decimals(plan.currency)})"
    _money(sheet, row, ROUNDING, rest, seller.charges["rounding"], plan)
    _write_reading(places, number, seller, work)


def _shown(
    places: Invoices, number: int, work: dict[int, str], terms: Terms, plan: Plan
) -> dict[str, str]:
    """Shipping, duty and tax in the plan's smallest units with the decimals that are exact.

    Where their decimals are beyond a binary number, a cent may stand under rounding instead;
    the invoice itself is exact.
    """
    goods, sent = work[_GOODS_UNITS], work[_SHIPPING_UNITS]
    row = places.terms_head + 1 + number
    at = places.sheet.at
    duty, duty_on = at(row, _DUTY), at(row, _DUTY_ON)
    tax, tax_on = at(row, _TAX), at(row, _TAX_ON)
    rate = f"{at(row, _RATE)}{_scale(terms, plan)}"
    dutiable = f'({goods}+IF({duty_on}="goods",0,{sent}))'
    taxed = (
        f'({goods}+IF({tax_on}="goods",0,{sent})'
        f'+IF({tax_on}="goods+shipping+duty",{duty}*{dutiable},0))'
    )
    return {
        "shipping": f"{rate}*{sent},7",
        "duty": f"{rate}*{duty}*{dutiable},8",
        "tax": f"{rate}*{tax}*{taxed},8",
    }


def _write_working(
    places: Invoices, number: int, seller: Seller, terms: Terms, plan: Plan, goods: Goods
) -> dict[int, str]:
    """The invoice in whole numbers; the cells by column.

    A factor times an amount is divided in two steps, tens of thousands first, so that the
    remainder of each is exact; what is left is rounded up to the whole unit.
    """
    sheet = places.sheet
    row, terms_row = places.working_head + 1 + number, places.terms_head + 1 + number
    cell = {col: sheet.at(row, col) for col in range(1, 9)}
    key = sheet.at(row, SUPPLIER)
    sheet.formula(row, SUPPLIER, f"={sheet.at(terms_row, SUPPLIER)}", seller.name, _small(sheet))
    there = 10 ** currency_decimals(terms.currency)
    flat, per_kg, free = (sheet.at(terms_row, col) for col in (_FLAT, _PER_KG, _FREE))
    sent = terms.shipping(seller.goods, seller.mass_g)
    started = started_kg(seller.mass_g)
    factors = _factors(terms)
    whole, rest = _split(factors, (seller.goods, sent))
    on_goods, on_shipping = _factor_formulas(places, number, terms, plan)
    formulas: tuple[tuple[int, str, float], ...] = (
        (
            _GOODS_UNITS,
            f"ROUND({_of(goods.suppliers, key, goods.bought, goods.unit_prices)}*{there},0)",
            seller.goods,
        ),
        (
            _STARTED,
            f"-INT(-ROUND({_of(goods.suppliers, key, goods.bought, goods.unit_masses)},3))",
            started,
        ),
        (
            _SHIPPING_UNITS,
            f'IF(OR({cell[_GOODS_UNITS]}<=0,AND({free}<>"",{cell[_GOODS_UNITS]}>='
            f"ROUND({free}*{there},0))),0,ROUND({flat}*{there},0)+ROUND({per_kg}*{there},0)"
            f"*{cell[_STARTED]})",
            sent,
        ),
        (_ON_GOODS, on_goods, factors[0]),
        (_ON_SHIPPING, on_shipping, factors[1]),
        (_WHOLE, _whole_formula(cell), whole),
        (_REST, _rest_formula(cell), float(rest)),
        (_UNITS, f"{cell[_WHOLE]}-INT(-ROUND({cell[_REST]},10))", seller.total),
    )
    for col, formula, value in formulas:
        shape = "#,##0.0########" if col == _REST else "#,##0"
        sheet.formula(row, col, f"={formula}", value, _small(sheet, shape))
    return cell


def _factors(terms: Terms) -> tuple[int, int]:
    """On goods and on shipping in units of a thousand millionth, rounded up."""
    return math.ceil(terms.on_goods * FINEST), math.ceil(terms.on_shipping * FINEST)


def _split(factors: tuple[int, int], amounts: tuple[int, int]) -> tuple[int, Fraction]:
    """What the columns for whole units and for the rest hold."""
    whole, rest = 0, 0
    for factor, amount in zip(factors, amounts, strict=True):
        units, fine = divmod(factor, FINEST)
        tens, ones = divmod(amount, _PIECE)
        more, left = divmod(fine * tens, FINEST)
        whole += units * amount + more * _PIECE
        rest += left * _PIECE + fine * ones
    return whole, Fraction(rest, FINEST)


def _whole_formula(cell: dict[int, str]) -> str:
    parts = []
    for factor, amount in ((_ON_GOODS, _GOODS_UNITS), (_ON_SHIPPING, _SHIPPING_UNITS)):
        much, of = cell[factor], cell[amount]
        parts.append(f"INT({much}/{FINEST})*{of}")
        parts.append(f"{_PIECE}*INT(MOD({much},{FINEST})*INT({of}/{_PIECE})/{FINEST})")
    return "+".join(parts)


def _rest_formula(cell: dict[int, str]) -> str:
    parts = []
    for factor, amount in ((_ON_GOODS, _GOODS_UNITS), (_ON_SHIPPING, _SHIPPING_UNITS)):
        fine, of = f"MOD({cell[factor]},{FINEST})", cell[amount]
        parts.append(f"MOD({fine}*INT({of}/{_PIECE}),{FINEST})*{_PIECE}")
        parts.append(f"{fine}*MOD({of},{_PIECE})")
    return f"({'+'.join(parts)})/{FINEST}"


def _factor_formulas(places: Invoices, number: int, terms: Terms, plan: Plan) -> tuple[str, str]:
    row, at = places.terms_head + 1 + number, places.sheet.at
    duty, tax, tax_on = at(row, _DUTY), at(row, _TAX), at(row, _TAX_ON)
    rate = f"{at(row, _RATE)}{_scale(terms, plan)}"
    on_duty = f'IF({tax_on}="goods+shipping+duty",{{}},0)'
    on_goods = f"(1+{duty}+{tax}*(1+{on_duty.format(duty)}))"
    sent = f'IF({at(row, _DUTY_ON)}="goods",0,{duty})'
    on_sent = f'(1+{sent}+IF({tax_on}="goods",0,{tax}*(1+{on_duty.format(sent)})))'
    formulas = []
    for formula, factor in ((on_goods, terms.on_goods), (on_sent, terms.on_shipping)):
        # As many decimals as a binary number of this size holds beside its whole part.
        size = math.floor(math.log10(max(1.0, float(factor * FINEST))))
        digits = max(0, min(3, 14 - size))
        formulas.append(f"-INT(-ROUND({rate}*{formula}*{FINEST},{digits}))")
    return formulas[0], formulas[1]


def _scale(terms: Terms, plan: Plan) -> str:
    """From the supplier's smallest units to the plan's, beside the rate."""
    more = currency_decimals(plan.currency) - currency_decimals(terms.currency)
    if more == 0:
        return ""
    return f"*{10**more}" if more > 0 else f"/{10**-more}"


def _reading(seller: Seller) -> str:
    terms = seller.terms
    if seller.goods <= 0:
        return "nothing ordered"
    if terms is None:
        return "as planned"
    if seller.goods < terms.minimum_order:
        return BELOW
    free = terms.free_above
    return "sent free" if free is not None and seller.goods >= free else ""


def _write_reading(places: Invoices, number: int, seller: Seller, work: dict[int, str]) -> None:
    sheet = places.sheet
    assert seller.terms is not None
    there = 10 ** currency_decimals(seller.terms.currency)
    row = places.terms_head + 1 + number
    free, least = sheet.at(row, _FREE), sheet.at(row, _LEAST)
    goods = work[_GOODS_UNITS]
    formula = (
        f'=IF({goods}<=0,"nothing ordered",IF({goods}<ROUND({least}*{there},0),"{BELOW}",'
        f'IF(AND({free}<>"",{goods}>=ROUND({free}*{there},0)),"sent free","")))'
    )
    style = sheet.styles.get(indent=1)
    sheet.formula(places.first_order + number, READING, formula, _reading(seller), style)


def _write_rest(places: Invoices, plan: Plan, goods: Goods, charged: Charged) -> None:
    """What belongs to no order, and everything together: the bill."""
    sheet, styles = places.sheet, places.sheet.styles
    row, first = places.rest_row, places.first_order
    ordered = sum(seller.total for seller in places.sellers)
    bill = sum(line.price for line in plan.lines)
    bought = [one for one in plan.lines if one.bought and one.family not in CHARGES]
    lines = sum(seller.lines for seller in places.sellers)
    sheet.text(row, SUPPLIER, "No order named")
    counted = f"SUMPRODUCT(--({goods.bought}>0))"
    totals = ((LINES, counted, len(bought) - lines, len(bought), "0"),
              (TOTAL, charged.total, bill - ordered, bill, styles.money))  # fmt: skip
    for col in range(READING + 1):
        sheet.page.write_blank(row + 1, col, None, styles.group())
    sheet.text(row + 1, SUPPLIER, "All, as on Bill", styles.group())
    for col, whole, rest, value, shape in totals:
        span = f"{sheet.at(first, col)}:{sheet.at(row - 1, col)}"
        digits = currency_decimals(plan.currency) if col == TOTAL else 0
        taken = f"-SUM({span})" if places.sellers else ""
        told = money_value(rest, plan.currency) if col == TOTAL else rest
        style = styles.number(shape, bold=col == TOTAL)
        sheet.formula(row, col, f"=ROUND({whole}{taken},{digits})", told, style)
        told = money_value(value, plan.currency) if col == TOTAL else value
        sheet.formula(row + 1, col, f"={whole}", told, styles.group(shape))
    sheet.text(row, READING, "list prices, own lines", styles.get(indent=1))


def _write_terms(places: Invoices, plan: Plan) -> None:
    if not places.sellers:
        return
    sheet, styles = places.sheet, places.sheet.styles
    _heading(sheet, places.terms_head - 1, "What each supplier asks (edit, and the orders follow)")
    heads = (
        "Supplier",
        "Money",
        f"{plan.currency} for one",
        "Flat to send",
        "Per started kg",
        "Sent free from",
        "Least order",
        "Duty",
        "Duty on",
        "Tax",
        "Tax on",
        "Lead days",
    )
    for col, name in enumerate(heads):
        right = col not in (SUPPLIER, _MONEY, _DUTY_ON, _TAX_ON)
        sheet.text(places.terms_head, col, name, styles.header(right=right))
    sheet.page.set_row(places.terms_head, 32)
    sheet.helps(places.terms_head, _TERMS_HELP)
    days = lead_days(plan)
    for number, seller in enumerate(places.sellers):
        row = places.terms_head + 1 + number
        order = sheet.at(places.first_order + number, SUPPLIER)
        sheet.formula(row, SUPPLIER, f"={order}", seller.name, styles.text())
        sheet.text(row, _MONEY, seller.currency)
        if seller.terms is None:
            sheet.number(row, _RATE, 1, styles.number("0.######"))
            sheet.text(row, _FLAT, "not carried by the plan: charges as planned",
                       styles.text(wrap=False))  # fmt: skip
        else:
            _write_asked(sheet, row, seller.terms, plan)
        if days.get(seller.name):
            sheet.number(row, _LEAD, days[seller.name], styles.number("0", edit=True))
        else:
            sheet.page.write_blank(row, _LEAD, None, styles.number("0", edit=True))
    first, last = places.terms_head + 1, places.terms_head + len(places.sellers)
    for col, bases in ((_DUTY_ON, _DUTY_BASES), (_TAX_ON, _TAX_BASES)):
        sheet.page.data_validation(
            first, col, last, col, {"validate": "list", "source": list(bases)}
        )
    if any(seller.terms for seller in places.sellers):
        _heading(sheet, places.working_head - 1, "How each invoice is rounded up, in whole numbers")
        columns = ("Supplier", "Goods, smallest coins", "Started kg", "Freight, smallest coins",
                 "Landed, of a coin of goods ×10⁹", "Landed, of a coin of freight ×10⁹",
                 "Whole coins", "and a rest", f"Invoice, {plan.currency} coins")  # fmt: skip
        for col, name in enumerate(columns):
            sheet.text(places.working_head, col, name, styles.header(right=col > 0))
        sheet.page.set_row(places.working_head, 45)


def _write_asked(sheet: Sheet, row: int, terms: Terms, plan: Plan) -> None:
    styles = sheet.styles
    rate = terms.rate / _units(terms, plan)
    fixed = terms.currency == plan.currency
    sheet.number(row, _RATE, float(rate), styles.number("0.0#####", edit=not fixed))
    money = f"#,##0{_decimals(terms.currency)}"
    amounts = (
        (_FLAT, terms.flat),
        (_PER_KG, terms.per_kg),
        (_FREE, terms.free_above),
        (_LEAST, terms.minimum_order),
    )
    for col, amount in amounts:
        style = styles.number(money, edit=True)
        if amount is None:
            sheet.page.write_blank(row, col, None, style)
        else:
            sheet.number(row, col, money_value(amount, terms.currency), style)
    for col, share in ((_DUTY, terms.duty), (_TAX, terms.tax)):
        sheet.number(row, col, float(share), styles.number("0.0## %", edit=True))
    sheet.text(row, _DUTY_ON, terms.duty_on, styles.input())
    sheet.text(row, _TAX_ON, terms.tax_on, styles.input(wrap=True))
    sheet.fit(row, ((SUPPLIER, terms.supplier), (_TAX_ON, terms.tax_on)))


def _units(terms: Terms, plan: Plan) -> Fraction:
    """Smallest units of the plan in a whole unit, over those of the supplier's money."""
    return Fraction(10 ** currency_decimals(plan.currency), 10 ** currency_decimals(terms.currency))


def _decimals(currency: str) -> str:
    count = currency_decimals(currency)
    return "." + "0" * count if count else ""


def _money(sheet: Sheet, row: int, col: int, formula: str, amount: int, plan: Plan) -> None:
    value = money_value(amount, plan.currency)
    sheet.formula(row, col, f"={formula}", value, sheet.styles.number(sheet.styles.money))


def _small(sheet: Sheet, shape: str = "General") -> object:
    align = "left" if shape == "General" else "right"
    return sheet.styles.get(font_size=8, font_color="#5A6670", num_format=shape, align=align)


def _heading(sheet: Sheet, row: int, words: str) -> None:
    for col in range(READING + 1):
        sheet.page.write_blank(row, col, None, sheet.styles.heading())
    sheet.text(row, SUPPLIER, words, sheet.styles.heading())


def lead_days(plan: Plan) -> dict[str, int]:
    """Days from order to delivery by supplier, where the catalogue tells (0: it does not)."""
    return {
        str(row["id"]): int(row.get("lead_days", 0)) for row in plan.parts_used.get("suppliers", ())
    }
