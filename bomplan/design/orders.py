"""Purchases gathered into one order for each supplier, its invoice, and its lines in the bill."""

from __future__ import annotations

from typing import Final

from bomplan.buying.prices import Lot, Source
from bomplan.buying.terms import CHARGES
from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.design.purchase_records import Invoice, Purchase, Spare
from bomplan.design.records import Line

_WORDS: Final = {
    "shipping": ("shipping of the order at {}", "one order at this supplier"),
    "duty": ("customs duty on the order at {}", "goods that come from there; local rules decide"),
    "tax": ("tax on the order at {}", "its prices are without it; local rules decide"),
    "rounding": (
        "rounding of the order at {}",
        "prices above are rounded down, the order as a whole is rounded up once",
    ),
}


class Orders:
    """What is bought of whom, counted as it comes in."""

    def __init__(self, context: Context) -> None:
        self._prices = context.prices
        self._goods: dict[str, int] = {}
        self._mass_g: dict[str, int] = {}
        self._shown: dict[str, int] = {}

    def purchase(self, part: Part, lot: Lot) -> Purchase:
        """The record of a lot; its goods and mass are put on the supplier's order."""
        supplier = lot.source.supplier
        terms = self._prices.terms_of(lot.source)
        unit_price = terms.unit_price(lot.unit_price)
        if supplier:
            self._goods[supplier] = self._goods.get(supplier, 0) + lot.price
            self._mass_g[supplier] = self._mass_g.get(supplier, 0) + lot.bought * part.mass_g
            self._shown[supplier] = self._shown.get(supplier, 0) + lot.bought * unit_price
        return Purchase(
            supplier=supplier,
            bought=lot.bought,
            pack_size=lot.pack_size,
            unit_price=unit_price,
            price=lot.bought * unit_price,
            currency=terms.currency,
            asked=lot.unit_price,
        )

    def least_unit_price(self, source: Source) -> int:
        """What a piece costs there where none is bought."""
        return self._prices.terms_of(source).unit_price(source.buy(0)[1])

    def invoices(self) -> tuple[Invoice, ...]:
        """One for every supplier of whom something is bought, by name."""
        found = []
        for supplier in sorted(self._goods):
            terms, mass_g = self._prices.terms[supplier], self._mass_g[supplier]
            sums = terms.invoice(self._goods[supplier], mass_g, self._shown[supplier])
            found.append(
                Invoice(
                    supplier=supplier,
                    currency=terms.currency,
                    goods=sums.goods,
                    shipping=sums.shipping,
                    duty=sums.duty,
                    tax=sums.tax,
                    rounding=sums.rounding,
                    total=sums.total,
                    mass_kg=mass_g / 1000,
                    lead_days=terms.lead_days,
                )
            )
        return tuple(found)


def charge_lines(invoice: Invoice) -> list[Line]:
    """Lines of the bill for what an order costs beside its goods; none for nothing."""
    lines = []
    for family in CHARGES:
        cost = getattr(invoice, family)
        if cost:
            words, why = _WORDS[family]
            lines.append(
                Line(
                    family=family,
                    part=invoice.supplier,
                    description=words.format(invoice.supplier),
                    quantity=1,
                    unit="order",
                    bought=1,
                    supplier=invoice.supplier,
                    unit_price=cost,
                    price=cost,
                    unit_mass_kg=0.0,
                    mass_kg=0.0,
                    system="shipping",
                    why=why,
                )
            )
    return lines


def apart(
    purchases: tuple[Purchase, ...], pieces: int
) -> tuple[tuple[Purchase, ...], tuple[Purchase, ...]]:
    """Purchases without their last ``pieces``, and these, each at the price of its purchase."""
    kept = list(purchases)
    last: list[Purchase] = []
    while pieces and kept:
        one = kept.pop()
        taken = min(pieces, one.bought)
        last.insert(0, _so_many(one, taken))
        if taken < one.bought:
            kept.append(_so_many(one, one.bought - taken))
        pieces -= taken
    return tuple(kept), tuple(last)


def _so_many(one: Purchase, pieces: int) -> Purchase:
    return one.model_copy(update={"bought": pieces, "price": pieces * one.unit_price})


def spares_of(lines: list[Line], asked: dict[str, int]) -> tuple[Spare, ...]:
    """What is bought beyond what is fitted; ``asked`` are the spares wanted, by family."""
    found = []
    for line in lines:
        pieces = line.bought - (line.quantity - line.owned)
        if line.family in CHARGES or pieces <= 0:
            continue
        wanted = min(asked.get(line.family, 0), pieces)
        reasons = ["asked for"] if wanted else []
        if pieces > wanted:
            reasons.append("packs or a price step leave them")
        found.append(
            Spare(
                family=line.family,
                part=line.part,
                pieces=pieces,
                asked=wanted,
                price=sum(one.price for one in apart(line.purchases, pieces)[1]),
                why="; ".join(reasons),
            )
        )
    return tuple(found)
