"""Lugs of the traction cable: as many as its cables have ends, found from the circuit."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace

import pytest
from shipped_examples import NAMES, plan_of, project_of
from todays_plan import todays_plan

from bomplan import api
from bomplan.audit.lugs import BARE, lug_checks
from bomplan.catalog.records import Offer, Supplier
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.lug_ends import detour_words, lug_ends
from bomplan.design.circuit import circuit
from bomplan.design.circuit_ends import cable_ends
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.planfile import catalog_of
from bomplan.design.planfile import project_of as project_in
from bomplan.design.records import Plan
from bomplan.project.records import Project
from bomplan.report.drawings.circuit import circuit_svg
from bomplan.report.drawings.circuit_key import fuse_joints
from bomplan.requirements.cautions import to_settle

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
    by_place = lug_ends(drive, rows)
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


@pytest.mark.parametrize(
    ("stock", "owned", "late", "passed"),
    [(None, 0, False, True), (4, 0, False, True), (3, 0, False, False), (3, 1, False, True),
     (None, 3, True, False), (4, 3, True, False), (None, 4, True, True)],
)  # fmt: skip
def test_no_more_lugs_of_another_hole_than_at_hand_and_in_stock(
    stock: int | None, owned: int, late: bool, passed: bool
) -> None:
    """The motorcycle's cells take four with a hole for M6, and the contactors two: six of one
    row, of which two are here at hand beside those told."""
    plan = plan_of("courier-motorcycle")
    (row,) = [
        one
        for one in plan.parts_used["parts"]
        if one["family"] == "lug" and one["figures"]["stud_mm"] == 6.0
    ]
    ends = sum(
        len(tags)
        for family, tags in cable_ends(circuit(plan)).items()
        for part in plan.parts_used["parts"]
        if part["family"] == family and part["figures"].get("stud_mm") == 6.0
    )
    assert ends == 6
    used, project = deepcopy(plan.parts_used), deepcopy(plan.project_used)
    offer = Offer(part=row["id"], supplier="north", unit_price=90, stock=stock)
    seller = Supplier(id="north", currency="EUR", lead_days=15)
    used["offers"].append(offer.model_dump(mode="json"))
    used["suppliers"].append(seller.model_dump(mode="json"))
    project["choices"]["owned"] = {row["id"]: owned + 2}
    project["buying"]["deadline_days"] = 14 if late else 15
    told = {"parts_used": used, "project_used": project}
    _, holes = lug_checks(plan.model_copy(update=told))
    assert holes.passed is passed


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


@pytest.mark.parametrize(("x_mm", "away_mm"), [(979, 51), (980, 50), (981, 51), (700, 330)])
def test_the_way_by_the_driver_s_disconnect_is_told_for_the_bill_holds_no_cable_to_it(
    x_mm: int, away_mm: int
) -> None:
    """From the junction box, 980 mm back and 650 up, along and up."""
    plan = plan_of("courier-motorcycle")
    catalog = catalog_of(plan)
    (disconnect,) = catalog.family("emergency_disconnect").values()
    context = Context(moved(project_of("courier-motorcycle"), x_mm=x_mm), catalog)
    (words,) = detour_words(context, disconnect)
    assert f"{away_mm} mm from the junction box" in words
    assert "two lugs more" in words
    assert detour_words(context, None) == ()


@pytest.mark.parametrize("name", SHIPPED)
def test_what_joins_a_fuse_to_its_cells_is_told_for_the_bill_holds_nothing_for_it(
    name: str,
) -> None:
    """One joint for each fuse of the circuit, and no end of the bill's cable at it."""
    plan = plan_of(name)
    found = circuit(plan)
    joints = fuse_joints(found)
    assert len(joints) == len([one for one in found.of("fuse") if one.family == "fuse"])
    assert all(fuse.box == cells.box and fuse.string == cells.string for fuse, cells in joints)
    assert cable_ends(found)["fuse_holder"] == [fuse.tag for fuse, _ in joints]
    (told,) = [one for one in plan.cautions if one.startswith("Not in the bill: what joins")]
    assert to_settle(told)
    number = "the main fuse" if len(joints) == 1 else f"each of the {len(joints)} main fuses"
    assert number in told
    page = " ".join(api.sheets(plan)["check-sheets.html"].split())
    drawn = circuit_svg(plan)
    for fuse, cells in joints[:3]:
        assert f"{fuse.tag} to {cells.tag}+ in box" in page
        assert f"{fuse.tag} to {cells.tag}+" in drawn


def test_a_disconnect_in_the_junction_box_or_on_a_pull_cable_asks_for_no_detour() -> None:
    plan, project = plan_of("courier-motorcycle"), project_of("courier-motorcycle")
    catalog = catalog_of(plan)
    (disconnect,) = catalog.family("emergency_disconnect").values()
    (nowhere,) = detour_words(Context(moved(project), catalog), disconnect)
    assert to_settle(nowhere)
    assert "counted as bolted in the junction box" in nowhere
    assert detour_words(Context(moved(project), catalog), None) == ()
    there = Context(moved(project, x_mm=980, y_mm=None, z_mm=650), catalog)
    assert detour_words(there, disconnect) == ()
    pulled = disconnect.model_copy(update={"figures": {**disconnect.figures, "pull_cable": True}})
    assert detour_words(Context(project, catalog), pulled) == ()
    assert detour_words(Context(moved(project), catalog), pulled) == ()
    assert detour_words(Context(project, catalog), disconnect) != ()
    assert any("positive cable by" in one for one in plan.cautions)


def test_three_phases_take_three_cables_and_a_chopper_two() -> None:
    plan = plan_of("courier-motorcycle")
    assert plan.core is not None
    drive = resolve(Context(project_in(plan), catalog_of(plan)), plan.core)
    chopper = replace(
        drive,
        controller=drive.controller.model_copy(
            update={"figures": {**drive.controller.figures, "kind": "chopper"}}
        ),
    )
    rows = tuple(use.series for use in plan.placement)
    assert lug_ends(drive, rows)["motor"] == 3
    assert lug_ends(chopper, rows)["motor"] == 2
    part = drive.module
    lug = RULE_OF["lug"]
    context = Context(project_in(plan), catalog_of(plan))
    assert lug.base(context, drive, part) == 10
    assert lug.base(context, chopper, part) == 8
