"""Lugs against the studs that they go on: their own, those of another hole, unknown ones."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest
from shipped_examples import generic, plan_of, project_of

from bomplan.catalog.records import Catalog, Offer, Part, Supplier
from bomplan.design.bill import JOINTS, RULE_OF, DesignCurrents
from bomplan.design.bill.lug_ends import lug_ends, most_ends_elsewhere
from bomplan.design.bill.studs import DRILLED, HOME, STUDDED, hole_sold, holes_words, other_holes
from bomplan.design.commissioning import commissioning
from bomplan.design.context import Context
from bomplan.design.drive import Drive, resolve
from bomplan.design.planfile import catalog_of
from bomplan.design.planfile import project_of as project_in
from bomplan.design.records import Check
from bomplan.project.buying import Buying

NAME = "courier-motorcycle"


def row(family: str, part_id: str, **figures: Any) -> Part:
    part = generic().family(family)[part_id]
    changed = {key: value for key, value in (part.figures | figures).items() if value is not None}
    return part.model_copy(update={"figures": changed})


def here(catalog: Catalog | None = None, **choices: Any) -> tuple[Context, Drive]:
    plan, project = plan_of(NAME), project_of(NAME)
    assert plan.core is not None
    project = project.model_copy(update={"choices": project.choices.model_copy(update=choices)})
    context = Context(project, catalog or generic())
    return context, resolve(context, plan.core)


NO_CURRENTS = DesignCurrents(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0, "")


def judged(lug: Part, part: Part, **choices: Any) -> list[Check]:
    context, drive = here(**choices)
    (joint,) = [one for one in JOINTS if (one.first, one.second) == ("lug", part.family)]
    return list(joint.judge(context, drive, NO_CURRENTS, lug, part))


LUG = ("lug", "lug-35mm2-m8")


@pytest.mark.parametrize(("stud_mm", "passed"), [(6, False), (8, True), (10, False)])
def test_the_bill_s_lugs_fit_the_junction_box(stud_mm: float, passed: bool) -> None:
    box = row(HOME, "junction-box-small", stud_mm=stud_mm)
    (check,) = judged(row(*LUG), box)
    assert (check.id, check.passed, check.caution) == ("lug.stud.junction_box", passed, DRILLED)


@pytest.mark.parametrize(
    ("stud_mm", "passed"), [(5, False), (6, True), (8, True), (10, True), (12, False)]
)
def test_elsewhere_a_lug_of_the_section_with_that_hole_must_be_sold(
    stud_mm: float, passed: bool
) -> None:
    holder = row("fuse_holder", "fuse-holder-bolt-80-s", stud_mm=stud_mm)
    (check,) = judged(row(*LUG), holder)
    assert (check.id, check.passed) == ("lug.stud.fuse_holder", passed)


@pytest.mark.parametrize("family", STUDDED)
def test_a_stud_that_the_catalogue_does_not_give_is_no_check(family: str) -> None:
    rows = generic().family(family)
    assert judged(row(*LUG), row(family, min(rows), stud_mm=None)) == []


def test_what_the_builder_will_not_have_is_not_sold_to_him() -> None:
    context, drive = here()
    found = hole_sold(context, drive, 35.0, 10.0)
    assert found is not None
    assert found.id == "lug-35mm2-m10"
    without, _ = here(excluded=("lug-35mm2-m10",))
    assert hole_sold(without, drive, 35.0, 10.0) is None


@pytest.mark.parametrize(("stud_mm", "passed"), [(6, False), (8, True), (10, False)])
def test_a_link_lug_fits_the_module_itself(stud_mm: float, passed: bool) -> None:
    context, drive = here(with_row(row("module", "lfp-cell-80", stud_mm=stud_mm)))
    checks = RULE_OF["link_lug"].suits(
        context, drive, NO_CURRENTS, row("link_lug", "link-lug-35mm2-m8")
    )
    assert [(check.id, check.passed) for check in checks] == [("link_lug.stud", passed)]


def with_row(part: Part) -> Catalog:
    families = dict(generic().families)
    families[part.family] = {**families[part.family], part.id: part}
    return generic().model_copy(update={"families": families})


def chosen() -> dict[str, Part]:
    plan = plan_of(NAME)
    return {
        line.family: generic().family(line.family)[line.part]
        for line in plan.lines
        if line.part in generic().families.get(line.family, {})
    }


def rows_of(context: Context) -> tuple[int, ...]:
    stands = {use.bay: use.series for use in plan_of(NAME).placement}
    return tuple(stands.get(bay.name, 0) for bay in context.bays)


def test_the_plan_says_how_many_lugs_need_which_hole() -> None:
    """Of the motorcycle's 22: four at cells of M6, two at contactors of M6, the others M8."""
    plan = plan_of(NAME)
    parts = chosen()
    by_stud: dict[float, int] = {}
    context, drive = here()
    for family, number in lug_ends(drive, rows_of(context)).items():
        stud = parts[family].number("stud_mm")
        by_stud[stud] = by_stud.get(stud, 0) + number
    own = parts["lug"].number("stud_mm")
    told = [one for one in plan.cautions if one.startswith("To order: of the")]
    others = {stud: number for stud, number in by_stud.items() if stud != own}
    assert others
    assert len(told) == len(others)
    for (stud, number), words in zip(sorted(others.items()), told, strict=True):
        assert f"cable {number} with a hole for M{stud:g} " in words
        area = parts["lug"].number("area_mm2")
        assert f"lug-{area:g}mm2-m{stud:g}" in words
    line = next(one for one in plan.lines if one.family == "lug")
    assert sum(by_stud.values()) == line.quantity


