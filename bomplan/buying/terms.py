"""What one supplier's invoice comes to: goods, shipping, duty, tax and exchange, exactly.

Everything inside is a fraction of the project's smallest unit of money; an invoice is rounded
once, up to the whole unit, so that a plan never costs more than it says. Duty is taken on the
goods with their shipping and tax on both with the duty, unless the supplier's row says otherwise
(common practice for goods that cross a border; local rules decide).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Final, Literal

DutyBase = Literal["goods", "goods+shipping"]
TaxBase = Literal["goods", "goods+shipping", "goods+shipping+duty"]

# An invoice is counted in units as fine as its factors ask for, but no finer than this share
# of a smallest unit: factors of more than nine decimals are rounded up to the ninth. Keeps every
# sum within 64 bits, and lets a spreadsheet count the same.
FINEST: Final = 10**9
# Every family that stands in the bill for what an order costs beside its goods, in order.
CHARGES: Final = ("shipping", "duty", "tax", "rounding")


@dataclass(frozen=True)
class InvoiceSum:
    """One invoice in the project's smallest units; ``total`` is rounded up once.

    Goods and charges are rounded down, each for itself; ``rounding`` is what is left of the
    total, never negative where ``goods`` is the sum of the lines as shown.
    """

    goods: int
    shipping: int
    duty: int
    tax: int
    total: int

    @property
    def rounding(self) -> int:
        return self.total - self.goods - self.shipping - self.duty - self.tax


@dataclass(frozen=True)
class Terms:
    """What a supplier asks beside the goods. Amounts in the supplier's smallest units.

    ``rate`` is what one of them costs in the project's smallest units. Shipping is ``flat``
    and ``per_kg`` for every started kilogram bought, and nothing from ``free_above`` on.
    """

    supplier: str
    currency: str
    rate: Fraction = Fraction(1)
    flat: int = 0
    per_kg: int = 0
    free_above: int | None = None
    minimum_order: int = 0
    duty: Fraction = Fraction(0)
    duty_on: DutyBase = "goods+shipping"
    tax: Fraction = Fraction(0)
    tax_on: TaxBase = "goods+shipping+duty"
    lead_days: int = 0

    @property
    def has_threshold(self) -> bool:
        """Whether dearer goods may make the whole order cheaper, or possible."""
        free = self.free_above is not None and (self.flat > 0 or self.per_kg > 0)
        return free or self.minimum_order > 0

    @property
    def may_be_free(self) -> bool:
        """Whether an order that is large enough is sent for nothing."""
        return self.free_above is not None

    @cached_property
    def least_shipping(self) -> int:
        """What sending any order costs at least, landed, unless it is free; rounded down."""
        return math.floor(self.on_shipping * self.flat)

    def shipping(self, goods: int, mass_g: int) -> int:
        """Shipping of an order, in the supplier's money; nothing is shipped for nothing."""
        if goods <= 0 or (self.free_above is not None and goods >= self.free_above):
            return 0
        return self.flat + self.per_kg * started_kg(mass_g)

    @cached_property
    def _factors(self) -> tuple[Fraction, Fraction, int]:
        """On goods, on shipping, and the fine units with which both are whole numbers."""
        on_duty = self.duty if self.tax_on == "goods+shipping+duty" else Fraction(0)
        goods = 1 + self.duty + self.tax * (1 + on_duty)
        if self.duty_on == "goods":
            duty, on_duty = Fraction(0), Fraction(0)
        else:
            duty = self.duty
        shipping = 1 + duty + (self.tax * (1 + on_duty) if self.tax_on != "goods" else 0)
        exact = (self.rate * goods, self.rate * shipping)
        fine = math.lcm(exact[0].denominator, exact[1].denominator)
        if FINEST % fine == 0:
            return (*exact, fine)
        up = [Fraction(math.ceil(factor * FINEST), FINEST) for factor in exact]
        return up[0], up[1], FINEST

    @property
    def on_goods(self) -> Fraction:
        """What one smallest unit of goods comes to, landed, in the project's smallest units."""
        return self._factors[0]

    @property
    def on_shipping(self) -> Fraction:
        """The same of one smallest unit of shipping."""
        return self._factors[1]

    @property
    def fine(self) -> int:
        """Fine units in one smallest unit: with these both factors are whole numbers."""
        return self._factors[2]

    def total(self, goods: int, mass_g: int) -> int:
        """The invoice in the project's smallest units, rounded up once."""
        exact = self.on_goods * goods + self.on_shipping * self.shipping(goods, mass_g)
        return math.ceil(exact)

    def least(self, goods: int) -> int:
        """What goods of this value cost at least, landed and without shipping; rounded down."""
        return math.floor(self.on_goods * goods)

    def unit_price(self, price: int) -> int:
        """One piece's price in the project's smallest units as it is shown, rounded down."""
        return math.floor(self.rate * price)

    def invoice(self, goods: int, mass_g: int, shown: int) -> InvoiceSum:
        """The invoice as it is shown; ``shown`` is the sum of its lines' prices."""
        shipping = self.shipping(goods, mass_g)
        dutiable = goods + (shipping if self.duty_on == "goods+shipping" else 0)
        duty = self.duty * dutiable
        taxed = goods + (0 if self.tax_on == "goods" else shipping)
        tax = self.tax * (taxed + (duty if self.tax_on == "goods+shipping+duty" else 0))
        return InvoiceSum(
            goods=shown,
            shipping=math.floor(self.rate * shipping),
            duty=math.floor(self.rate * duty),
            tax=math.floor(self.rate * tax),
            total=self.total(goods, mass_g),
        )


def started_kg(mass_g: int) -> int:
    """Kilograms that a carrier counts: every started one (common practice)."""
    return -(-mass_g // 1000)
