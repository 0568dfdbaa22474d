"""The next best row of every line, sought again by trying every row with every check made."""

from __future__ import annotations

from functools import cache

import pytest
from lanes import first_fast
from oracle.small_cases import Case, make_case

from bomplan.audit import audit_plan
from bomplan.buying.terms import CHARGES
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, assemble
from bomplan.design.bill import RULE_OF
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import resolve
from bomplan.design.records import Line, Plan
from bomplan.planner import find_plan
from bomplan.requirements.evaluate import all_checks

# Cases that have a plan, and families of more than one row.
SEEDS = (20, 54, 1, 33, 50, 59)
CORE = ("motor", "controller", "module")


@cache
def planned(seed: int) -> tuple[Case, Plan]:
    case = make_case(seed)
    return case, find_plan(case.project, case.catalog)


class Tried:
    """A found plan in which one row is changed at a time, by whole bills and nothing else."""

    def __init__(self, case: Case, plan: Plan) -> None:
        assert plan.core is not None
        self.context = Context(case.project, case.catalog)
        self.drive = resolve(self.context, plan.core)
        self.simulator = Simulator(self.context, self.drive)
        self.currents = design_currents(self.context, self.drive, self.simulator)
        placed = {use.bay: use.series for use in plan.placement}
        self.rows = tuple(placed.get(bay.name, 0) for bay in self.context.bays)
        self.chosen = {
            line.family: self._as_bought(line) for line in plan.lines if line.family not in CHARGES
        }
        self.bill = self._bill(self.chosen)
        assert self.bill.price == plan.objective.value

    def _as_bought(self, line: Line) -> Chosen:
        part = self.context.catalog.family(line.family)[line.part]
        sources = {source.supplier: source for source in self.context.prices.sources(part)}
        lots = []
        for one in line.purchases:
            lot = sources[one.supplier].lot(one.bought)
            assert lot is not None
            lots.append(lot)
        return Chosen(part, sources[line.supplier], tuple(lots))

    def _bill(self, chosen: dict[str, Chosen]) -> Bill:
        return assemble(self.context, self.drive, self.currents, self.rows, chosen)

    def best_of_all(self, family: str) -> tuple[int, int, str] | None:
        """Price and mass over the plan's, and id, of the best other row that passes all checks.

        Every row from every source in every number of pieces that is sold there.
        """
        choices, tried = self.context.project.choices, []
        for part in self.context.catalog.family(family).values():
            if part.id == self.chosen[family].part.id or part.id in choices.excluded:
                continue
            for source in self.context.prices.sources(part):
                lots = [source.lot(bought) for bought in range(1, 60)]
                picks = [Chosen(part, source, (lot,)) for lot in lots if lot is not None]
                for pick in (Chosen(part, source), *picks):
                    bill = self._bill({**self.chosen, family: pick})
                    line = next(one for one in bill.lines if one.family == family)
                    asked = self.context.project.buying.spare_pieces(family, line.quantity)
                    at_hand = choices.owned.get(part.id, 0)
                    if line.bought >= line.quantity + asked - at_hand:
                        more = (bill.price - self.bill.price, bill.added_g - self.bill.added_g)
                        tried.append(((*more, part.id), pick))
        tried.sort(key=lambda one: one[0])
        return next((key for key, pick in tried if self._holds(family, pick)), None)

    def _holds(self, family: str, pick: Chosen) -> bool:
        chosen = {**self.chosen, family: pick}
        own = RULE_OF[family].suits(self.context, self.drive, self.currents, pick.part)
        if not all(check.passed for check in own):
            return False
        checks = all_checks(
            self.context,
            self.drive,
            self.currents,
            self.rows,
            chosen,
            self._bill(chosen),
            self.simulator,
        )
        return all(check.passed for check in checks)


@pytest.mark.parametrize("seeds", first_fast([SEEDS[:2], SEEDS], 1))
def test_the_next_best_row_suits_and_none_that_suits_is_cheaper(seeds: tuple[int, ...]) -> None:
    found = nothing = orders = 0
    for seed in seeds:
        case, plan = planned(seed)
        assert plan.core is not None
        tried = Tried(case, plan)
        for line in plan.lines:
            if line.family in CHARGES:
                assert line.standing is None
                continue
            assert line.standing is not None
            choices = case.project.choices
            fixed = line.family in choices.parts or getattr(choices, line.family, None)
            if line.family in CORE or fixed:
                named = "fixed" if fixed else "core"
                assert line.standing.nothing_because == named
                continue
            best = tried.best_of_all(line.family)
            other = line.standing.instead
            if best is None:
                assert other is None, (seed, line.family)
                assert line.standing.nothing_because == "none suits"
                nothing += 1
                continue
            assert other is not None, (seed, line.family)
            stated = (other.price, round(other.mass_kg * 1000), other.part)
            assert stated == best, (seed, line.family)
            # The plan was the cheapest, and of the cheapest the lightest.
            assert stated[:2] >= (0, 0)
            found += 1
            orders += bool(other.supplier)
    assert found >= 2 * len(seeds), found
    assert nothing >= 8 * len(seeds), nothing
    assert orders >= max(1, len(seeds) // 3), orders


@pytest.mark.parametrize("seeds", first_fast([SEEDS[:2], SEEDS], 1))
def test_every_stated_slack_is_that_of_a_check_of_the_plan(seeds: tuple[int, ...]) -> None:
    some = 0
    for seed in seeds:
        _, plan = planned(seed)
        checks = {(check.id, check.value, check.limit): check for check in plan.checks}
        for line in plan.lines:
            slack = None if line.standing is None else line.standing.slack
            if slack is None:
                continue
            check = checks[slack.check, slack.value, slack.limit]
            assert check.passed
            assert slack.share == pytest.approx(check.margin / abs(check.limit), abs=1e-6)
            assert slack.share >= 0
            some += 1
    assert some > 16 * len(seeds)


def test_the_audit_finds_a_slack_that_is_not_so() -> None:
    plan = planned(SEEDS[0])[1]
    assert all(check.passed for check in audit_plan(plan))
    line = next(one for one in plan.lines if one.standing is not None and one.standing.slack)
    assert line.standing is not None
    assert line.standing.slack is not None
    wider = line.standing.slack.model_copy(update={"share": line.standing.slack.share + 0.01})
    told = line.model_copy(update={"standing": line.standing.model_copy(update={"slack": wider})})
    lines = tuple(told if one is line else one for one in plan.lines)
    failed = [c for c in audit_plan(plan.model_copy(update={"lines": lines})) if not c.passed]
    assert [check.id for check in failed] == ["audit.slack"]
    assert line.family in failed[0].words
