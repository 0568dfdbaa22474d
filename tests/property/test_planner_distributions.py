"""Every distribution of groups to bays, tried one by one, where axles, wheels or sides decide.

Beside the oracle's own cases these have three bays, two of them side by side, and a limit set
where it hurts the plan that was best without it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import pytest
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.sided_cases import KINDS, every_distribution, sided_case

from bomplan.audit import audit_plan
from bomplan.planner import find_plan

BLOCK = 25


@dataclass
class Seen:
    """What a row of cases came to."""

    wrong: dict[int, list[str]] = field(default_factory=dict)
    kinds: Counter[str] = field(default_factory=Counter)
    moved: Counter[str] = field(default_factory=Counter)
    feasible: int = 0
    distributions: list[int] = field(default_factory=list)


def run(seeds: range) -> Seen:
    seen = Seen()
    for seed in seeds:
        case, loose = sided_case(seed)
        found = brute_force(case.project, case.catalog)
        plan = find_plan(case.project, case.catalog)
        wrong = differences(plan, found)
        if plan.core is not None:
            wrong += [f"audit: {check.id}" for check in audit_plan(plan) if not check.passed]
        if wrong:
            seen.wrong[seed] = wrong
        seen.kinds[case.kind] += 1
        seen.distributions.append(every_distribution(case, loose))
        best = found.best
        if best is None:
            continue
        seen.feasible += 1
        if best.key != loose.key:
            seen.moved[case.kind] += 1
            seen.moved["spread"] += best.core == loose.core and best.rows != loose.rows
    return seen


@pytest.mark.slow
def test_the_planner_spreads_groups_as_brute_force_does() -> None:
    """One case of each kind; the blocks below have many."""
    seen = run(range(len(KINDS)))
    assert seen.wrong == {}
    assert set(seen.kinds) == set(KINDS)
    assert seen.feasible >= 2


@pytest.mark.slow
@pytest.mark.parametrize("block", range(4))
def test_limits_decide_where_groups_go_and_both_agree(block: int) -> None:
    """Quotas on what the cases are like, without which agreement says little."""
    seen = run(range(BLOCK * block, BLOCK * (block + 1)))
    assert seen.wrong == {}
    assert set(seen.kinds) == set(KINDS)
    assert seen.feasible >= BLOCK * 0.4
    assert sum(seen.moved[kind] for kind in KINDS) >= BLOCK * 0.4
    assert all(seen.moved[kind] >= 1 for kind in KINDS), seen.moved
    assert seen.moved["spread"] >= 5
    assert sorted(seen.distributions)[BLOCK // 2] >= 5
    assert max(seen.distributions) >= 8
