"""One wheel in front: what a plan says of overturning, and what it no longer asks."""

from __future__ import annotations

from typing import Any

import pytest
from oracle.small_cases import make_case

from bomplan.design.records import Plan
from bomplan.design.weight_records import OVERTURNING, Weights
from bomplan.planner import find_plan
from bomplan.project.check_chassis import chassis_cautions
from bomplan.project.records import Project
from bomplan.report.page.answer import warnings
from bomplan.report.units import METRIC
from bomplan.report.weight_words import weight_sentences


def project(**donor: Any) -> tuple[Project, Any]:
    case = make_case(0)
    fields: dict[str, Any] = case.project.model_dump(mode="json")
    fields["donor"] |= {
        "gross_limit_g": 1_500_000, "front_axle_limit_g": 900_000, "rear_axle_limit_g": 900_000,
    } | donor  # fmt: skip
    fields["targets"]["budget"] = None
    for bay in fields["bays"]:
        bay |= {"mass_limit_g": None, "z_mm": 350}
    return Project.model_validate(fields), case.catalog


def planned(**donor: Any) -> Plan:
    found = find_plan(*project(**donor))
    assert found.core is not None
    return found


def weights_of(plan: Plan) -> Weights:
    assert plan.mass is not None
    assert plan.mass.weights is not None
    return plan.mass.weights


@pytest.mark.parametrize("single", ["front", "rear"])
@pytest.mark.parametrize("grip", [0.4, 1.5])
def test_overturning_is_told_and_the_share_of_four_wheels_is_not(single: str, grip: float) -> None:
    pair = "rear" if single == "front" else "front"
    tyres = {f"{single}_count": 1}
    plan = planned(tyres=tyres, grip=grip, **{f"track_{pair}_mm": 1_260})
    weights = weights_of(plan)
    ids = [advice.id for advice in weights.advice]
    assert not [one for one in ids if one.startswith(("front-share.laden", "front-share.driver"))]
    (told,) = [advice for advice in weights.advice if advice.id == OVERTURNING]
    length = plan.project_used["donor"]["wheelbase_mm"]
    ratios = []
    for state in weights.states:
        if state.stage == "after" and state.load_case:
            assert state.z_mm is not None
            away = state.x_mm if single == "front" else length - state.x_mm
            # The height is shown to the centimetre only.
            ratios.append(630 * away / length / state.z_mm)
            assert state.rollover_ratio == pytest.approx(ratios[-1], rel=0.03)
    assert told.value == pytest.approx(min(ratios), rel=0.03)
    assert (told.usual, told.kept) == (grip, told.value >= grip)
    words = [text for text, _ in weight_sentences(weights, METRIC)]
    assert any("half track towards the single wheel over that" in text for text in words)
    assert any("overturns it on three wheels" in text for text in words)
    minded = " ".join(warnings(plan, METRIC))
    assert ("overturns it on three wheels" in minded) == (grip > 1)
    assert "front share, " not in minded


def test_four_wheels_are_asked_as_before() -> None:
    ids = [advice.id for advice in weights_of(planned()).advice]
    assert "front-share.laden" in ids
    assert OVERTURNING not in ids


def test_a_track_that_is_missing_is_told() -> None:
    def codes(**donor: Any) -> list[str]:
        return [fault.code for _, fault in chassis_cautions(project(**donor)[0])]

    assert "project.three-wheels" in codes(tyres={"front_count": 1})
    assert "project.three-wheels" not in codes(tyres={"front_count": 1}, track_rear_mm=1_300)
    assert "project.three-wheels" not in codes()
