"""Volts lost in the traction cables at the peak: told above the house rule, or forbidden."""

from __future__ import annotations

from typing import Any

import pytest
from shipped_examples import generic, plan_of, project_of
from todays_plan import todays_plan

from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.audit.typed_list import TypedPart
from bomplan.design.bill.peak_drop import SAGS, peak_drop_checks, peak_drop_words
from bomplan.design.bill.traction import Cable
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.planfile import catalog_of
from bomplan.design.planfile import project_of as project_in
from bomplan.project.records import Project

THREE = [(2.99, True), (3.0, True), (3.01, False)]


def project(**rules: Any) -> Project:
    own = project_of("courier-motorcycle")
    house = own.house_rules.model_copy(update=rules)
    return own.model_copy(update={"house_rules": house})


@pytest.mark.parametrize(("lost", "passed"), THREE)
def test_a_forbidden_drop_is_a_check_with_its_limit(lost: float, passed: bool) -> None:
    context = Context(project(peak_drop="forbid"), generic())
    (check,) = peak_drop_checks(context, lost)
    assert (check.id, check.limit, check.passed) == ("cable.drop-at-peak", 3.0, passed)
    assert check.caution == SAGS
    assert peak_drop_words(context, cable(), lost, 200.0) == ()


@pytest.mark.parametrize(("lost", "quiet"), THREE)
def test_a_drop_above_the_house_rule_is_told_where_it_only_warns(lost: float, quiet: bool) -> None:
    context = Context(project(), generic())
    assert list(peak_drop_checks(context, lost)) == []
    told = peak_drop_words(context, cable(), lost, 200.0)
    assert (told == ()) is quiet
    if told:
        assert f"up to {lost:.1f} %" in told[0]
        assert "200 A" in told[0]
        assert "common practice" in told[0]


def test_the_limit_is_the_builder_s_own() -> None:
    context = Context(project(peak_drop_share=0.05, peak_drop="forbid"), generic())
    assert [check.limit for check in peak_drop_checks(context, 4.0)] == [5.0]


def cable() -> Any:
    rows = generic().family("cable")
    return rows[min(rows)]


def test_a_plan_that_loses_more_says_so_first_of_what_is_left_open() -> None:
    """By the ohms of its own cable and loop, counted here."""
    plan = todays_plan()
    assert plan.core is not None
    assert plan.performance is not None
    context = Context(project_in(plan), catalog_of(plan))
    drive = resolve(context, plan.core)
    line = next(one for one in plan.lines if one.family == "cable")
    part = context.catalog.part(line.part)
    lost = Cable.lost_share(context, drive, part, plan.performance.design_peak_a)
    told = [one for one in plan.cautions if "peak_drop_share" in one]
    assert bool(told) == (lost > 3.0)
    twice = Cable.lost_share(context, drive, part, 2 * plan.performance.design_peak_a)
    assert twice == pytest.approx(2 * lost)
    by_hand = plan.performance.design_peak_a * 1.2e-3 * part.number("resistance_mohm_per_m")
    least = 100 * by_hand * line.quantity / drive.figures.nominal_v
    assert lost >= least  # every bay cabled, the plan's own at least


def test_a_list_that_loses_more_than_it_may_fails() -> None:
    told = plan_of("courier-motorcycle")
    assert told.core is not None
    lines = {
        line.family: TypedPart(line.family, line.part, "", line.quantity)
        for line in told.lines
        if line.family not in ("shipping", "rounding", "duty", "tax")
    }
    stands = {use.bay: use.series for use in told.placement}
    said = PackSaid(stands, final_ratio=told.core.final_ratio)
    tight = project(peak_drop="forbid", peak_drop_share=0.0005)
    found = audit_parts_list(tight, generic(), lines, said)
    failed = [check for check in found.checks if check.id == "cable.drop-at-peak"]
    assert [check.passed for check in failed] == [False]
    loose = audit_parts_list(project(), generic(), lines, said)
    assert not [check for check in loose.checks if check.id == "cable.drop-at-peak"]