def test_an_unknown_stud_is_told_to_be_measured() -> None:
    context, drive = here()
    parts = chosen() | {"motor": row("motor", plan_motor(), stud_mm=None)}
    told = holes_words(context, drive, rows_of(context), parts)
    (measure,) = [one for one in told if one.startswith("Not checked")]
    assert "3 of the 22 lugs" in measure
    assert "(motor 3)" in measure


def plan_motor() -> str:
    core = plan_of(NAME).core
    assert core is not None
    return core.motor


def test_the_plan_carries_the_lugs_of_other_holes_and_is_audited_by_them() -> None:
    plan = plan_of(NAME)
    embedded = catalog_of(plan)
    context = Context(project_in(plan), embedded)
    assert plan.core is not None
    others = other_holes(context, resolve(context, plan.core), chosen().values())
    assert others
    assert {part.id for part in others} < set(embedded.family("lug"))
    stud = [check for check in plan.checks if check.id.startswith("lug.stud.")]
    families = {check.id.removeprefix("lug.stud.") for check in stud}
    assert families == {*STUDDED, "module", "controller", "motor"}
    assert all(check.passed for check in stud)


def test_the_sheets_count_every_end_once() -> None:
    plan = plan_of(NAME)
    found = commissioning(plan)
    line = next(one for one in plan.lines if one.family == "lug")
    assert sum(hole.ends for hole in found.holes) == line.quantity
    assert [hole.stud_mm for hole in found.holes] == sorted(
        hole.stud_mm or 0.0 for hole in found.holes
    )
    assert all(hole.lug for hole in found.holes)


M10 = "lug-35mm2-m10"


def few_lugs(stock: int | None, owned: int, lead_days: int = 7) -> tuple[Context, Drive]:
    """The lugs for M10 from one seller with so many in stock, and so many at hand."""
    offer = Offer(part=M10, supplier="north", unit_price=90, pack_size=2, stock=stock)
    seller = Supplier(id="north", currency="EUR", lead_days=lead_days)
    update = {"offers": (offer,), "suppliers": {"north": seller}}
    return here(generic().model_copy(update=update), owned={M10: owned} if owned else {})


def test_no_placement_has_more_ends_outside_the_junction_box() -> None:
    """One string in two or three boxes; a cut inside one of them takes two ends more."""
    context, drive = here()
    most = most_ends_elsewhere(context, drive)
    bays = range(len(context.bays))
    series = drive.core.series
    for rows in product(range(series + 1), repeat=len(bays)):
        if sum(rows) == series:
            ends = lug_ends(drive, rows)
            assert sum(ends.values()) - ends.get(HOME, 0) <= most


def test_lugs_of_another_hole_are_at_hand_or_in_stock_for_every_end() -> None:
    most = most_ends_elsewhere(*here())
    assert most % 2 == 0

    def had(stock: int | None, owned: int = 0, lead_days: int = 7) -> bool:
        context, drive = few_lugs(stock, owned, lead_days)
        context = Context(
            context.project.model_copy(update={"buying": Buying(deadline_days=14)}),
            context.catalog,
        )
        return hole_sold(context, drive, 35.0, 10.0) is not None

    assert had(None)
    assert had(most)
    assert not had(most - 1)  # whole packs of two
    assert not had(most - 2, owned=1)
    assert had(most - 2, owned=2)
    # Too late to be bought: what is at hand must do.
    assert not had(None, lead_days=15)
    assert not had(None, owned=most - 1, lead_days=15)
    assert had(None, owned=most, lead_days=15)


def test_the_plan_says_how_many_of_another_hole_are_at_hand() -> None:
    context, drive = here(owned={M10: 3})
    parts = chosen() | {"fuse_holder": row("fuse_holder", "fuse-holder-bolt-80-s", stud_mm=10)}
    told = holes_words(context, drive, rows_of(context), parts)
    assert any(f"as {M10}, of which 3 are at hand." in one for one in told)
