"""Every way to buy one line, and what an order comes to: plain loops, nothing of the program's.

A way is a number of pieces from each of some suppliers. A supplier's pieces are whole packs at
one of its price steps; every pack is needed or holds its step, and no supplier could be left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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
            # What they reach and that asks less, or as much from more pieces on, takes its place.
            if any(
                pieces >= other.quantity_from
                and pieces % other.pack_size == 0
                and (
                    other.unit_price < offer.unit_price
                    or (
                        other.unit_price == offer.unit_price
                        and other.quantity_from > offer.quantity_from
                    )
                )
                for other in offers
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


class Invoices:
    """What all suppliers ask for an order, in one currency; each single invoice is made once."""

    def __init__(self, suppliers: Mapping[str, Supplier], most: int | None) -> None:
        self.sellers = sorted(suppliers)
        self._rows = [Seller(suppliers[name]) for name in self.sellers]
        self._most = most
        self._known: dict[tuple[int, int, int], int | None] = {}

    def of(self, orders: Sequence[tuple[int, int, int]]) -> int | None:
        """Lines, goods and grams of each supplier in order of their names.

        None where an order is too small, or there is one too many.
        """
        # What costs nothing is no order.
        if self._most is not None and sum(1 for _, goods, _ in orders if goods) > self._most:
            return None
        total = 0
        for number, (lines, goods, grams) in enumerate(orders):
            if not lines:
                continue
            key = (number, goods, grams)
            if key not in self._known:
                self._known[key] = self._rows[number].invoice(goods, grams)
            asked = self._known[key]
            if asked is None:
                return None
            total += asked
        return total


def ways_of(
    project: Project, catalog: Catalog, part: Part, needed: int
) -> tuple[list[str], list[tuple[int, Way]]]:
    """Who may sell a part, and every way to buy so many with the price of the goods."""
    buying, today = project.buying, project.as_of.isoformat()
    offers = [
        offer
        for offer in catalog.offers
        if offer.part == part.id and (not offer.valid_until or offer.valid_until >= today)
    ]
    only = buying.supplier_of.get(part.id)
    late = buying.deadline_days
    in_time = [
        offer
        for offer in offers
        if (late is None or catalog.suppliers[offer.supplier].lead_days <= late)
        and offer.supplier in (project.choices.suppliers or catalog.suppliers)
        and offer.supplier not in buying.excluded
        and (not only or offer.supplier == only)
    ]
    # What nobody may sell can be had as far as it is at hand: then nothing is needed.
    there: Iterator[Way]
    if offers or only:
        nobody_needed = needed <= 0 and part.id in project.choices.owned
        there = ways(in_time, needed, buying.split) if in_time or nobody_needed else iter(())
    else:
        there = iter(({"": (needed, part.price)} if needed else {},))
    return (
        sorted({offer.supplier for offer in in_time}) or [""],
        [(sum(pieces * each for pieces, each in way.values()), way) for way in there],
    )
