"""Lugs of the traction cable: as many as its cables have ends, found from the circuit."""

from __future__ import annotations

from copy import deepcopy

import pytest
from shipped_examples import NAMES, plan_of, project_of
from todays_plan import todays_plan

from bomplan.audit.lugs import BARE, lug_checks
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.lug_ends import drivers_cable_mm, drivers_way_mm, lug_ends
from bomplan.design.circuit import circuit
from bomplan.design.circuit_ends import cable_ends
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.planfile import catalog_of
from bomplan.design.planfile import project_of as project_in
from bomplan.design.records import Plan
from bomplan.project.records import Project

SHIPPED = [
    pytest.param(name, marks=() if name == "courier-motorcycle" else pytest.mark.slow)
    for name in NAMES
]


def with_lugs(plan: Plan, more: int) -> Plan:
    lines = tuple(
        line.model_copy(update={"quantity": line.quantity + more}) if line.family == "lug" else line
        for line in plan.lines
    )
    return plan.model_copy(update={"lines": lines})


@pytest.mark.parametrize(("more", "passed"), [(-1, False), (0, True), (1, True)])
def test_one_lug_less_than_ends_is_told_with_its_danger(more: int, passed: bool) -> None:
    check, _ = lug_checks(with_lugs(todays_plan(), more))
    assert check.passed is passed
    assert check.caution == BARE


@pytest.mark.parametrize("name", SHIPPED)
def test_the_bill_counts_by_place_what_the_circuit_counts_by_wire(name: str) -> None:
    plan = plan_of(name)
    assert plan.core is not None
    context = Context(project_in(plan), catalog_of(plan))
    drive = resolve(context, plan.core)
    stands = {use.bay: use.series for use in plan.placement}
    rows = tuple(stands.get(bay.name, 0) for bay in context.bays)
    by_place = lug_ends(context, drive, rows)
    found = circuit(plan)
    assert by_place == {family: len(tags) for family, tags in cable_ends(found).items()}
    check, holes = lug_checks(plan)
    assert holes.passed
    assert check.value == check.limit == sum(by_place.values())


@pytest.mark.parametrize(("stud_mm", "passed"), [(6.0, True), (8.0, True), (12.0, False)])
def test_a_stud_that_no_lug_of_the_plan_fits_is_found(stud_mm: float, passed: bool) -> None:
    plan = with_stud(plan_of("courier-motorcycle"), "controller", stud_mm)
    _, holes = lug_checks(plan)
    assert holes.passed is passed
    assert holes.value == (0 if passed else 5)
    assert ("T1" in holes.words) is not passed


def test_a_stud_that_nobody_knows_is_no_fault() -> None:
    _, holes = lug_checks(with_stud(plan_of("courier-motorcycle"), "controller", None))
    assert holes.passed


def with_stud(plan: Plan, family: str, stud_mm: float | None) -> Plan:
    """The plan with another stud on one family's embedded row."""
    used = deepcopy(plan.parts_used)
    for row in used["parts"]:
        if row["family"] == family:
            row["figures"].pop("stud_mm", None)
            if stud_mm is not None:
                row["figures"]["stud_mm"] = stud_mm
    return plan.model_copy(update={"parts_used": used})


def moved(project: Project, **place: int | None) -> Project:
    """The project with the driver's disconnect elsewhere; without one where nothing is given."""
    parts = tuple(one for one in project.places.parts if one.family != "emergency_disconnect")
    if place:
        own = project.places.own("emergency_disconnect")
        assert own is not None
        parts = (*parts, own.model_copy(update=place))
    places = project.places.model_copy(update={"parts": parts})
    return project.model_copy(update={"places": places})


def test_the_cable_to_the_driver_s_disconnect_follows_its_place() -> None:
    """980 mm back and 650 up to 700 and 700: 280 and 50, half a metre of ends, 15 % of slack."""
    project = project_of("courier-motorcycle")
    catalog = catalog_of(todays_plan())
    context = Context(project, catalog)
    assert drivers_way_mm(context) == 280 + 50 + 500
    assert drivers_cable_mm(context) == 955
    bolted = Context(moved(project), catalog)
    assert drivers_way_mm(bolted) == drivers_cable_mm(bolted) == 0
    farther = Context(moved(project, x_mm=690), catalog)
    assert drivers_cable_mm(farther) == 966


def test_what_a_disconnect_of_its_own_place_asks_for() -> None:
    project = project_of("courier-motorcycle")
    plan = plan_of("courier-motorcycle")
    assert plan.core is not None
    catalog = catalog_of(plan)
    here, bolted = (Context(one, catalog) for one in (project, moved(project)))
    part = catalog.family("cable")[min(catalog.family("cable"))]

    def base(context: Context, family: str) -> int:
        assert plan.core is not None
        return RULE_OF[family].base(context, resolve(context, plan.core), part)

    more = {
        family: base(here, family) - base(bolted, family)
        for family in ("cable", "lug", "gland", "conduit")
    }
    assert more == {"cable": 2, "lug": 4, "gland": 2, "conduit": 2}
