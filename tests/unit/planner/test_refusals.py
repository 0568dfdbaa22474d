"""What a builder must not be sold is refused by name, with its figures."""

from __future__ import annotations

from typing import Any

import pytest
from shipped_examples import generic, project_of

from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project.records import Project


def planned(**choices: Any) -> Plan:
    data = project_of("garden-pickup").model_dump()
    data["choices"] = {**data["choices"], **choices}
    return find_plan(Project.model_validate(data), generic())


def refusal(plan: Plan, check_id: str) -> str:
    """The sentence in which the plan names this check, if it is refused at all."""
    assert plan.status == "none"
    assert [check.id for check in plan.checks if not check.passed].count(check_id) == 1
    return next(reason for reason in plan.reasons if f"[{check_id}]" in reason)


def test_twelve_blocks_with_built_in_protection_in_series() -> None:
    block = next(
        part.id
        for part in generic().family("module").values()
        if part.flag("built_in_protection") and part.number("cells_series") == 4
    )
    told = refusal(planned(module=block, series=12), "module.max-series")
    assert block in told
    assert "12" in told
    assert "at most 4" in told


def test_thirty_six_cells_on_a_controller_of_130_volts() -> None:
    controller = next(
        part.id
        for part in generic().family("controller").values()
        if part.number("v_max_abs") == 130.0
    )
    told = refusal(
        planned(module="lfp-cell-100", series=36, controller=controller),
        "voltage.controller-absolute",
    )
    assert "36 cells at 3.65 V = 131.4 V" in told
    assert "130" in told


def test_an_alternating_current_motor_with_a_stranger() -> None:
    motor = next(
        part.id for part in generic().family("motor").values() if part.text("kind") == "induction"
    )
    known = {pair.controller for pair in generic().pairs if pair.motor == motor}
    stranger = next(
        part.id
        for part in generic().family("controller").values()
        if part.text("kind") == "inverter" and part.id not in known
    )
    told = refusal(planned(motor=motor, controller=stranger), "pair.known")
    assert motor in told
    assert stranger in told


def test_forcing_an_unknown_pair_does_not_help_an_alternating_current_motor() -> None:
    """Without a row there is no envelope to simulate."""
    motor = next(
        part.id for part in generic().family("motor").values() if part.text("kind") == "induction"
    )
    known = {pair.controller for pair in generic().pairs if pair.motor == motor}
    stranger = next(
        part.id
        for part in generic().family("controller").values()
        if part.text("kind") == "inverter" and part.id not in known
    )
    plan = planned(motor=motor, controller=stranger, allow_unpaired=True)
    assert plan.status == "none"


def test_regeneration_asked_of_a_series_motor() -> None:
    motor = next(
        part.id for part in generic().family("motor").values() if part.text("kind") == "series_dc"
    )
    told = refusal(planned(motor=motor, regeneration=True), "regeneration.series-motor")
    assert motor in told


@pytest.mark.parametrize("family", ["motor", "controller", "module"])
def test_a_catalogue_without_a_main_family(family: str) -> None:
    bare = generic().model_copy(
        update={"families": {**generic().families, family: {}}}
    )
    plan = find_plan(project_of("garden-pickup"), bare)
    assert plan.status == "none"
    assert plan.reasons
