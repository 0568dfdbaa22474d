"""A plan edited to pieces is told as its fault from Python as well, never as a bare KeyError."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from shipped_examples import quick_plan

from bomplan import api
from bomplan.design.planfile import of_our_own
from bomplan.design.records import Plan
from bomplan.errors import ContradictionError, InputError


def without_the_motor(plan: Plan) -> Plan:
    parts = dict(plan.parts_used)
    parts["parts"] = [one for one in parts["parts"] if one["family"] != "motor"]
    return plan.model_copy(update={"parts_used": parts})


def without_axles(plan: Plan) -> Plan:
    assert plan.mass is not None
    return plan.model_copy(update={"mass": plan.mass.model_copy(update={"axles": ()})})


def with_a_load_case_that_is_not_there(plan: Plan) -> Plan:
    ranges = [one | {"load_case": "nobody"} for one in plan.project_used["targets"]["range"]]
    targets = plan.project_used["targets"] | {"range": ranges}
    return plan.model_copy(update={"project_used": plan.project_used | {"targets": targets}})


def with_money_that_nobody_knows(plan: Plan) -> Plan:
    odd = plan.checks[0].model_copy(update={"unit": "smallest units of ZZZ"})
    return plan.model_copy(update={"checks": (odd, *plan.checks[1:])})


CALLS: dict[str, Callable[[Plan], Any]] = {
    "report": api.report,
    "sheets": api.sheets,
    "summary": api.summary,
    "audit": api.audit,
    "weigh_template": api.weigh_template,
    "chances": lambda plan: api.chances(plan, draws=100),
}


@pytest.mark.parametrize(
    ("edit", "refused"),
    [
        (without_the_motor, {"report", "sheets", "audit", "chances"}),
        (without_axles, {"report"}),
        (with_a_load_case_that_is_not_there, {"audit", "chances"}),
        (with_money_that_nobody_knows, {"report"}),
    ],
)
def test_every_call_answers_or_refuses_in_words(
    edit: Callable[[Plan], Plan], refused: set[str]
) -> None:
    plan = edit(quick_plan())
    codes = {}
    for name, call in CALLS.items():
        try:
            call(plan)
        except InputError as error:
            codes[name] = error.faults[0].code
    assert set(codes) >= refused
    kinds = ("plan.", "audit.", "project.", "money.")
    assert all(code.startswith(kinds) for code in codes.values()), codes


def test_what_broke_is_said_and_kept_as_the_cause() -> None:
    with pytest.raises(ContradictionError, match="what broke: 'motor-series") as caught:
        api.report(without_the_motor(quick_plan()))
    assert isinstance(caught.value.__cause__, KeyError)


def test_on_a_plan_just_found_it_is_a_bug_and_goes_on_as_it_came() -> None:
    with pytest.raises(KeyError), of_our_own():
        api.report(without_the_motor(quick_plan()))


@pytest.mark.parametrize("draws", [0, 99])
def test_a_wrong_call_stays_a_wrong_call(draws: int) -> None:
    with pytest.raises(ValueError, match="say nothing"):
        api.chances(quick_plan(), draws=draws)
