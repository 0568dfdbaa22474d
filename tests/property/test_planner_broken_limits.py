"""Limits that the car breaks before anything is fitted: what is left there is below nothing.

With its engine out a donor often has less on its front axle than is asked of the finished car. The
parts have to bring it back, and every bound that prices mass has to bear such a limit.
"""

from __future__ import annotations

from random import Random

import pytest
from lanes import first_fast
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.small_cases import make_case

from bomplan.catalog.records import Catalog
from bomplan.design.context import Context
from bomplan.planner import find_plan
from bomplan.project.records import Project
from bomplan.requirements.loads import mass_rows

# The first had a dearer plan called the cheapest: a price times a mass had run over.
SEEDS = [930069, *range(930000, 930040)]


def moved(project: Project, chance: Random) -> Project:
    """The same with its bays elsewhere along the car."""
    bays = tuple(
        bay.model_copy(update={"x_mm": chance.choice([-600, -300, 0, 200])}) for bay in project.bays
    )
    return project.model_copy(update={"bays": bays})


def asked(project: Project, share: float) -> Project:
    rules = project.house_rules.model_copy(update={"minimum_front_share": share})
    return project.model_copy(update={"house_rules": rules})


def share_of(project: Project, catalog: Catalog) -> float | None:
    """The least front share of the cheapest plan that nobody asked one of."""
    plan = find_plan(project, catalog)
    masses = {
        end: [check.value for check in plan.checks if check.id.startswith(f"axle.{end}.")]
        for end in ("front", "rear")
    }
    if plan.core is None or not masses["front"]:
        return None
    return min(
        float(front) / (float(front) + float(rear))
        for front, rear in zip(masses["front"], masses["rear"], strict=True)
    )


@pytest.mark.parametrize("seed", first_fast(SEEDS, 2))
def test_the_plan_is_the_brute_force_plan(seed: int) -> None:
    case, chance = make_case(seed), Random(seed)
    project = moved(case.project, chance)
    share = share_of(project, case.catalog)
    if share is None:
        pytest.skip("nothing works here, whatever the share")
    near = chance.choice([-0.002, -0.001, 0.0, 0.001, 0.001, 0.002, 0.003, 0.005, 0.01])
    project = asked(project, round(share + near, 3))
    plan = find_plan(project, case.catalog, certify=True)
    assert differences(plan, brute_force(project, case.catalog)) == []


def test_such_limits_are_broken_before_anything_is_fitted() -> None:
    """Else the test above would hold nothing: below nothing is left of some limit."""
    case = make_case(SEEDS[0])
    context = Context(asked(moved(case.project, Random(SEEDS[0])), 0.547), case.catalog)
    assert any(
        row.id.startswith("share.front") and row.limit < row.constant for row in mass_rows(context)
    )
