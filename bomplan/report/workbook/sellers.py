"""What each supplier asks, as far as the plan carries it, and which orders may be worked out anew.

An order is *live* where the terms and prices that the plan embeds give exactly the charges that
stand in its bill. Any other (a plan without its suppliers, or changed by hand) is shown as it was
planned, its charges as numbers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from bomplan.buying.prices import PriceBook, Wishes
from bomplan.buying.terms import CHARGES, Terms
from bomplan.design.context import price_book
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Line, Plan
from bomplan.errors import InputError
from bomplan.report.reading import grams


@dataclass(frozen=True)
class Seller:
    """One supplier; ``terms`` is None where its charges are shown as they were planned.

    Amounts in smallest units: ``goods`` of the supplier's money, ``shown`` and ``charges`` of
    the plan's. ``mass_g`` is that of everything bought there.
    """

    name: str
    terms: Terms | None
    currency: str
    lines: int
    goods: int
    mass_g: int
    shown: int
    charges: Mapping[str, int]

    @property
    def total(self) -> int:
        return self.shown + sum(self.charges.values())

    def may_charge(self, family: str) -> bool:
        """Whether the bill has a row for this: it costs something there, or may."""
        if self.terms is None or self.charges[family]:
            return bool(self.charges[family])
        asks = {
            "shipping": self.terms.flat > 0 or self.terms.per_kg > 0,
            "duty": self.terms.duty > 0,
            "tax": self.terms.tax > 0,
        }
        return asks.get(family, True)


def sellers_of(plan: Plan) -> tuple[Seller, ...]:
    """Every supplier whom the plan buys from or knows, by name. One row per purchase is expected.

    The plan's lines must have one purchase each (:func:`line_for_each_purchase`).
    """
    known = _terms(plan)
    names = {line.supplier for line in plan.lines if line.supplier} | set(known)
    return tuple(_seller(plan, name, known.get(name)) for name in sorted(names - {""}))


def asked(line: Line, seller: Seller | None) -> int:
    """What the supplier asks for a piece, in its own money; the shown price where none is live."""
    if seller is None or seller.terms is None:
        return line.unit_price
    if line.purchases:
        return line.purchases[0].asked
    # Nothing is bought: the least price that is shown like this.
    return math.ceil(line.unit_price / seller.terms.rate)


def _seller(plan: Plan, name: str, terms: Terms | None) -> Seller:
    lines = [one for one in plan.lines if one.supplier == name and one.family not in CHARGES]
    bought = [one for one in lines if one.bought]
    charges = dict.fromkeys(CHARGES, 0)
    for line in plan.lines:
        if line.supplier == name and line.family in CHARGES:
            charges[line.family] += line.price
    shown = sum(line.price for line in lines)
    mass_g = sum(line.bought * grams(line.unit_mass_kg) for line in lines)
    if terms is not None and _told_in(bought, terms):
        goods = sum(
            one.bought * (one.purchases[0].asked if one.purchases else one.unit_price)
            for one in bought
        )
        sums = terms.invoice(goods, mass_g, shown)
        if charges == {family: getattr(sums, family) for family in CHARGES}:
            return Seller(name, terms, terms.currency, len(bought), goods, mass_g, shown, charges)
    return Seller(name, None, plan.currency, len(bought), shown, mass_g, shown, charges)


def _told_in(lines: list[Line], terms: Terms) -> bool:
    """Whether every price is told in the terms' money, and shown as the terms show it."""
    return all(
        line.purchases[0].currency == terms.currency
        and line.unit_price == terms.unit_price(line.purchases[0].asked)
        if line.purchases
        else line.unit_price == terms.unit_price(line.unit_price)
        for line in lines
    )


def _terms(plan: Plan) -> dict[str, Terms]:
    """The terms that the plan embeds, of suppliers that its project admits."""
    # Plans of older versions list no purchases, and brought each price into their money alone.
    older = not any(line.purchases for line in plan.lines)
    try:
        catalog = catalog_of(plan)
        try:
            book = price_book(project_of(plan), catalog, rounded_each=older)
        except InputError:
            rates = {str(k): float(v) for k, v in plan.project_used.get("rates", {}).items()}
            book = PriceBook(catalog, plan.currency, rates, wishes=Wishes(rounded_each=older))
    except (InputError, KeyError):
        return {}
    return {name: terms for name, terms in book.terms.items() if name}
