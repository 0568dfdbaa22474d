"""Every goal against brute force: the same plan to the last line, on cases where limits bite."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from lanes import first_fast
from oracle.brute_force import Candidate, brute_force
from oracle.compare import differences
from oracle.goals import lifetime, mass, nearness
from oracle.small_cases import make_case

from bomplan.audit import audit_plan
from bomplan.design.adapter import Simulator
from bomplan.design.planfile import plan_bytes
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project.goal import Aim, Goal
from bomplan.project.records import Project

FIGURE: dict[Aim, Callable[[Simulator, Candidate], int]] = {
    "least-mass": mass,
    "least-lifetime-cost": lifetime,
    "most-range": nearness,
}


@cache
def cheapest(seed: int) -> Plan:
    case = make_case(seed)
    return find_plan(case.project, case.catalog)


def aimed(seed: int, aim: Aim) -> Project:
    """The case with a goal; a budget a little above the least price where it has none."""
    project = make_case(seed).project
    goal = Goal(aim=aim, energy_weight=3.0, packs_weight=0.5)
    changes: dict[str, object] = {"goal": goal}
    least = cheapest(seed).objective.value
    if aim == "most-range" and project.targets.budget is None:
        budget = 10**6 if least is None else least * (102 + seed % 7) // 100
        changes["targets"] = project.targets.model_copy(update={"budget": budget})
    return project.model_copy(update=changes)


@pytest.mark.parametrize("aim", list(FIGURE))
@pytest.mark.parametrize(
    "seeds",
    first_fast([range(2), *(range(begin, begin + 6) for begin in range(0, 120, 6))], 1),
    ids=str,
)
def test_plan_is_the_brute_force_plan(aim: Aim, seeds: range) -> None:
    wrong = {seed: told for seed in seeds if (told := differing(seed, aim))}
    assert wrong == {}


def differing(seed: int, aim: Aim) -> list[str]:
    """Where the plan is not brute force's; the second proof and the audit must hold as well."""
    project, catalog = aimed(seed, aim), make_case(seed).catalog
    found = brute_force(project, catalog, by=FIGURE[aim])
    plan = find_plan(project, catalog, certify=True)
    told = differences(plan, found)
    if found.best is None:
        return told
    goal = plan.objective.goal
    assert goal is not None
    stated = -(goal.figure or 0) // 100 if aim == "most-range" else goal.figure
    if stated != found.best.figure:
        told.append(f"figure {goal}, brute force: {found.best.figure}")
    told += [f"audit: {check.id}" for check in audit_plan(plan) if not check.passed]
    if not plan.search.certified:
        told.append("no second proof")
    return told


# A case that has a plan, and another one by each goal: they are not the same question.
OTHERS: dict[Aim, int] = {"least-mass": 0, "least-lifetime-cost": 16, "most-range": 1}


@pytest.mark.parametrize("aim", list(FIGURE))
def test_the_goal_changes_the_plan(aim: Aim) -> None:
    seed = OTHERS[aim]
    plan = find_plan(aimed(seed, aim), make_case(seed).catalog)
    least = cheapest(seed).objective.value
    assert plan.objective.value is not None
    assert least is not None
    assert plan.objective.value > least
    assert plan.objective.bound is None
    assert plan.objective.goal is not None
    assert plan.objective.goal.bound == plan.objective.goal.figure


@pytest.mark.parametrize("aim", list(FIGURE))
def test_the_same_bytes_from_any_number_of_workers(aim: Aim) -> None:
    project, catalog = aimed(4, aim), make_case(4).catalog
    alone = plan_bytes(find_plan(project, catalog))
    assert plan_bytes(find_plan(project, catalog, workers=2)) == alone
