"""Simple lower bounds: what every conversion pays and weighs, and the couplers of a core.

Prices are taken for each subset of suppliers that may be used: the cheapest way to buy from it,
plus the shipping that no order value can avoid. The least over the subsets bounds every bill: a
real bill uses exactly one of them, pays each line at least its cheapest source in it, and pays
unavoidable shipping for every supplier used. The whole bill is bounded in
:mod:`bomplan.planner.bill_bound`.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

from bomplan.catalog.records import Part
from bomplan.design.bill import RULES, Rule
from bomplan.design.bill.rule import Side
from bomplan.design.context import Context
from bomplan.planner.options import CORE, Group, Options, Row
from bomplan.planner.screen import admitted, least_part_price

# For every subset of suppliers a least price; None where it cannot deliver.
BySubset = tuple[int | None, ...]
SUBSETS_MOST = 1 << 6


class Subsets:
    """Every subset of the suppliers that may be used, and the shipping it cannot avoid.

    With very many suppliers all of them are one subset and no shipping is counted: a weaker
    bound, and still one.
    """

    def __init__(self, context: Context) -> None:
        self._context = context
        self._known: dict[tuple[str, int], BySubset] = {}
        self._dearest: dict[tuple[str, int], dict[str, int]] = {}
        # By the identity of rows, which are kept here so that no others take it.
        self._family_most: dict[int, tuple[tuple[Row, ...], dict[str, int]]] = {}
        self._sent: dict[tuple[frozenset[str], frozenset[str]], tuple[int | None, ...]] = {}
        terms = context.prices.terms
        # Where anything hangs on how great an order may become, and up to which sum.
        self._matters = {
            name: max(one.free_above or 0, one.minimum_order)
            for name, one in terms.items()
            if one.free_above is not None or one.minimum_order > 0
        }
        names = sorted(name for name in terms if name)
        most = context.project.buying.suppliers_max
        self.allowed: tuple[frozenset[str], ...] = (frozenset({"", *names}),)
        self.shipping: tuple[int, ...] = (0,)
        if 1 << len(names) <= SUBSETS_MOST:
            giving = context.prices.giving  # what costs nothing is no order
            chosen = [
                subset
                for size in range(len(names) + 1)
                for subset in combinations(names, size)
                if most is None or len(set(subset) - giving) <= most
            ]
            self.allowed = tuple(frozenset({"", *subset}) for subset in chosen)
            self.shipping = tuple(
                sum(
                    terms[name].least_shipping
                    for name in subset
                    if not terms[name].may_be_free and name not in context.prices.giving
                )
                for subset in chosen
            )

    def of(self, part: Part, needed: int) -> BySubset:
        """The least price of so many in each subset; what is not needed needs no supplier."""
        known = self._known.get((part.id, needed))
        if known is None:
            known = tuple(
                self._context.envelope.least(part, needed, allowed) for allowed in self.allowed
            )
            self._known[part.id, needed] = known
        return known

    def unavoidable(self, groups: Iterable[Group]) -> tuple[int | None, ...]:
        """The shipping of each subset that not even the dearest of these rows can avoid.

        ``groups`` must hold every family of the bill. None where a supplier of the subset takes
        no order as small as the greatest that these rows come to.
        """
        terms = self._context.prices.terms
        reach: dict[str, int] = {}
        for group in groups if self._matters else ():
            for supplier, value in self._most_of_group(group).items():
                reach[supplier] = reach.get(supplier, 0) + value
            if all(reach.get(name, 0) >= value for name, value in self._matters.items()):
                break
        sent, refused = set(), set()
        for name, one in terms.items():
            if name in self._context.prices.giving:
                continue  # what costs nothing is no order
            if one.free_above is not None and reach.get(name, 0) < one.free_above:
                sent.add(name)
            if reach.get(name, 0) < one.minimum_order:
                refused.add(name)
        key = (frozenset(sent), frozenset(refused))
        if key not in self._sent:
            self._sent[key] = tuple(
                None
                if len(self.allowed) > 1 and refused & allowed
                else shipping + sum(terms[name].least_shipping for name in sent & allowed)
                if len(self.allowed) > 1
                else 0
                for allowed, shipping in zip(self.allowed, self.shipping, strict=True)
            )
        return self._sent[key]

    def _most_of_group(self, group: Group) -> dict[str, int]:
        """What families can come to at most at each supplier, in the supplier's money."""
        if group.most is None:
            most: dict[str, int] = {}
            for rows in group.rows.values():
                for supplier, value in self._most_of_family(rows).items():
                    most[supplier] = most.get(supplier, 0) + value
            group.most = most
        return group.most

    def _most_of_family(self, rows: tuple[Row, ...]) -> dict[str, int]:
        """The same for a family: at each supplier its dearest row."""
        known = self._family_most.get(id(rows))
        if known is None:
            most: dict[str, int] = {}
            for row in rows:
                for supplier, value in self._most(row).items():
                    most[supplier] = max(most.get(supplier, 0), value)
            known = rows, most
            self._family_most[id(rows)] = known
        return known[1]

    def _most(self, row: Row) -> dict[str, int]:
        """The dearest purchase of this row at each supplier, in the supplier's money."""
        needed = row.needed(row.most)  # spares grow with what is fitted
        key = (row.part.id, needed)
        if key not in self._dearest:
            self._dearest[key] = {
                source.supplier: max(
                    step.unit_price * (max(needed, step.quantity_from) + step.pack_size - 1)
                    for step in source.steps
                )
                for source in row.sources
                if source.supplier and needed
            }
        return self._dearest[key]

    def part(self, context: Context, part: Part, quantity: int) -> BySubset:
        """The least that so many of one part cost, after those at hand."""
        needed = max(0, quantity - context.project.choices.owned.get(part.id, 0))
        return self.of(part, needed)


