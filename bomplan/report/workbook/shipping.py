"""Shipping by formula: what each supplier's order costs to send follows from its goods.

The rule is the planner's own (:class:`bomplan.buying.prices.Shipping`): one flat sum an order,
nothing from a certain value of goods on, nothing for nothing.
"""

from __future__ import annotations

from fractions import Fraction

from bomplan.buying.prices import PriceBook, Shipping
from bomplan.design.planfile import catalog_of
from bomplan.design.records import Plan
from bomplan.errors import InputError
from bomplan.money import format_amount
from bomplan.report.reading import CHARGE_FAMILIES


def shipping_terms(plan: Plan) -> dict[str, Shipping]:
    """Each supplier's terms in the plan's currency; none where the plan does not carry them."""
    rates = {str(k): float(Fraction(str(v))) for k, v in plan.project_used.get("rates", {}).items()}
    try:
        return PriceBook(catalog_of(plan), plan.currency, rates).shipping
    except (InputError, KeyError):
        return {}


def ordered_from(plan: Plan) -> tuple[str, ...]:
    """The suppliers of whom something is bought, in order of name."""
    return tuple(
        sorted(
            {
                one.supplier
                for one in plan.lines
                if one.supplier and one.family not in CHARGE_FAMILIES
            }
        )
    )


def goods_of(plan: Plan, supplier: str) -> int:
    """What the goods ordered there cost, in smallest units."""
    return sum(
        one.price
        for one in plan.lines
        if one.supplier == supplier and one.family not in CHARGE_FAMILIES
    )


def shipping_formula(terms: Shipping, goods: str, currency: str) -> str:
    """The shipping of an order whose goods come to the formula ``goods``."""
    flat = format_amount(terms.flat, currency)
    if terms.free_above is None:
        return f"=IF({goods}>0,{flat},0)"
    free = format_amount(terms.free_above, currency)
    return f"=IF(AND({goods}>0,{goods}<{free}),{flat},0)"


def words_of(terms: Shipping, currency: str) -> str:
    """The terms in words."""
    flat = f"{format_amount(terms.flat, currency)} {currency} an order"
    if terms.free_above is None:
        return flat
    return f"{flat}, free from {format_amount(terms.free_above, currency)} {currency} of goods on"
