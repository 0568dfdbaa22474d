"""Lower bounds on the price and the mass of a core's whole bill.

For each subset of suppliers that may be used: the cheapest way to buy each family's least
quantity from that subset, plus the shipping that no order value can avoid. The least over
the subsets bounds every bill: a real bill uses exactly one of the subsets, pays each line
at least its cheapest source in it, and pays unavoidable shipping for every supplier used.
"""

from __future__ import annotations

from itertools import chain, combinations

from bomplan.design.bill import RULES, Rule
from bomplan.design.context import Context
from bomplan.planner.options import Options, Row
from bomplan.planner.screen import admitted, least_part_price

CORE = ("motor", "controller", "module")


def least_price(context: Context, options: Options) -> int | None:
    """A lower bound on the bill; None if no subset of suppliers can deliver every family."""
    shipping = context.prices.shipping
    names = sorted(shipping)
    best: dict[str, dict[str, int]] = {
        family: _least_by_supplier(rows) for family, rows in options.rows.items()
    }
    bound: int | None = None
    for subset in chain.from_iterable(combinations(names, size) for size in range(len(names) + 1)):
        allowed = {"", *subset}
        total = sum(shipping[name].flat for name in subset if shipping[name].free_above is None)
        for by_supplier in best.values():
            prices = [price for name, price in by_supplier.items() if name in allowed]
            if not prices:
                break
            total += min(prices)
        else:
            bound = total if bound is None else min(bound, total)
    return bound


def least_rest(context: Context) -> int:
    """What every conversion pays for the families that read the design currents.

    Those that every core needs, at the fewest pieces that any core needs and the cheapest row
    of the catalogue; shipping left out.
    """
    total = 0
    for rule in RULES:
        always = type(rule).needed is Rule.needed
        if not always or rule.side != "currents" or rule.family in CORE:
            continue
        locked = context.project.choices.parts.get(rule.family)
        prices = [
            least_part_price(context, part, rule.least_ever)
            for part in admitted(context, rule.family, locked)
        ]
        total += min((price for price in prices if price is not None), default=0)
    return total


def least_of(rows: dict[str, tuple[Row, ...]]) -> int:
    """The least price of these families, each from its cheapest source; shipping left out."""
    return sum(
        min(row.price(source, row.least) for row in family for source in row.sources)
        for family in rows.values()
    )


def least_mass_g(options: Options) -> int:
    """No bill of this core adds less than this."""
    return sum(min(row.least * row.part.mass_g for row in rows) for rows in options.rows.values())


def least_external_uohm(options: Options, joints_uohm: int) -> int:
    """No bill of this core puts less resistance into the traction circuit."""
    return joints_uohm + sum(
        min(row.least * row.external_uohm for row in rows) for rows in options.rows.values()
    )


def least_12v_w(options: Options, donor_w: int) -> int:
    """No bill of this core has a smaller mean 12 V load."""
    return donor_w + sum(
        min(row.least * row.load_12v_w for row in rows) for rows in options.rows.values()
    )


def _least_by_supplier(rows: tuple[Row, ...]) -> dict[str, int]:
    least: dict[str, int] = {}
    for row in rows:
        for source in row.sources:
            price = row.price(source, row.least)
            if source.supplier not in least or price < least[source.supplier]:
                least[source.supplier] = price
    return least
