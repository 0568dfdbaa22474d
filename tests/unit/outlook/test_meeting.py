"""What a plan tells of other projects before an audit or a search is asked."""

from __future__ import annotations

import pytest
from shipped_examples import generic, plan_of, project_of

from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of
from bomplan.outlook import Solver
from bomplan.outlook.levers import Lever, levers
from bomplan.outlook.meeting import least_with_room, may_meet, meets

PROJECT = project_of("courier-motorcycle")
PLAN = plan_of("courier-motorcycle")


def lever(name: str) -> Lever:
    return next(one for one in levers(PROJECT) if one.id == name)


@pytest.mark.parametrize("name", ["bay.room.cradle", "bay.room.under the tank"])
def test_the_room_that_the_modules_need_is_told_to_the_millimetre(name: str) -> None:
    one, core = lever(name), PLAN.core
    assert core is not None
    least = least_with_room(PLAN, lambda to: one.at(PROJECT, to), 60, one.loosest)

    def places(amount: int) -> int:
        catalog = catalog_of(PLAN)
        context = Context(one.at(PROJECT, amount), catalog)
        module = catalog.family("module")[core.module]
        bays = range(len(context.bays))
        return sum(context.layout(bay, module).count // core.parallel for bay in bays)

    assert places(least) >= core.series > places(least - 1)
    assert least <= one.amount


def test_no_plan_that_meets_a_project_is_passed_over() -> None:
    target = f"range.{PROJECT.targets.range[0].name}"
    kinds = set()
    for name in (target, "axle.rear", "budget"):
        one = lever(name)
        for amount in (one.amount, one.eased(), one.hardened(1), one.hardened(30)):
            if amount is not None:
                moved = one.at(PROJECT, amount)
                met = meets(PLAN, moved)
                assert may_meet(PLAN, moved) or not met
                kinds.add(met)
    assert kinds == {True, False}
    far = lever(target)
    assert not may_meet(PLAN, far.at(PROJECT, far.amount * 2))


def test_a_core_stands_where_a_search_of_its_own_says_so() -> None:
    solver, one = Solver(generic()), lever("bay.room.cradle")
    assert PLAN.core is not None
    wider = one.at(PROJECT, one.amount + 40)
    assert solver.stands(PLAN, wider)
    assert solver.possible(wider)
    found = solver.witness(wider)
    assert found is not None
    assert found.core == PLAN.core
    assert all(check.passed for check in found.checks)
    # No room for its modules, whatever else is chosen.
    assert not solver.stands(PLAN, one.at(PROJECT, 60))
