"""Each shipped example is held by the limit that it is there to show: relaxing it saves money."""

from __future__ import annotations

import json
import os
from typing import Any

import pytest
from lanes import FULL
from shipped_examples import CORES, NAMES, generic, plan_of, project_of

from bomplan.planner import find_plan
from bomplan.project.records import Project


def relaxed(name: str, change: dict[str, Any]) -> int:
    """Price of the example's plan with one limit changed."""
    data = project_of(name).model_dump()
    for path, value in change.items():
        node: Any = data
        *parents, last = path.split(".")
        for key in parents:
            node = node[int(key)] if isinstance(node, (list, tuple)) else node[key]
        node[last] = value
    plan = find_plan(Project.model_validate(data), generic())
    assert plan.status == "optimal"
    assert plan.objective.value is not None
    return plan.objective.value


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("garden-pickup", {"donor.rear_axle_limit_g": 930_000}),
        ("courier-motorcycle", {"bays.0.length_mm": 560}),
        ("camper-van", {"donor.gross_limit_g": 2_700_000}),
    ],
)
def test_relaxing_the_limit_saves_money(name: str, change: dict[str, Any]) -> None:
    value = plan_of(name).objective.value
    assert value is not None
    assert relaxed(name, change) < value


@pytest.mark.slow
def test_tightening_a_slack_limit_changes_nothing() -> None:
    """The pickup's front axle has room to spare: one kilogram less costs nothing."""
    value = plan_of("garden-pickup").objective.value
    limit = project_of("garden-pickup").donor.front_axle_limit_g
    assert relaxed("garden-pickup", {"donor.front_axle_limit_g": limit - 1000}) == value


@pytest.mark.slow
@pytest.mark.skipif(not FULL, reason="the slow lane searches (.ci/slow sets BOMPLAN_TESTS=full)")
def test_the_cores_given_in_the_fast_suite_are_those_that_are_found() -> None:
    """BOMPLAN_WRITE_GOLDEN=1 writes them anew."""
    found = {name: plan_of(name).core for name in NAMES}
    told = {name: core and core.model_dump() for name, core in found.items()}
    if os.environ.get("BOMPLAN_WRITE_GOLDEN"):
        CORES.write_text(json.dumps(told, indent=1) + "\n", "utf-8")
    assert json.loads(CORES.read_text("utf-8")) == told