def least_rest(context: Context, side: Side, only: frozenset[str] | None = None) -> int:
    """What every conversion pays for the families of one side, the core's own parts aside.

    Those that every core needs (of ``only`` these, if given), at the fewest pieces that any
    core needs and the cheapest row of the catalogue; shipping left out.
    """
    total = 0
    for rule in RULES:
        always = type(rule).needed is Rule.needed
        if not always or rule.side != side or rule.family in CORE:
            continue
        if only is not None and rule.family not in only:
            continue
        total += _least_of_family(context, rule)
    return total


def _least_of_family(context: Context, rule: Rule) -> int:
    """The cheapest row at the fewest pieces that any core needs."""
    key = ("least price", rule.family)
    known = context.remembered.get(key)
    if not isinstance(known, int):
        locked = context.project.choices.parts.get(rule.family)
        prices = [
            least_part_price(context, part, rule.least_ever)
            for part in admitted(context, rule.family, locked)
        ]
        known = min((price for price in prices if price is not None), default=0)
        context.remembered[key] = known
    return known


def least_rest_g(
    context: Context, side: Side | None = None, only: frozenset[str] | None = None
) -> int:
    """Grams that every conversion adds beside motor, controller and modules.

    Those families that every core needs (of one ``side`` and of ``only`` these, if given), at
    the fewest pieces and the lightest row.
    """
    total = 0
    for rule in RULES:
        if type(rule).needed is not Rule.needed or rule.family in CORE:
            continue
        if side is not None and rule.side != side:
            continue
        if only is not None and rule.family not in only:
            continue
        locked = context.project.choices.parts.get(rule.family)
        masses = [part.mass_g for part in admitted(context, rule.family, locked)]
        total += rule.least_ever * min(masses, default=0)
    return total


class Leasts:
    """The least grams, resistance and 12 V load that a family's rows bring, remembered."""

    def __init__(self) -> None:
        # By the identity of rows, which are kept here so that no others take it.
        self._known: dict[int, tuple[tuple[Row, ...], tuple[int, int, int]]] = {}

    def of(self, options: Options) -> tuple[int, int, int]:
        """(g, uohm, W): no bill of this core brings less of each; joints and donor left out."""
        figures = [self.of_group(group) for group in options.parts]
        grams, uohm, watts = zip(*figures, strict=True)
        return sum(grams), sum(uohm), sum(watts)

    def of_group(self, group: Group) -> tuple[int, int, int]:
        """(g, uohm, W): no bill brings less of each with these families."""
        if group.leasts is None:
            figures = [(0, 0, 0), *[self._of_family(rows) for rows in group.rows.values()]]
            grams, uohm, watts = zip(*figures, strict=True)
            group.leasts = sum(grams), sum(uohm), sum(watts)
        return group.leasts

    def _of_family(self, rows: tuple[Row, ...]) -> tuple[int, int, int]:
        known = self._known.get(id(rows))
        if known is None:
            figures = (
                min(row.least * row.part.mass_g for row in rows),
                min(row.least * row.external_uohm for row in rows),
                min(row.least * row.load_12v_w for row in rows),
            )
            known = rows, figures
            self._known[id(rows)] = known
        return known[1]
