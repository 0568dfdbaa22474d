"""Every goal against brute force: the same plan to the last line, on cases where limits bite."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from oracle.brute_force import Candidate, brute_force
from oracle.compare import differences
from oracle.goals import mass
from oracle.small_cases import make_case

from bomplan.audit import audit_plan
from bomplan.design.adapter import Simulator
from bomplan.planner import find_plan
from bomplan.project.goal import Aim, Goal
from bomplan.project.records import Project

FIGURE: dict[Aim, Callable[[Simulator, Candidate], int]] = {"least-mass": mass}


def aimed(project: Project, aim: Aim) -> Project:
    return project.model_copy(update={"goal": Goal(aim=aim)})


@pytest.mark.parametrize("aim", list(FIGURE))
@pytest.mark.parametrize(
    "begin", [0, *(pytest.param(begin, marks=pytest.mark.slow) for begin in range(8, 120, 8))]
)
def test_plan_is_the_brute_force_plan(aim: Aim, begin: int) -> None:
    wrong: dict[int, list[str]] = {}
    feasible = other = 0
    for seed in range(begin, begin + 8):
        case = make_case(seed)
        project = aimed(case.project, aim)
        best = brute_force(project, case.catalog, by=FIGURE[aim])
        plan = find_plan(project, case.catalog, certify=True)
        told = differences(plan, best)
        if best.best is not None:
            feasible += 1
            assert plan.objective.goal is not None
            if plan.objective.goal.figure != best.best.figure:
                told.append(f"figure {plan.objective.goal}, brute force: {best.best.figure}")
            told += [f"audit: {check.id}" for check in audit_plan(plan) if not check.passed]
            assert plan.search.certified
            cheapest = find_plan(case.project, case.catalog)
            assert cheapest.objective.value is not None
            assert plan.objective.value is not None
            assert cheapest.objective.value <= plan.objective.value
            other += cheapest.objective.value < plan.objective.value
        if told:
            wrong[seed] = told
    assert wrong == {}
    assert feasible >= 2
    assert other >= 1, "the goal never changes the plan, so nothing is tested"
