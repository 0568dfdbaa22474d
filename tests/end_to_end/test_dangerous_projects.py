"""What can hurt somebody is named, with its caution first: by the audit and by the planner."""

from __future__ import annotations

import pytest
from dangerous_cases import DANGERS, Danger, sound

from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.planner import find_plan
from bomplan.report.terminal import no_plan_text, summary

EACH = pytest.mark.parametrize("danger", DANGERS, ids=lambda danger: danger.name)


def flowing(text: str) -> str:
    """The text with its lines joined, so that sentences are found across line ends."""
    return " ".join(text.split())


def test_the_list_is_sound_before_anything_is_spoilt() -> None:
    car = sound()
    found = audit_parts_list(
        car.project(), car.catalog(), car.typed(), PackSaid(placement=car.placement)
    )
    assert [check.id for check in found.checks if not check.passed] == []
    plan = find_plan(car.project(series=28), car.catalog())
    assert plan.status == "optimal"
    assert {(line.family, line.part, line.quantity) for line in plan.lines} == {
        (family, part, quantity) for family, (part, quantity) in car.parts.items()
    }


@EACH
def test_a_typed_list_is_told_so_first(danger: Danger) -> None:
    car = sound()
    danger.spoil(car)
    found = audit_parts_list(
        car.project(), car.catalog(), car.typed(), PackSaid(placement=car.placement)
    )
    failed = {check.id: check for check in found.checks if not check.passed}
    assert danger.check in failed, sorted(failed)
    check = failed[danger.check]
    assert danger.caution in check.caution
    assert check.source
    assert check.margin < 0
    assert found.plan is not None
    assert danger.caution in found.plan.cautions[0]
    text = flowing(summary(found.plan))
    assert "NOT SOUND" in text
    assert text.index(danger.caution) < text.index("What to build")
    assert flowing(check.words) in text


def test_in_a_crush_zone_that_no_country_forbids_there_is_a_warning() -> None:
    car = sound()
    car.fields["donor"] = {**car.fields["donor"], "front_overhang_mm": 700}
    found = audit_parts_list(
        car.project(), car.catalog(), car.typed(), PackSaid(placement=car.placement)
    )
    assert all(check.passed for check in found.checks)
    assert found.plan is not None
    assert found.plan.cautions[0].startswith(
        "bay bonnet reaches into the 420 mm at the front of the car"
    )
    assert ": 140 mm; cells in the crush zone" in found.plan.cautions[0]


@EACH
def test_the_planner_refuses_and_says_so_first(danger: Danger) -> None:
    car = sound()
    danger.spoil(car)
    plan = find_plan(car.project(**{"series": 28, "parallel": 1, **danger.choices}), car.catalog())
    assert plan.status == "none", plan.core
    name = danger.planned or danger.check
    failed = {check.id: check for check in plan.checks}
    assert name in failed, (sorted(failed), plan.reasons)
    assert not failed[name].passed
    assert danger.caution in plan.cautions[0]
    text = flowing(no_plan_text(plan))
    assert text.index(danger.caution) < text.index("Why")
    assert flowing(failed[name].words) in text
