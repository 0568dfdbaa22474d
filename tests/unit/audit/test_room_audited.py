"""What a bay holds, to the module and the millimetre, as audits of lists and plans see it."""

from __future__ import annotations

from typing import Any

import pytest
from todays_plan import todays_plan

from bomplan.audit import audit_plan
from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.audit.typed_list import TypedPart
from bomplan.catalog.records import Catalog
from bomplan.design.context import Context
from bomplan.design.records import Check, Plan
from bomplan.errors import Fault, InputError
from bomplan.project.records import Project

WHOLE = PackSaid({"bonnet": 1, "bed": 3})


def shortened(project: Project, catalog: Catalog, module: str, count: int) -> Project:
    """The project whose bed is as short as it may be for ``count`` of these modules."""
    part = catalog.family("module")[module]
    place = [bay.name for bay in project.bays].index("bed")

    def cut(length_mm: int) -> Project:
        return with_bed(project, length_mm)

    short, enough = 1, project.bays[place].length_mm
    while enough - short > 1:
        middle = (short + enough) // 2
        if Context(cut(middle), catalog).layout(place, part).count >= count:
            enough = middle
        else:
            short = middle
    return cut(enough)


def with_bed(project: Project, length_mm: int) -> Project:
    return project.model_copy(
        update={
            "bays": tuple(
                bay.model_copy(update={"length_mm": length_mm}) if bay.name == "bed" else bay
                for bay in project.bays
            )
        }
    )


def test_a_bay_that_just_holds_its_modules_and_one_a_millimetre_shorter(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    """Nine modules stand in the bed, three side by side; as many may be said to stand there."""
    just = shortened(project, catalog, typed["module"].part, 9)
    found = audit_parts_list(just, catalog, typed, WHOLE)
    assert found.plan is not None
    assert {use.bay: use.modules for use in found.plan.placement} == {"bonnet": 3, "bed": 9}
    assert [one.id for one in found.checks if one.id.startswith("list.room")] == []

    bed = next(bay for bay in just.bays if bay.name == "bed")
    short = with_bed(project, bed.length_mm - 1)
    missed = audit_parts_list(short, catalog, typed, WHOLE)
    assert missed.plan is None
    part = catalog.family("module")[typed["module"].part]
    held = Context(short, catalog).layout(1, part).count
    assert held < 9
    assert [one for one in missed.checks if one.id.startswith("list.room")] == [
        Check(
            id="list.room.bed",
            words=f"modules of {part.id} said to stand in bay bed against what it holds",
            value=9, limit=held, unit="modules", sense="at most", passed=False,
            source="counted from the bay's and the module's measures", source_kind="computed",
        )
    ]  # fmt: skip


def test_one_module_more_than_the_bay_holds(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    """Without any side by side the limit is met to the module; every bay too full is told."""
    part = catalog.family("module")[typed["module"].part]
    held = [Context(project, catalog).layout(place, part).count for place in range(2)]

    def told(bonnet: int, bed: int) -> list[tuple[str, float, float]]:
        typed["module"].quantity = bonnet + bed
        said = PackSaid({"bonnet": bonnet, "bed": bed}, parallel=1)
        found = audit_parts_list(project, catalog, typed, said)
        assert (found.plan is None) == (bonnet > held[0] or bed > held[1])
        return [
            (one.id, one.value, one.limit) for one in found.checks if one.id.startswith("list.room")
        ]

    assert min(held) > 0
    assert told(held[0], held[1]) == []
    assert told(held[0] + 1, held[1]) == [("list.room.bonnet", held[0] + 1, held[0])]
    assert told(held[0], held[1] + 1) == [("list.room.bed", held[1] + 1, held[1])]
    assert [one[0] for one in told(held[0] + 1, held[1] + 1)] == [
        "list.room.bonnet",
        "list.room.bed",
    ]


def test_a_plan_in_a_bed_that_just_holds_its_modules(project: Project, catalog: Catalog) -> None:
    """A millimetre less, and there is nothing that could be weighed or checked."""
    core = todays_plan().core
    assert core is not None
    just = shortened(project, catalog, core.module, 9)
    length = next(bay for bay in just.bays if bay.name == "bed").length_mm

    def in_bed(length_mm: int) -> Plan:
        used = with_bed(project, length_mm).model_dump(mode="json")
        return todays_plan().model_copy(update={"project_used": used})

    assert "bay.all-placed" in {one.id for one in audit_plan(in_bed(length)) if one.passed}
    with pytest.raises(InputError) as caught:
        audit_plan(in_bed(length - 1))
    short = Context(with_bed(project, length - 1), catalog)
    held = short.layout(1, catalog.family("module")[core.module]).count
    assert caught.value.faults == (
        Fault(
            "audit.bay-too-small",
            "the plan puts more modules into a bay than find room there",
            where="placement, bed",
            value="9 modules",
            allowed=f"{held} at most",
            hint="measure the bay again, or plan anew",
        ),
    )


def test_a_plan_without_a_weighing_has_no_axle_load_to_compare() -> None:
    found: dict[str, Any] = {
        one.id: one for one in audit_plan(todays_plan().model_copy(update={"mass": None}))
    }
    assert found["audit.axles"].value == float("inf")
    for name in ("audit.mass", "audit.axles", "audit.mass-record"):
        assert not found[name].passed
