"""What a quantity of a part costs, from each supplier, at its best price step.

Buying more than is needed is allowed where it is cheaper or where packs force it, so the
price of *at least* ``needed`` pieces never falls as ``needed`` rises.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bomplan.catalog.records import Catalog, Part
from bomplan.errors import Fault, InputError
from bomplan.money import convert


@dataclass(frozen=True)
class Step:
    """From ``quantity_from`` pieces on, a piece costs ``unit_price``; whole packs only."""

    quantity_from: int
    unit_price: int
    pack_size: int


@dataclass(frozen=True)
class Source:
    """One way to buy one part. ``supplier`` is empty for a part without offers."""

    part: str
    supplier: str
    steps: tuple[Step, ...]

    def buy(self, needed: int) -> tuple[int, int, int]:
        """The cheapest way to get at least ``needed`` pieces: (bought, unit price, price).

        Equal prices are settled by the smaller quantity.
        """
        if needed <= 0:
            return 0, min(step.unit_price for step in self.steps), 0
        options = []
        for step in self.steps:
            least = max(needed, step.quantity_from)
            bought = -(-least // step.pack_size) * step.pack_size
            options.append((bought * step.unit_price, bought, step.unit_price))
        price, bought, unit_price = min(options)
        return bought, unit_price, price


@dataclass(frozen=True)
class Shipping:
    """What one supplier's order costs beside the goods, in the project's currency."""

    supplier: str
    flat: int
    free_above: int | None

    def on(self, goods: int) -> int:
        """Shipping on an order of this value; nothing is shipped for nothing."""
        if goods <= 0 or (self.free_above is not None and goods >= self.free_above):
            return 0
        return self.flat


class PriceBook:
    """Every source of every part in the project's currency, and every supplier's shipping."""

    def __init__(
        self,
        catalog: Catalog,
        currency: str,
        rates: dict[str, float],
        suppliers: tuple[str, ...] = (),
    ) -> None:
        self._catalog = catalog
        self._currency = currency
        self._rates = {name: Fraction(str(rate)) for name, rate in rates.items()}
        self._allowed = suppliers
        self._offers: dict[str, dict[str, list[Step]]] = {}
        for offer in catalog.offers:
            if suppliers and offer.supplier not in suppliers:
                continue
            money = catalog.suppliers[offer.supplier].currency
            step = Step(
                offer.quantity_from, self._in_currency(offer.unit_price, money), offer.pack_size
            )
            self._offers.setdefault(offer.part, {}).setdefault(offer.supplier, []).append(step)
        self._offered = {offer.part for offer in catalog.offers}
        self._sources: dict[str, tuple[Source, ...]] = {}
        self.shipping: dict[str, Shipping] = {}
        for supplier in sorted(catalog.suppliers.values(), key=lambda row: row.id):
            if suppliers and supplier.id not in suppliers:
                continue
            free = supplier.free_above
            self.shipping[supplier.id] = Shipping(
                supplier.id,
                self._in_currency(supplier.shipping_flat, supplier.currency),
                None if free is None else self._in_currency(free, supplier.currency),
            )

    def sources(self, part: Part) -> tuple[Source, ...]:
        """The ways to buy this part, by supplier id; none if no allowed supplier has it."""
        known = self._sources.get(part.id)
        if known is None:
            if part.id in self._offered:
                known = tuple(
                    Source(part.id, supplier, tuple(steps))
                    for supplier, steps in sorted(self._offers.get(part.id, {}).items())
                )
            else:
                price = self._in_currency(part.price, part.currency)
                known = (Source(part.id, "", (Step(1, price, 1),)),)
            self._sources[part.id] = known
        return known

    def _in_currency(self, amount: int, currency: str) -> int:
        if currency == self._currency:
            return amount
        rate = self._rates.get(currency)
        if rate is None:
            raise InputError(
                [
                    Fault(
                        "project.missing-rate",
                        f"the catalogue has prices in {currency}, the project counts in"
                        f" {self._currency}, and no rate is given",
                        where="rates",
                        allowed=f"rates.{currency} = one {currency} in {self._currency}",
                        hint=f'add "{currency} = 0.92" (today\'s rate) under [rates]',
                    )
                ]
            )
        return convert(amount, rate, currency, self._currency)
