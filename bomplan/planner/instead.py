"""Beside each line of the answer: its slack, and the next best row that would do in its place.

Looked at once, when the plan is found: one family's row is changed at a time and everything
else stays, the core, the placement, all other rows and how they are bought. What suits is
judged by the very checks of a plan. Another row is bought at one supplier in one lot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from bomplan.buying.prices import Lot
from bomplan.buying.terms import CHARGES
from bomplan.catalog.records import Part
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, assemble, needed_pieces
from bomplan.design.bill import JOINTS, RULE_OF, DesignCurrents, Rule
from bomplan.design.bill.fits import row_checks
from bomplan.design.bill.shared_places import shared_checks
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.line_records import Instead, Standing
from bomplan.design.records import Check, Couplers, Line
from bomplan.errors import InternalError
from bomplan.planner.judge import candidates
from bomplan.requirements.evaluate import fitted_checks, supply_and_budget
from bomplan.requirements.own_rules import own_rules
from bomplan.requirements.simulated import all_worsen, simulated_checks
from bomplan.requirements.slack import tightest

CORE = ("motor", "controller", "module")


@dataclass(frozen=True)
class _Swap:
    """The bill with one family's row changed; it passes every check but the simulated ones."""

    family: str
    chosen: Chosen
    bill: Bill


@dataclass
class _Account:
    """What the whole bill comes to: list prices, and goods and grams of every order."""

    context: Context
    at_list: int = 0
    orders: dict[str, tuple[int, int]] = field(default_factory=dict)

    def put(self, part: Part, lots: Sequence[Lot], sign: int = 1) -> _Account:
        """The account with these lots added, or taken off."""
        at_list, orders = self.at_list, dict(self.orders)
        for lot in lots:
            supplier = lot.source.supplier
            if supplier:
                goods, mass_g = orders.get(supplier, (0, 0))
                mass_g += sign * lot.bought * part.mass_g
                orders[supplier] = (goods + sign * lot.price, mass_g)
            else:
                at_list += sign * lot.price
        return _Account(self.context, at_list, orders)

    def price(self) -> int:
        terms = self.context.prices.terms
        return self.at_list + sum(
            terms[name].total(goods, mass_g) for name, (goods, mass_g) in self.orders.items()
        )

    def accepted(self) -> bool:
        """Whether there are no more orders than wanted, and none is below what is asked."""
        most = self.context.project.buying.suppliers_max
        real = {name: goods for name, (goods, _) in self.orders.items() if goods}
        terms = self.context.prices.terms
        return (most is None or len(real) <= most) and all(
            goods >= terms[name].minimum_order for name, goods in real.items()
        )


