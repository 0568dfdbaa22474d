"""A search for any plan, with all that earlier ones saw fall, answers as a search alone does."""

from __future__ import annotations

import pytest
from lanes import FULL, first_fast
from oracle.small_cases import make_case

from bomplan.design.context import Context
from bomplan.outlook import Solver
from bomplan.outlook.levers import levers
from bomplan.planner import find_any, find_plan
from bomplan.planner.fallen import Fallen, Ground, amounts, bury, is_down, needs
from bomplan.planner.screen import Screened, drives, packs


@pytest.mark.parametrize("seed", first_fast([22, 5, 8, 15, 16, 20, 21, 3], 1))
def test_what_is_possible_does_not_depend_on_what_fell_before(seed: int) -> None:
    case = make_case(seed)
    solver = Solver(case.catalog)
    both = set()
    for lever in levers(case.project)[:: 1 if FULL else 4]:
        # From loose to hard and back, so that what fell is met again from either side.
        for amount in (
            lever.loosest,
            lever.eased(),
            lever.hardened(),
            lever.eased(3),
            lever.amount,
        ):
            if amount is None:
                continue
            moved = lever.at(case.project, amount)
            alone = find_plan(moved, case.catalog, standings=False)
            assert solver.possible(moved) == (alone.core is not None), (lever.id, amount)
            assert solver.near(moved).objective.value == alone.objective.value, (lever.id, amount)
            both.add(alone.core is not None)
    assert both


def test_a_plan_of_any_kind_passes_its_checks_and_claims_no_bound() -> None:
    case = next(
        one
        for one in map(make_case, range(40))
        if find_plan(one.project, one.catalog, standings=False).core is not None
    )
    plan = find_any(case.project, case.catalog)
    assert plan.status == "feasible"
    assert all(check.passed for check in plan.checks)
    assert plan.objective.bound is None


def test_a_core_is_down_only_where_all_that_it_hung_on_is_asked_as_hard() -> None:
    context = Context(make_case(8).project, make_case(8).catalog)
    asked = amounts(context)
    target = next(name for what, name in asked if what == "range")
    ground = Ground()
    bury(ground, ("far",), f"range.{target}", dict(needs(f"range.{target}", asked)))
    bury(
        ground,
        ("heavy",),
        "mass, axle, budget or bay limits",
        dict(needs("mass, axle, budget or bay limits", asked)),
    )
    bury(ground, ("worn",), "current.motor-hour", dict(needs("current.motor-hour", asked)))
    easier = {**asked, ("range", target): asked["range", target] - 1}
    lighter = {**asked, ("rear", ""): asked["rear", ""] + 1}
    heavier = {**asked, ("rear", ""): asked["rear", ""] - 1}
    down = {
        name: [
            is_down(ground, (name,), one) is not None for one in (asked, easier, lighter, heavier)
        ]
        for name in ("far", "heavy", "worn")
    }
    assert down == {
        "far": [True, False, True, True],
        "heavy": [True, False, True, False],
        "worn": [True, True, True, True],
    }
    assert is_down(ground, ("new",), asked) is None
    assert needs("climb.hill", asked) == ()


def test_packs_have_one_number_in_all_searches() -> None:
    case = make_case(8)
    fallen = Fallen()
    context = Context(case.project, case.catalog)
    found = packs(context, Screened())
    first = fallen.numbers(found)
    assert len(set(first.tolist())) == len(found.rows)
    assert fallen.numbers(found).tolist() == first.tolist()
    row = drives(context, Screened())[0]
    target = case.project.targets.range[0]
    known = fallen.reach("key", row, target, ())
    known.falls[first[0]] = 7
    assert fallen.reach("key", row, target, ()).falls[first[0]] == 7
    assert fallen.reach("other", row, target, ()).falls[first[0]] > 10**9
