"""Who sells what: every way to buy a part, its price steps and packs, and the seller's terms.

Buying more than is needed is allowed where it is cheaper or where packs force it, so the
price of *at least* ``needed`` pieces never falls as ``needed`` rises.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from bomplan.buying.terms import Terms
from bomplan.catalog.records import Catalog, Offer, Part, Supplier
from bomplan.errors import Fault, InputError
from bomplan.money import convert, currency_decimals


@dataclass(frozen=True)
class Step:
    """From ``quantity_from`` pieces on, a piece costs ``unit_price``; whole packs only."""

    quantity_from: int
    unit_price: int
    pack_size: int

    @property
    def least(self) -> int:
        """The fewest pieces at this step."""
        return _packs(self.quantity_from, self.pack_size)

    def admits(self, bought: int) -> bool:
        """Whether so many pieces are whole packs of this step, and enough of them."""
        return bought >= self.quantity_from and bought % self.pack_size == 0


@dataclass(frozen=True)
class Source:
    """One way to get one part. ``supplier`` is empty for a part without offers.

    Prices are in the smallest units of the money that its seller's terms are in. ``stock``
    is the most that the supplier has; None where nothing is known of it. Without ``steps``
    nothing of it can be bought: there are only the pieces that the builder has.
    """

    part: str
    supplier: str
    steps: tuple[Step, ...]
    stock: int | None = None

    def buy(self, needed: int) -> tuple[int, int, int]:
        """The cheapest way to get at least ``needed`` pieces: (bought, unit price, price).

        Equal prices are settled by the smaller quantity; stock is not looked at. Of what nobody
        sells none is bought.
        """
        if needed <= 0 or not self.steps:
            return 0, min((step.unit_price for step in self.steps), default=0), 0
        options = []
        for step in self.steps:
            bought = _packs(max(needed, step.quantity_from), step.pack_size)
            options.append((bought * step.unit_price, bought, step.unit_price))
        price, bought, unit_price = min(options)
        return bought, unit_price, price

    def sells(self, step: Step, bought: int) -> bool:
        """Whether so many pieces fall under this step, and are in stock.

        Of the steps that they reach the one that asks least takes the place of all others, and of
        two that ask as much the further one.
        """
        if not step.admits(bought) or (self.stock is not None and bought > self.stock):
            return False
        mine = (step.unit_price, -step.quantity_from)
        return not any(
            (other.unit_price, -other.quantity_from) < mine and other.admits(bought)
            for other in self.steps
        )

    def lots(self, needed: int) -> tuple[Lot, ...]:
        """Every step's fewest packs for at least ``needed`` pieces, within stock; cheapest first.

        None at all where stock does not reach; nothing to buy needs no lot and gives none.
        """
        if needed <= 0:
            return ()
        found = []
        for step in self.steps:
            bought = _packs(max(needed, step.quantity_from), step.pack_size)
            if self.sells(step, bought):
                found.append(Lot(self, bought, step.unit_price, step.pack_size))
        return tuple(sorted(found, key=lambda lot: (lot.price, lot.bought)))

    def cheapest(self, needed: int) -> Lot | None:
        """The first of the lots; None if there is none."""
        return next(iter(self.lots(needed)), None)

    def lot(self, bought: int) -> Lot | None:
        """Exactly so many pieces at the step that they fall under; None if they are not sold so."""
        steps = [step for step in self.steps if self.sells(step, bought)]
        if not steps:
            return None
        step = min(steps, key=lambda one: (one.unit_price, one.pack_size))
        return Lot(self, bought, step.unit_price, step.pack_size)


@dataclass(frozen=True)
class Lot:
    """So many pieces of one part from one source, at one price a piece."""

    source: Source
    bought: int
    unit_price: int
    pack_size: int

    @property
    def price(self) -> int:
        return self.bought * self.unit_price


@dataclass(frozen=True)
class Shipping:
    """What one supplier's order costs to send, in the project's currency, as it is shown."""

    supplier: str
    flat: int
    free_above: int | None

    def on(self, goods: int) -> int:
        """Shipping on an order of this value; nothing is shipped for nothing."""
        if goods <= 0 or (self.free_above is not None and goods >= self.free_above):
            return 0
        return self.flat


@dataclass(frozen=True)
class Wishes:
    """What the builder has said of buying; everything left out admits everything.

    ``from_supplier`` maps part ids to the only supplier that may sell the part. Offers that
    ended before ``as_of`` do not count. ``rounded_each``: as older versions counted, every
    price is brought into the project's money and rounded up by itself. Of parts ``at_hand``
    there are pieces already, whether or not anybody sells more.
    """

    excluded: tuple[str, ...] = ()
    deadline_days: int | None = None
    from_supplier: Mapping[str, str] = field(default_factory=dict)
    as_of: dt.date | None = None
    rounded_each: bool = False
    at_hand: frozenset[str] = frozenset()


class PriceBook:
    """Every source of every part, and every supplier's terms."""

    def __init__(
        self,
        catalog: Catalog,
        currency: str,
        rates: Mapping[str, float],
        suppliers: tuple[str, ...] = (),
        wishes: Wishes | None = None,
    ) -> None:
        self._catalog = catalog
        self._currency = currency
        self._rates = {name: Fraction(str(rate)) for name, rate in rates.items()}
        self._wishes = wishes or Wishes()
        self._sources: dict[str, tuple[Source, ...]] = {}
        self._list_prices: dict[str, int | None] = {}
        self.terms: dict[str, Terms] = {"": Terms("", currency)}
        self.shipping: dict[str, Shipping] = {}
        for supplier in sorted(catalog.suppliers.values(), key=lambda row: row.id):
            if not (suppliers and supplier.id not in suppliers) and self._allowed(supplier):
                terms = self._terms_of(supplier)
                self.terms[supplier.id] = terms
                free = terms.free_above
                self.shipping[supplier.id] = Shipping(
                    supplier.id,
                    terms.unit_price(terms.flat),
                    None if free is None else terms.unit_price(free),
                )
        self.lapsed: tuple[Offer, ...] = tuple(
            offer for offer in catalog.offers if not self._holds(offer)
        )
        self._offers: dict[str, dict[str, list[Offer]]] = {}
        # Who gives something for nothing: no order comes of it, and nothing is paid for sending it.
        self.giving: set[str] = set()
        self._offered: set[str] = set()
        for offer in catalog.offers:
            if not self._holds(offer):
                continue
            self._offered.add(offer.part)
            if offer.supplier in self.terms:
                if not offer.unit_price:
                    self.giving.add(offer.supplier)
                self._offers.setdefault(offer.part, {}).setdefault(offer.supplier, []).append(offer)

    def sources(self, part: Part) -> tuple[Source, ...]:
        """The ways to get this part, by supplier id; none if nobody that may sell it has it.

        Of a part at hand that nobody may sell there is one way without a price: as many pieces
        as there are, and no more.
        """
        known = self._sources.get(part.id)
        if known is None:
            known = self._find(part)
            if not known and part.id in self._wishes.at_hand:
                known = (Source(part.id, "", (), 0),)
            self._sources[part.id] = known
        return known

    def list_price(self, part: Part) -> int | None:
        """What each piece costs, however many, where nobody but its own row sells the part."""
        known = self._list_prices.get(part.id, -1)
        if known == -1:
            sources = self.sources(part)
            listed = len(sources) == 1 and not sources[0].supplier and sources[0].steps
            known = sources[0].steps[0].unit_price if listed else None
            self._list_prices[part.id] = known
        return known

    def own_price(self, part: Part) -> int:
        """What the part's own row asks for a piece, whoever sells it."""
        return self._in_currency(part.price, part.currency)

    def terms_of(self, source: Source) -> Terms:
        """The terms at which this source sells."""
        return self.terms[source.supplier]

    def _find(self, part: Part) -> tuple[Source, ...]:
        only = self._wishes.from_supplier.get(part.id)
        if part.id not in self._offered:
            if only:
                return ()
            return (Source(part.id, "", (Step(1, self.own_price(part), 1),)),)
        return tuple(
            Source(part.id, supplier, self._steps(offers), _stock(offers))
            for supplier, offers in sorted(self._offers.get(part.id, {}).items())
            if not only or supplier == only
        )

    def _steps(self, offers: list[Offer]) -> tuple[Step, ...]:
        money = self._catalog.suppliers[offers[0].supplier].currency
        steps = [
            Step(
                offer.quantity_from,
                self._in_currency(offer.unit_price, money)
                if self._wishes.rounded_each
                else offer.unit_price,
                offer.pack_size,
            )
            for offer in sorted(offers, key=lambda one: (one.quantity_from, one.pack_size))
        ]
        return tuple(steps)

    def _allowed(self, supplier: Supplier) -> bool:
        wishes = self._wishes
        if supplier.id in wishes.excluded:
            return False
        return wishes.deadline_days is None or supplier.lead_days <= wishes.deadline_days

    def _holds(self, offer: Offer) -> bool:
        day = self._wishes.as_of
        return day is None or not offer.valid_until or offer.valid_until >= day.isoformat()

    def _terms_of(self, supplier: Supplier) -> Terms:
        money = supplier.currency
        if self._wishes.rounded_each:
            free = supplier.free_above
            return Terms(
                supplier.id,
                self._currency,
                flat=self._in_currency(supplier.shipping_flat, money),
                free_above=None if free is None else self._in_currency(free, money),
            )
        return Terms(
            supplier.id,
            money,
            rate=self._rate(money),
            flat=supplier.shipping_flat,
            per_kg=supplier.shipping_per_kg,
            free_above=supplier.free_above,
            minimum_order=supplier.minimum_order,
            duty=Fraction(supplier.duty_percent) / 100,
            duty_on=supplier.duty_on,
            tax=Fraction(supplier.tax_percent) / 100,
            tax_on=supplier.tax_on,
            lead_days=supplier.lead_days,
        )

    def _rate(self, currency: str) -> Fraction:
        """What one smallest unit of that currency costs in the project's smallest units."""
        if currency == self._currency:
            return Fraction(1)
        scale = Fraction(10 ** currency_decimals(self._currency), 10 ** currency_decimals(currency))
        return self._whole_rate(currency) * scale

    def _in_currency(self, amount: int, currency: str) -> int:
        if currency == self._currency:
            return amount
        return convert(amount, self._whole_rate(currency), currency, self._currency)

    def _whole_rate(self, currency: str) -> Fraction:
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
                        hint=f"add {currency} = it under [rates], and its day as rates_as_of",
                    )
                ]
            )
        return rate


def _stock(offers: list[Offer]) -> int | None:
    """Pieces that the supplier has: the most that any of its steps names."""
    named = [offer.stock for offer in offers if offer.stock is not None]
    return max(named, default=None)


def _packs(pieces: int, pack_size: int) -> int:
    """Pieces in the fewest packs that hold so many."""
    return -(-pieces // pack_size) * pack_size