class _Search:
    def __init__(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,
        rows: tuple[int, ...],
        chosen: dict[str, Chosen],
        bill: Bill,
        simulator: Simulator,
    ) -> None:
        self.context, self.drive, self.currents = context, drive, currents
        self.rows, self.chosen, self.bill = rows, chosen, bill
        self.simulator = simulator
        self._lines = {line.family: line for line in bill.lines if line.family not in CHARGES}
        self._worsens = all_worsen(simulator)
        self._driven_before: list[tuple[Couplers, bool]] = []
        self._whole = _Account(context)
        for family, pick in chosen.items():
            self._whole = self._whole.put(pick.part, self._lots(family))

    def _lots(self, family: str) -> tuple[Lot, ...]:
        line = self._lines[family]
        pick = self.chosen[family]
        return pick.bought(needed_pieces(self.context, RULE_OF[family], pick.part, line.quantity))

    def swaps(self, family: str) -> Iterator[_Swap]:
        """Every other row that suits, cheapest bill first, then the lightest, then by id."""
        rule, mine = RULE_OF[family], self.chosen[family].part
        without = self._whole.put(mine, self._lots(family), -1)
        # What is bought at its list price goes on nobody's order.
        alone = without.accepted(), without.price()
        pieces = self._in_bays(rule, mine)
        offers = []
        for part in candidates(self.context, rule):
            if part.id == mine.id:
                continue
            if rule.table_by_part:
                pieces = self._in_bays(rule, part)
            fitted = rule.base(self.context, self.drive, part) + pieces
            needed = needed_pieces(self.context, rule, part, fitted)
            for source in self.context.prices.sources(part):
                lots: tuple[Lot | None, ...] = source.lots(needed) if needed else (None,)
                for lot in lots:
                    bought = () if lot is None else (lot,)
                    if source.supplier:
                        account = without.put(part, bought)
                        accepted, price = account.accepted(), account.price()
                    else:
                        accepted, price = alone[0], alone[1] + (0 if lot is None else lot.price)
                    if accepted:
                        key = (price, fitted * part.mass_g, part.id, source.supplier)
                        offers.append((key, Chosen(part, source, bought)))
        suits: dict[str, bool] = {}
        for key, pick in sorted(offers, key=lambda offer: offer[0]):
            name = pick.part.id
            if name not in suits:
                suits[name] = self._suits(rule, pick.part)
            if not suits[name]:
                continue
            swap = self._swapped(family, pick)
            if swap is not None:
                if swap.bill.price != key[0]:
                    raise InternalError(
                        f"with {name} the bill is counted as {swap.bill.price} and {key[0]}"
                    )
                yield swap

    def _in_bays(self, rule: Rule, part: Part) -> int:
        return sum(
            rule.in_bay(self.context, self.drive, part, bay, count)
            for bay, count in enumerate(self.rows)
            if count
        )

    def _suits(self, rule: Rule, part: Part) -> bool:
        """Whether the row passes its own checks, and those beside its neighbours."""
        context, drive, currents = self.context, self.drive, self.currents
        if not _all(row_checks(context, drive, currents, rule, part)):
            return False
        now = {family: pick.part for family, pick in self.chosen.items()} | {rule.family: part}
        if not _all(own_rules(context.project.choices, {one.id for one in now.values()})):
            return False
        if not _all(shared_checks(context, drive, now)):
            return False
        return all(
            joint.allows(context, drive, currents, now[joint.first], now[joint.second])
            for joint in JOINTS
            if rule.family in (joint.first, joint.second)
            and joint.first in now
            and joint.second in now
        )

    def _swapped(self, family: str, pick: Chosen) -> _Swap | None:
        """The bill with this row; None if a limit on bays, masses, supply or money breaks."""
        context, drive = self.context, self.drive
        chosen = {**self.chosen, family: pick}
        bill = assemble(context, drive, self.currents, self.rows, chosen)
        holds = _all(supply_and_budget(context, bill)) and _all(
            fitted_checks(context, drive, self.rows, chosen, bill)
        )
        return _Swap(family, pick, bill) if holds else None

    def next_best(self, families: Sequence[str]) -> dict[str, _Swap]:
        """For each family the first swap that the simulation lets through as well."""
        waiting = {family: self.swaps(family) for family in families}
        found: dict[str, _Swap] = {}
        while waiting:
            tried = {}
            for family in list(waiting):
                swap = next(waiting[family], None)
                if swap is None:
                    del waiting[family]
                else:
                    tried[family] = swap
            for family in self._driven(list(tried.values())):
                found[family] = tried[family]
                del waiting[family]
        return found

    def _driven(self, swaps: list[_Swap]) -> Iterator[str]:
        """The families of those swaps that pass the simulated requirements.

        Where all of these only worsen with the couplers, swaps are asked together: at the worst
        couplers of all of them, and in halves where that fails.
        """
        before = self.bill.couplers
        if not self._worsens:
            for swap in swaps:
                if swap.bill.couplers == before or self._drives(swap.bill.couplers):
                    yield swap.family
            return
        heavier = []
        for swap in swaps:
            if _worst([before, swap.bill.couplers]) == before:
                yield swap.family
            else:
                heavier.append(swap)
        heavier.sort(key=lambda swap: swap.bill.couplers.added_g)
        yield from self._together(heavier)

    def _together(self, swaps: list[_Swap]) -> Iterator[str]:
        if not swaps:
            return
        if self._drives(_worst([swap.bill.couplers for swap in swaps])):
            yield from (swap.family for swap in swaps)
        elif len(swaps) > 1:
            half = len(swaps) // 2
            yield from self._together(swaps[:half])
            yield from self._together(swaps[half:])

    def _drives(self, couplers: Couplers) -> bool:
        """Whether it still drives; known where no better couplers failed, or worse ones passed."""
        if self._worsens:
            for known, passed in self._driven_before:
                worse, better = (known, couplers) if passed else (couplers, known)
                if _worst([worse, better]) == worse:
                    return passed
        passed = _all(simulated_checks(self.simulator, couplers))
        self._driven_before.append((couplers, passed))
        return passed


def with_standings(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    rows: tuple[int, ...],
    chosen: dict[str, Chosen],
    bill: Bill,
    simulator: Simulator,
    checks: tuple[Check, ...],
) -> tuple[Line, ...]:
    """The bill's lines, each of a family with its slack and its next best row."""
    choices = context.project.choices
    fixed = {*choices.parts, *(family for family in CORE if getattr(choices, family) is not None)}
    free = [family for family in chosen if family not in CORE and family not in fixed]
    search = _Search(context, drive, currents, rows, chosen, bill, simulator)
    found = search.next_best(free)
    lines = []
    for line in bill.lines:
        if line.family in CHARGES:
            lines.append(line)
            continue
        swap = found.get(line.family)
        standing = Standing(
            slack=tightest(context, drive, currents, chosen, line.family, checks),
            instead=None if swap is None else _instead(bill, swap),
            nothing_because=""
            if swap is not None
            else "fixed"
            if line.family in fixed
            else "core"
            if line.family in CORE
            else "none suits",
        )
        lines.append(line.model_copy(update={"standing": standing}))
    return tuple(lines)


def _instead(bill: Bill, swap: _Swap) -> Instead:
    line = next(line for line in swap.bill.lines if line.family == swap.family)
    return Instead(
        part=line.part,
        description=line.description,
        supplier=line.supplier,
        bought=line.bought,
        price=swap.bill.price - bill.price,
        mass_kg=(swap.bill.added_g - bill.added_g) / 1000,
    )


def _worst(couplers: Sequence[Couplers]) -> Couplers:
    return Couplers(
        added_g=max(one.added_g for one in couplers),
        external_uohm=max(one.external_uohm for one in couplers),
        mean_12v_w=max(one.mean_12v_w for one in couplers),
    )


def _all(checks: Iterator[Check]) -> bool:
    return all(check.passed for check in checks)
