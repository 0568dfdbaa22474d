"""A plan that says something else of a mass, a wheel or a moment than its lines is found out."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from oracle.sided_cases import sided_case

from bomplan.audit import audit_plan
from bomplan.design.records import Plan
from bomplan.planner import find_plan


@cache
def weighed() -> Plan:
    for seed in range(1, 200, 5):
        case, _ = sided_case(seed)
        found = find_plan(case.project, case.catalog)
        if found.core is not None:
            return found
    raise AssertionError("no sided case has a plan")


@pytest.fixture
def plan() -> Plan:
    return weighed()


def failed(data: dict[str, Any]) -> set[str]:
    return {check.id for check in audit_plan(Plan.model_validate(data)) if not check.passed}


def spoil_item(data: dict[str, Any]) -> None:
    data["mass"]["weights"]["items"][-1]["mass_kg"] += 0.001


def spoil_wheel(data: dict[str, Any]) -> None:
    data["mass"]["weights"]["states"][-1]["wheels"]["rear_left_kg"] -= 1.0


def spoil_state(data: dict[str, Any]) -> None:
    data["mass"]["weights"]["states"][0]["front_kg"] += 0.001


def drop_item(data: dict[str, Any]) -> None:
    del data["mass"]["weights"]["items"][3]


def spoil_advice(data: dict[str, Any]) -> None:
    data["mass"]["weights"]["advice"][0]["kept"] = not data["mass"]["weights"]["advice"][0]["kept"]


@pytest.mark.parametrize("spoil", [spoil_item, spoil_wheel, spoil_state, drop_item, spoil_advice])
def test_a_weighing_that_is_not_that_of_the_lines(plan: Plan, spoil: Any) -> None:
    data = plan.model_dump(mode="json")
    assert failed(data) == set()
    spoil(data)
    assert failed(data) == {"audit.mass-record"}


@pytest.mark.parametrize("key", ["moment_y_gmm", "moment_xy_gmm2"])
def test_a_lateral_moment_that_is_not_that_of_the_places(plan: Plan, key: str) -> None:
    data = plan.model_dump(mode="json")
    line = next(line for line in data["lines"] if line["family"] == "module")
    line[key] += 1
    assert failed(data) == {"audit.lines"}


def test_the_lines_that_limit_wheels_are_among_the_checks(plan: Plan) -> None:
    ids = {check.id.rsplit(".", 1)[0] for check in audit_plan(plan)}
    assert {"wheel.front-left", "wheel.front-right"} <= ids or {
        "wheel.rear-left",
        "wheel.rear-right",
    } <= ids
