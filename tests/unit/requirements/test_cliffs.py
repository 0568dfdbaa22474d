"""A range that a little more of everything breaks is told; one that only shrinks is not."""

from __future__ import annotations

from shipped_examples import drive_of, plan_of

from bomplan.design.records import Couplers
from bomplan.requirements.cliffs import cliffs


def test_a_winter_range_that_hangs_at_one_hill_is_told_with_both_figures() -> None:
    plan, (_, _, simulator) = plan_of("courier-motorcycle"), drive_of("courier-motorcycle")
    assert plan.couplers is not None
    (told,) = cliffs(simulator, plan.couplers)
    assert told in plan.cautions
    (target,) = (one for one in simulator.context.project.targets.range if one.name in told)
    worse = Couplers(
        added_g=plan.couplers.added_g + round(0.01 * simulator.context.reference_mass_g),
        external_uohm=round(1.1 * plan.couplers.external_uohm),
        mean_12v_w=round(1.1 * plan.couplers.mean_12v_w),
    )
    answer = simulator.range(target, worse)
    assert answer.end_cause == "voltage"
    assert answer.distance_m < target.distance_m
    assert f" it is {answer.distance_m / 1000 - 0.05:.1f} km" in told
    assert "cut-off" in told


def test_with_less_in_the_way_nothing_hangs() -> None:
    plan, (_, _, simulator) = plan_of("courier-motorcycle"), drive_of("courier-motorcycle")
    assert plan.couplers is not None
    half = plan.couplers.external_uohm // 2
    assert cliffs(simulator, plan.couplers.model_copy(update={"external_uohm": half})) == ()


def test_what_is_missed_already_is_left_to_its_own_check() -> None:
    plan, (_, _, simulator) = plan_of("courier-motorcycle"), drive_of("courier-motorcycle")
    assert plan.couplers is not None
    bad = plan.couplers.model_copy(update={"external_uohm": 2 * plan.couplers.external_uohm})
    told = cliffs(simulator, bad)
    assert not any("a cold day" in one for one in told)
