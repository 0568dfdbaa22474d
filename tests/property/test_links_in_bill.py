"""Bars, cable and lugs of the bill against the links of the order, counted here once more."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lanes import examples
from shipped_examples import NAMES, generic, plan_of, project_of

from bomplan.audit import audit_plan
from bomplan.design.assemble import placement_records
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.links import LINK_FAMILIES, bars_reach
from bomplan.design.context import Context
from bomplan.design.drive import Drive, pack_figures, resolve
from bomplan.design.planfile import catalog_of
from bomplan.design.planfile import project_of as project_in
from bomplan.design.records import BayUse, Core, Plan

MODULES = sorted(generic().family("module"))


def drive_with(context: Context, module: str, series: int, parallel: int, strings: bool) -> Drive:
    """The motorcycle's drive with another pack, whether or not the two suit each other."""
    pair = context.catalog.pairs[0]
    part = context.catalog.family("module")[module]
    core = Core(
        motor=pair.motor,
        controller=pair.controller,
        final_ratio=5.0,
        module=module,
        series=series,
        parallel=parallel,
        topology="strings" if strings else "groups",
    )
    return Drive(
        core,
        context.catalog.family("motor")[pair.motor],
        context.catalog.family("controller")[pair.controller],
        pair,
        part,
        pack_figures(part, series, parallel),
    )


def needs(context: Context, use: BayUse) -> tuple[int, int, int]:
    """Bars, metres of cable and lugs of one box, from the recorded links."""
    rules = context.project.house_rules
    cables = [
        math.ceil(link.length_mm * (1 + rules.cable_slack)) + 100
        for link in use.links
        if link.joins != "neighbours" or link.length_mm > rules.link_reach_mm
    ]
    return len(use.links) - len(cables), math.ceil(sum(cables) / 1000), 2 * len(cables)


@settings(max_examples=examples(20, 200), deadline=None)
@given(
    st.sampled_from(MODULES),
    st.lists(
        st.tuples(st.integers(250, 1200), st.integers(200, 900), st.integers(120, 500)),
        min_size=1,
        max_size=2,
    ),
    st.integers(1, 3),
    st.integers(1, 30),
    st.booleans(),
    st.integers(40, 300),
)
def test_the_bill_holds_what_the_order_is_made_of(
    module: str,
    rooms: list[tuple[int, int, int]],
    parallel: int,
    most: int,
    strings: bool,
    reach: int,
) -> None:
    project = project_of("courier-motorcycle")
    first = project.bays[0]
    sizes = [
        {"name": f"bay {n}", "length_mm": a, "width_mm": b, "height_mm": c}
        for n, (a, b, c) in enumerate(rooms)
    ]
    context = Context(
        project.model_copy(
            update={
                "bays": tuple(
                    first.model_copy(update={**one, "boxes": (), "blocked": ()}) for one in sizes
                ),
                "house_rules": project.house_rules.model_copy(update={"link_reach_mm": reach}),
            }
        ),
        generic(),
    )
    part = generic().family("module")[module]
    rows = tuple(
        min(most, context.layout(bay, part).count // parallel) for bay in range(len(rooms))
    )
    assume(sum(rows))
    drive = drive_with(context, module, sum(rows), parallel, strings)
    uses = placement_records(context, drive, rows)
    at = [bay for bay, count in enumerate(rows) if count]
    for bay, use in zip(at, uses, strict=True):
        bars, metres, lugs = needs(context, use)
        counted = {
            family: RULE_OF[family].in_bay(context, drive, part, bay, rows[bay])
            for family in ("link", *LINK_FAMILIES)
        }
        assert counted["link_cable"] == metres
        assert counted["link_lug"] == lugs
        assert counted["link"] >= bars
        if bars_reach(context, drive, bay):
            # what a disconnect stands in for stays to spare
            assert counted["link"] - len(use.links) in (0, parallel if strings else 1)
        else:
            assert counted["link"] == bars == 0
        for family in LINK_FAMILIES:
            rule = RULE_OF[family]
            assert rule.least_in_bay(context, drive, part, bay, rows[bay]) <= counted[family]
            assert rule.most_in_bay(context, drive, part, bay, rows[bay]) >= counted[family]


@pytest.mark.parametrize("name", NAMES)
def test_each_example_buys_what_its_order_is_made_of(name: str) -> None:
    plan = plan_of(name)
    context = Context(project_in(plan), catalog_of(plan))
    found = [needs(context, use) for use in plan.placement]
    pieces = {line.family: line.quantity for line in plan.lines}
    assert pieces.get("link_cable", 0) == sum(metres for _, metres, _ in found)
    assert pieces.get("link_lug", 0) == sum(lugs for _, _, lugs in found)
    assert pieces.get("link", 0) >= sum(bars for bars, _, _ in found)
    told = next((line.why for line in plan.lines if line.family == "link_cable"), "")
    assert ("cut" in told) == (pieces.get("link_cable", 0) > 0)


def short_by_one(plan: Plan, family: str) -> Plan:
    return plan.model_copy(
        update={
            "lines": tuple(
                line.model_copy(update={"quantity": line.quantity - 1})
                if line.family == family
                else line
                for line in plan.lines
            )
        }
    )


@pytest.mark.parametrize("family", LINK_FAMILIES)
def test_the_audit_misses_what_a_long_link_lacks(family: str) -> None:
    """The pickup's blocks are wide: no bar reaches from one to the next."""
    plan = plan_of("garden-pickup")
    assert resolve(Context(project_in(plan), catalog_of(plan)), plan.core)
    missed = {check.id for check in audit_plan(short_by_one(plan, family)) if not check.passed}
    assert f"audit.links.{family}" in missed
    assert f"audit.quantity.{family}" in missed


@pytest.mark.parametrize("name", NAMES)
def test_hours_are_those_of_the_bars_that_are_fitted(name: str) -> None:
    plan = plan_of(name)
    context = Context(project_in(plan), catalog_of(plan))
    bars = sum(needs(context, use)[0] for use in plan.placement)
    for line in plan.lines:
        if line.family != "link":
            assert line.to_spare == 0
            continue
        assert line.in_place == bars
        assert line.quantity == bars + line.to_spare
        part = context.catalog.family("link")[line.part]
        assert line.hours == round(bars * part.number("hours_to_fit"), 2)
        assert (f"{bars} fitted" in line.why) == (line.to_spare > 0)
        assert (f"{line.to_spare} to spare" in line.why) == (line.to_spare > 0)
