"""The whole planner with suppliers whose terms decide, against every plan and every way to buy."""

from __future__ import annotations

import pytest
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.offer_cases import make_offer_case
from oracle.small_cases import Case

from bomplan.audit import audit_plan
from bomplan.catalog.records import Catalog
from bomplan.planner import find_plan
from bomplan.project.records import Project

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


def with_late_sellers(seed: int, short: int) -> Case:
    """A case in which everything that its plan buys of somebody is at hand, less so many of each,
    and nobody can deliver before the deadline."""
    case = make_offer_case(seed)
    plan = find_plan(case.project, case.catalog)
    assert plan.core is not None
    fields = case.project.model_dump()
    fields["choices"]["owned"] = {
        line.part: max(0, line.bought + line.owned - short)
        for line in plan.lines
        if any(one.supplier for one in line.purchases)
    }
    fields["buying"]["deadline_days"] = 1
    return Case(seed, "late", Project.model_validate(fields), case.catalog)


def test_parts_at_hand_need_no_seller_and_no_more_of_them_can_be_had() -> None:
    """Against brute force; one piece short of each, no core is whole."""
    planned = 0
    for seed in FAST:
        if find_plan(*both(make_offer_case(seed))).core is None:
            continue
        case = with_late_sellers(seed, 0)
        plan = find_plan(*both(case))
        assert differences(plan, brute_force(*both(case))) == []
        assert plan.core is not None
        assert [check.id for check in audit_plan(plan) if not check.passed] == []
        assert plan.invoices == ()
        used = {line.part: line for line in plan.lines}
        owned = case.project.choices.owned
        assert all(used[part].bought == 0 for part in owned if part in used)
        assert any(part in used for part in owned)
        case = with_late_sellers(seed, 1)
        plan = find_plan(*both(case))
        assert differences(plan, brute_force(*both(case))) == []
        assert plan.status == "none"
        told = " | ".join(plan.reasons)
        assert "supplier" in told
        for part, pieces in case.project.choices.owned.items():
            if pieces:
                assert f"of {part} there " in told
        planned += 1
    assert planned >= 2


def both(case: Case) -> tuple[Project, Catalog]:
    return case.project, case.catalog
