"""Every way to buy one line, and what an order comes to: plain loops, nothing of the program's.

A way is a number of pieces from each of some suppliers. A supplier's pieces are whole packs at
one of its price steps; every pack is needed or holds its step, and no supplier could be left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product

from bomplan.catalog.records import Catalog, Offer, Part, Supplier
from bomplan.project.records import Project

# Pieces and price of one piece, by supplier.
Way = dict[str, tuple[int, int]]


def ways(
    offers: Sequence[Offer], needed: int, split: bool = True, most_sellers: int = 9
) -> Iterator[Way]:
    """Every way to get at least ``needed`` pieces of one part; of none there is one way."""
    if needed <= 0:
        yield {}
        return
    sellers = sorted({offer.supplier for offer in offers})
    shares = {
        seller: list(_shares([o for o in offers if o.supplier == seller], needed))
        for seller in sellers
    }
    for number in range(1, (min(most_sellers, len(sellers)) if split else 1) + 1):
        for some in combinations(sellers, number):
            for taken in product(*(shares[seller] for seller in some)):
                whole = sum(pieces for pieces, _ in taken)
                if whole < needed:
                    continue
                if any(whole - pieces >= needed for pieces, _ in taken):
                    continue
                if any(
                    whole - offer.pack_size >= needed
                    and pieces - offer.pack_size >= offer.quantity_from
                    for pieces, offer in taken
                ):
                    continue
                yield {
                    seller: (pieces, offer.unit_price)
                    for seller, (pieces, offer) in zip(some, taken, strict=True)
                }


def _shares(offers: list[Offer], needed: int) -> Iterator[tuple[int, Offer]]:
    """Numbers of pieces that one supplier sells, each with the offer that it falls under."""
    stock = [offer.stock for offer in offers if offer.stock is not None]
    for offer in offers:
        for pieces in range(1, max(needed, offer.quantity_from) + offer.pack_size):
            if pieces < offer.quantity_from or pieces % offer.pack_size:
                continue
            if stock and pieces > max(stock):
                continue
            # A later step that asks no more takes an earlier one's place.
            if any(
                later.quantity_from > offer.quantity_from
                and pieces >= later.quantity_from
                and pieces % later.pack_size == 0
                and later.unit_price <= offer.unit_price
                for later in offers
            ):
                continue
            yield pieces, offer


@dataclass(frozen=True)
class Seller:
    """A supplier's row with what one of its smallest units costs in the project's."""

    row: Supplier
    rate: Fraction = Fraction(1)

    def shipping(self, goods: int, grams: int) -> int:
        row = self.row
        if row.free_above is not None and goods >= row.free_above:
            return 0
        kilograms = (grams + 999) // 1000
        return row.shipping_flat + kilograms * row.shipping_per_kg

    def invoice(self, goods: int, grams: int) -> int | None:
        """The whole of an order, rounded up; None where it is too small to be taken."""
        if goods == 0:
            return 0
        row = self.row
        if goods < row.minimum_order:
            return None
        sent = self.shipping(goods, grams)
        duty_on = goods + (sent if row.duty_on == "goods+shipping" else 0)
        duty = Fraction(row.duty_percent) / 100 * duty_on
        tax_on: Fraction = Fraction(goods)
        if row.tax_on != "goods":
            tax_on += sent
        if row.tax_on == "goods+shipping+duty":
            tax_on += duty
        exact = self.rate * (goods + sent + duty + Fraction(row.tax_percent) / 100 * tax_on)
        return int(-(-exact // 1))


def all_invoices(
    suppliers: Mapping[str, Supplier], bought: Iterable[tuple[int, Way]], most: int | None
) -> int | None:
    """What all suppliers ask for lines of so many grams a piece, in one currency.

    None where an order is too small, or there is one too many.
    """
    goods: dict[str, int] = {}
    grams: dict[str, int] = {}
    for mass_g, way in bought:
        for seller, (pieces, each) in way.items():
            if seller:
                goods[seller] = goods.get(seller, 0) + pieces * each
                grams[seller] = grams.get(seller, 0) + pieces * mass_g
    if most is not None and len(goods) > most:
        return None
    total = 0
    for seller, value in goods.items():
        invoice = Seller(suppliers[seller]).invoice(value, grams[seller])
        if invoice is None:
            return None
        total += invoice
    return total


def ways_of(
    project: Project, catalog: Catalog, part: Part, needed: int
) -> tuple[list[str], list[tuple[int, Way]]]:
    """Who may sell a part, and every way to buy so many with the price of the goods."""
    offers = [offer for offer in catalog.offers if offer.part == part.id]
    late = project.buying.deadline_days
    in_time = [
        offer
        for offer in offers
        if (late is None or catalog.suppliers[offer.supplier].lead_days <= late)
        and offer.supplier in (project.choices.suppliers or catalog.suppliers)
    ]
    listed = {"": (needed, part.price)} if needed else {}
    there = ways(in_time, needed, project.buying.split) if offers else iter((listed,))
    return (
        sorted({offer.supplier for offer in in_time}) or [""],
        [(sum(pieces * each for pieces, each in way.values()), way) for way in there],
    )
