"""Sums of money that the solver's integers hold, and what is said of those that they do not."""

from __future__ import annotations

from typing import Final

from bomplan.errors import Fault, InputError
from bomplan.project.records import Project

# Price times this plus grams is one integer of 64 bits (planner/model.py): one gram is worth this
# share of one smallest unit of money, for no plan weighs 100 t.
MASS_WEIGHT: Final = 10**8
MOST_PRICE: Final = ((1 << 63) - 1) // MASS_WEIGHT
MOST_BESIDE_MASS: Final = 1 << 47  # where mass and price are settled one after the other


def beyond(currency: str) -> Fault:
    """The only way in which a valid model is called invalid: sums that pass 64 bits."""
    return Fault(
        "money.too-large",
        f"prices in {currency} come to sums that the solver cannot count",
        where="currency",
        value=currency,
        hint="look at [rates], or count in a currency with a larger unit",
    )


def must_be_countable(price: int, project: Project) -> None:
    """InputError if what every bill pays at least is more than any model can count.

    Said before any bound is found: bounds take such prices for parts that nobody delivers.
    """
    if price > (MOST_BESIDE_MASS if project.goal.aim == "least-mass" else MOST_PRICE):
        raise InputError([beyond(project.currency)])


__all__ = ["MASS_WEIGHT", "MOST_PRICE", "beyond", "must_be_countable"]
