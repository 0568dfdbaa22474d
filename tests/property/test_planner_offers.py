"""The whole planner with suppliers whose terms decide, against every plan and every way to buy."""

from __future__ import annotations

import pytest
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.offer_cases import make_offer_case

from bomplan.audit import audit_plan
from bomplan.planner import find_plan

# Quick ones: no plan, a plan, and lines in shares.
FAST = (3, 7, 17, 22, 24)


def wrong(seed: int) -> tuple[list[str], bool, bool]:
    """Differences, whether there is a plan, and whether a line of it is split."""
    case = make_offer_case(seed)
    found = brute_force(case.project, case.catalog)
    plan = find_plan(case.project, case.catalog)
    told = differences(plan, found)
    if plan.core is not None:
        told += [f"audit: {check.id}" for check in audit_plan(plan) if not check.passed]
    return told, plan.core is not None, any(len(line.purchases) > 1 for line in plan.lines)


def test_the_plan_is_the_brute_force_plan() -> None:
    tried = [wrong(seed) for seed in FAST]
    assert [told for told, _, _ in tried if told] == []
    assert sum(planned for _, planned, _ in tried) >= 2
    assert any(split for _, _, split in tried)


@pytest.mark.slow
@pytest.mark.parametrize("start", range(0, 120, 20))
def test_many_plans_are_the_brute_force_plans(start: int) -> None:
    tried = {seed: wrong(seed) for seed in range(start, start + 20)}
    assert {seed: told for seed, (told, _, _) in tried.items() if told} == {}
    assert sum(split for _, _, split in tried.values()) >= 1
