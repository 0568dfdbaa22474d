"""The buying list: what each supplier gets, and what to order there."""

from __future__ import annotations

from typing import Final

from bomplan.catalog.records import Offer
from bomplan.design.planfile import catalog_of
from bomplan.design.records import Line, Plan
from bomplan.errors import InputError
from bomplan.report.reading import CHARGE_FAMILIES, money_value
from bomplan.report.text import clean
from bomplan.report.workbook import bill as columns
from bomplan.report.workbook.bill import NO_SUPPLIER, BillCells
from bomplan.report.workbook.invoices import Invoices
from bomplan.report.workbook.sellers import Seller, asked
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Buying"
_HEAD: Final = 2
_HELP: Final = {
    0: "As on Bill, where it may be edited. What its order comes to stands on Invoices.",
    3: "Packs and price steps may leave spares.",
    5: "In the supplier's own money.",
    7: "The day on which this price was seen.",
    8: "typical: usual in the trade. data sheet: of the part. estimate: nobody has looked yet.",
}


def write_buying(sheet: Sheet, plan: Plan, bill: BillCells, invoices: Invoices) -> None:
    """Every line that is bought, supplier by supplier as planned; its order is on Invoices."""
    styles = sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "What to order where", styles.title())
    heads = (
        ("Supplier", 22, False),
        ("Part", 24, False),
        ("Description", 44, False),
        ("To buy", 9, True),
        ("Unit", 10, False),
        ("Unit price", 13, True),
        (f"Price {plan.currency}", 13, True),
        ("Price from", 11, False),
        ("Figures from", 13, False),
    )
    sheet.headers(_HEAD, heads)
    sheet.helps(_HEAD, _HELP)
    row = _HEAD
    bought: dict[str, list[tuple[int, Line]]] = {}
    for index, line in enumerate(plan.lines):
        if line.bought or line.price:
            bought.setdefault(line.supplier or NO_SUPPLIER, []).append((index, line))
    known = part_sources(plan)
    for supplier in sorted(bought):
        for index, line in bought[supplier]:
            row += 1
            seller = invoices.seller(line.supplier)
            _write_line(sheet, row, supplier, index, line, plan, bill, known, seller)
    if row > _HEAD:
        sheet.page.autofilter(_HEAD, 0, row, len(heads) - 1)
    sheet.page.freeze_panes(_HEAD + 1, 1)
    _write_offers(sheet, row + 2, plan, invoices)
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
    seller: Seller | None,
) -> None:
    styles = sheet.styles
    sheet.formula(row, 0, f"={bill.words(index, columns.SUPPLIER)}", supplier, styles.text())
    sheet.text(row, 1, line.part)
    sheet.text(row, 2, line.description)
    sheet.formula(
        row, 3, f"={bill.line(index, columns.BUY)}", line.bought, styles.number("0", bold=True)
    )
    sheet.text(row, 4, line.unit)
    charge = line.family in CHARGE_FAMILIES
    there = plan.currency if seller is None or charge else seller.currency
    amount = line.unit_price if charge else asked(line, seller)
    for col, source, value, money in (
        (5, columns.UNIT_PRICE, money_value(amount, there), there),
        (6, columns.PRICE, money_value(line.price, plan.currency), plan.currency),
    ):
        style = styles.number(columns.money_in(money, plan.currency))
        sheet.formula(row, col, f"={bill.line(index, source)}", value, style)
    date, origin = known.get(line.part, ("", ""))
    sheet.text(row, 7, date)
    sheet.text(row, 8, origin)
    sheet.fit(row, ((0, supplier), (1, line.part), (2, line.description), (4, line.unit)))


def _write_offers(sheet: Sheet, row: int, plan: Plan, invoices: Invoices) -> None:
    """Everyone who sells a part of this plan, at which step, for whoever moves a line on Bill."""
    sold = {one.name: one.currency for one in invoices.sellers if one.terms is not None}
    offers = [one for one in _offers(plan) if one.supplier in sold]
    if not offers:
        return
    styles = sheet.styles
    for col in range(9):
        sheet.page.write_blank(row, col, None, styles.heading())
    sheet.text(row, 0, "Everyone who sells these parts", styles.heading())
    row += 1
    heads = ("Supplier", "Part", "Packs and stock", "From", "", "Unit price", "", "Until", "")
    for col, name in enumerate(heads):
        sheet.text(row, col, name, styles.header(right=col in (3, 5), apart=col == 7))
    for offer in offers:
        row += 1
        sheet.text(row, 0, offer.supplier)
        sheet.text(row, 1, offer.part)
        told = [f"packs of {offer.pack_size}"] if offer.pack_size > 1 else []
        told += [] if offer.stock is None else [f"{offer.stock} in stock"]
        sheet.text(row, 2, ", ".join(told))
        sheet.number(row, 3, offer.quantity_from, styles.number("0"))
        money = sold[offer.supplier]
        style = styles.number(columns.money_in(money, plan.currency))
        sheet.number(row, 5, money_value(offer.unit_price, money), style)
        sheet.text(row, 7, clean(offer.valid_until, 20))


def _offers(plan: Plan) -> tuple[Offer, ...]:
    """The offers that the plan embeds, by part; none where they are not whole."""
    try:
        offers = catalog_of(plan).offers
    except InputError:
        return ()
    if not any(line.purchases for line in plan.lines):
        # Older plans brought each price into their money; its sellers ask in another.
        return ()
    parts = {line.part for line in plan.lines}
    known = (one for one in offers if one.part in parts)
    return tuple(sorted(known, key=lambda o: (o.part, o.supplier, o.quantity_from)))


def part_sources(plan: Plan) -> dict[str, tuple[str, str]]:
    """(price date, where the figures come from) of every part that the plan embeds."""
    return {
        str(row["id"]): (clean(str(row["price_date"]), 20), clean(str(row["source"]), 60))
        for row in plan.parts_used.get("parts", ())
    }
