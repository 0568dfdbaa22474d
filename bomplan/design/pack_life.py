"""From a project and the rows of a catalogue to the plain numbers of cost over the years."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from bomplan.buying.lifetime import Driven, Wear
from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.money import currency_decimals
from bomplan.project.records import Project, RangeTarget

# Years until cells of a kind are worn out by time alone, where their row does not say; common
# practice, kept at moderate temperature, and never more than a guess for one maker's goods.
CALENDAR_YEARS: Final[dict[str, int]] = {
    "flooded": 6,
    "agm": 6,
    "gel": 8,
    "lfp": 15,
    "nmc": 12,
    "lto": 20,
    "sodium": 15,
}
# A kilowatt-hour at a household's socket, round figures from memory; no other currency is
# guessed.
HOUSEHOLD_PRICES: Final[dict[str, str]] = {
    "EUR": "0.30",
    "GBP": "0.27",
    "CHF": "0.27",
    "USD": "0.17",
}


def wear_of(module: Part) -> Wear:
    """What wears packs of this module."""
    years = CALENDAR_YEARS.get(module.text("chemistry"), 10)
    return Wear(
        cycles=int(module.number("cycles")),
        cycles_depth=_exact(module.number("cycles_depth")),
        calendar_years=_exact(module.number_or("calendar_years", years)),
    )


def window_of(module: Part) -> Fraction:
    """The share of the state of charge that is used from full to empty."""
    return _exact(module.number("soc_max")) - _exact(module.number("soc_min"))


def usual_target(project: Project) -> RangeTarget:
    """The range target that stands for everyday driving."""
    name = project.use.target
    targets = project.targets.range
    return targets[0] if name is None else next(one for one in targets if one.name == name)


def driven(project: Project) -> Driven:
    """How far the car goes in a year, for how many years, and from one charge to the next."""
    use = project.use
    between = use.between_charges_m
    return Driven(
        distance_a_year_m=use.distance_a_year_m,
        years=_exact(use.years),
        between_charges_m=usual_target(project).distance_m if between is None else between,
    )


def energy_price(project: Project) -> Fraction | None:
    """Smallest units of money for a kilowatt-hour; None where nobody knows it."""
    price = project.use.electricity_price
    text = HOUSEHOLD_PRICES.get(project.currency) if price is None else str(price)
    return None if text is None else Fraction(text) * 10 ** currency_decimals(project.currency)


def pack_price(context: Context, module: Part, modules: int) -> int | None:
    """The least price of so many new modules, shipping aside; None if nobody sells them.

    What is at hand does not count: a pack that is worn out is replaced by bought ones. Where all
    are at hand and nobody may sell more of them now, at the price of the module's own row.
    """
    sources = context.prices.sources(module)
    prices = [source.buy(modules)[2] for source in sources if source.steps]
    if sources and not prices:
        return context.prices.own_price(module) * modules
    return min(prices, default=None)


def _exact(figure: float) -> Fraction:
    """The decimal figure that was written."""
    return Fraction(str(figure))
