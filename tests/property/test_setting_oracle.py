"""The planner against brute force where the project names several battery currents."""

from __future__ import annotations

import pytest
from lanes import first_fast
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.small_cases import make_case

from bomplan.planner import find_plan

NAMED = (90.0, 160.0, 260.0)
SET_A = {0: 260, 1: 160, 5: 160, 8: 160, 10: None}


@pytest.mark.parametrize("seed", first_fast((0, 10, 1, 5, 8), 2))
def test_core_and_setting_are_those_of_brute_force(seed: int) -> None:
    case = make_case(seed)
    choices = case.project.choices.model_copy(update={"battery_current_a": NAMED})
    project = case.project.model_copy(update={"choices": choices})
    plan = find_plan(project, case.catalog)
    assert differences(plan, brute_force(project, case.catalog)) == []
    assert (plan.core and plan.core.battery_a) == SET_A[seed]
