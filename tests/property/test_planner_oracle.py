"""The planner against brute force: the same plan to the last line, on cases where limits bite.

The fast lane plans the first two hundred seeds and asks what they are like; the slow lane goes on
from there, in blocks that can be run one by one (``-k "block3"``) and name the seeds
that differ. With a folder in ``BOMPLAN_FAILED_CASES`` every failing case is kept there as JSON.
"""

from __future__ import annotations

import os
from functools import cache

import pytest
from oracle.compare import Tally, run_cases
from oracle.known_cores import known_cores, write_cores
from oracle.small_cases import drawn, make_case

FAST, AT_ONCE = 200, 10
BLOCK = 126
BLOCKS = 16
# Kinds of requirement that must decide often enough; range to 12 V by quota.
BINDING = ("range", "axle", "gross", "bay", "budget", "twelve-volt", "performance")
PERFORMANCE = ("speed", "climb", "acceleration")


@cache
def fast(begin: int) -> Tally:
    return run_cases(range(begin, begin + AT_ONCE))


@pytest.mark.parametrize("begin", range(0, FAST, AT_ONCE))
def test_plan_is_the_brute_force_plan(begin: int) -> None:
    assert fast(begin).wrong == {}
    assert fast(begin).cases == AT_ONCE


def test_the_cases_are_worth_testing() -> None:
    """Quotas on what the cases are like; without them their agreement says little."""
    tally = Tally()
    for begin in range(0, FAST, AT_ONCE):
        tally.take(fast(begin))
    assert tally.cases == FAST
    check_quotas(tally)


def check_quotas(tally: Tally) -> None:
    binding = dict(tally.binding)
    binding["performance"] = sum(binding.get(kind, 0) for kind in PERFORMANCE)
    sole = dict(tally.sole_cause)
    sole["performance"] = sum(sole.get(kind, 0) for kind in PERFORMANCE)
    assert 0.4 <= tally.share(tally.feasible) <= 0.6
    rare = {kind: binding.get(kind, 0) for kind in BINDING if binding.get(kind, 0) < 0.05 * FAST}
    assert rare == {}, "kinds of requirement that hardly ever change the plan"
    alone = {kind: sole.get(kind, 0) for kind in BINDING if sole.get(kind, 0) < 0.02 * FAST}
    assert alone == {}, "kinds that are hardly ever the only cause of no plan"
    assert tally.binding["gas"] >= 1
    assert tally.binding["joint"] >= 1
    assert tally.share(tally.ties) >= 0.1
    assert tally.share(tally.ties_of_mass) >= 0.1
    assert tally.share(tally.spread_over_bays) >= 0.1
    assert tally.suppliers >= 1


def test_a_seed_is_always_the_same_case() -> None:
    first, again = make_case(3), make_case(3)
    assert first.project == again.project
    assert first.catalog == again.catalog


@pytest.mark.slow
def test_the_cores_that_cases_are_made_with_are_those_of_the_best_plans() -> None:
    """BOMPLAN_WRITE_GOLDEN=1 writes them anew."""
    found = {seed: drawn(seed, ())[1] for seed in range(FAST)}
    if os.environ.get("BOMPLAN_WRITE_GOLDEN"):
        write_cores(found)
        known_cores.cache_clear()
    assert known_cores() == found


@pytest.mark.parametrize("seed", [0, 1])
def test_a_core_that_is_out_of_date_makes_no_difference(seed: int) -> None:
    """One of no row, and one that has no plan: all are looked into then."""
    whole, cores = drawn(seed, ())
    assert cores == known_cores()[seed]
    (core,) = cores
    assert core is not None
    other = core.model_copy(update={"module": "no-such-module"})
    assert drawn(seed, (other,)) == (whole, cores)
    assert drawn(seed, (core,)) == (whole, cores)


@pytest.mark.slow
@pytest.mark.parametrize(
    "seeds",
    [range(start, start + BLOCK) for start in range(FAST, FAST + BLOCK * BLOCKS, BLOCK)],
    ids=[f"block{number}" for number in range(BLOCKS)],
)
def test_many_plans_are_the_brute_force_plans(seeds: range) -> None:
    tally = run_cases(seeds)
    assert tally.wrong == {}
    assert tally.cases == BLOCK
