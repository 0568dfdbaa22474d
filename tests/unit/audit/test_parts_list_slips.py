"""What a typed list leaves open, contradicts or gets wrong, with the words that tell it."""

from __future__ import annotations

from typing import Any

import pytest
from todays_plan import todays_plan

from bomplan.audit.parts_list import ListAudit, PackSaid, audit_parts_list
from bomplan.audit.typed_list import TypedPart
from bomplan.catalog.records import Catalog, Offer
from bomplan.design.bill import RULE_OF
from bomplan.design.records import Check
from bomplan.errors import Fault, InputError
from bomplan.project.buying import SpareRule
from bomplan.project.records import Project

WHOLE = PackSaid({"bonnet": 1, "bed": 3})


def with_choices(project: Project, **changes: Any) -> Project:
    return project.model_copy(update={"choices": project.choices.model_copy(update=changes)})


def with_ratios(project: Project, *ratios: float) -> Project:
    driveline = project.donor.driveline.model_copy(update={"final_ratios": ratios})
    return project.model_copy(
        update={"donor": project.donor.model_copy(update={"driveline": driveline})}
    )


def with_bays(project: Project, *names: str) -> Project:
    return project.model_copy(
        update={"bays": tuple(bay for bay in project.bays if bay.name in names)}
    )


def refused(*words: Any) -> list[Fault]:
    with pytest.raises(InputError) as caught:
        audit_parts_list(*words)
    return list(caught.value.faults)


# -- the pack --------------------------------------------------------------------------------


@pytest.mark.parametrize("family", ["motor", "controller", "module"])
def test_a_list_without_a_core(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart], family: str
) -> None:
    del typed[family]
    assert refused(project, catalog, typed, WHOLE) == [
        Fault("list.no-core", f"the list has no {family}", hint=f"add a row of family {family}")
    ]


def test_every_missing_piece_of_the_core_is_told(project: Project, catalog: Catalog) -> None:
    told = [one.message for one in refused(project, catalog, {})]
    assert told == ["the list has no motor", "the list has no controller", "the list has no module"]


def pack(message: str, allowed: str) -> list[Fault]:
    return [Fault("list.pack", message, where="family module", allowed=allowed)]


def test_modules_that_the_places_do_not_divide(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    assert refused(project, catalog, typed, PackSaid({"bed": 5})) == pack(
        "12 modules cannot stand in 5 places in series", "a number of places that divides 12"
    )
    assert refused(project, catalog, typed, PackSaid({"bed": 0}))[0].message == (
        "12 modules cannot stand in 0 places in series"
    )
    assert refused(project, catalog, typed, PackSaid({"bed": 5, "bonnet": -1}))[0].message == (
        "12 modules cannot stand in 4 places in series"
    )


def test_places_and_modules_side_by_side_that_clash(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    assert refused(project, catalog, typed, PackSaid({"bed": 4}, parallel=2)) == pack(
        "12 modules in 4 places are 3 side by side, not 2",
        "quantity = places x modules side by side",
    )
    # What the project prefers is no clash: the list is what is checked.
    other = with_choices(project, parallel=2)
    found = audit_parts_list(other, catalog, typed, WHOLE)
    assert found.plan is not None
    assert found.plan.core is not None
    assert found.plan.core.parallel == 3


def test_a_bay_that_the_project_does_not_have(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    fault = Fault("list.bay", "is no bay of the project", value="attic", allowed="bonnet, bed")
    assert refused(project, catalog, typed, PackSaid({"attic": 4})) == [fault]
    typed["module"].bays = {"attic": 12}
    assert refused(project, catalog, typed) == [fault]
    both = refused(project, catalog, typed, PackSaid({"attic": 2, "bed": 1, "roof": 1}))
    assert [one.value for one in both] == ["attic", "roof"]


def rows(found: ListAudit) -> dict[str, tuple[int, int]]:
    assert found.plan is not None
    return {use.bay: (use.series, use.modules) for use in found.plan.placement}


def test_bays_of_the_list(project: Project, catalog: Catalog, typed: dict[str, TypedPart]) -> None:
    typed["module"].bays = {"bed": 9, "bonnet": 3}
    said = PackSaid(parallel=3)
    assert rows(audit_parts_list(project, catalog, typed, said)) == {
        "bonnet": (1, 3),
        "bed": (3, 9),
    }
    chosen = with_choices(project, parallel=3)
    assert rows(audit_parts_list(chosen, catalog, typed)) == {"bonnet": (1, 3), "bed": (3, 9)}
    # What is said beside the list goes before what the project prefers.
    assert refused(chosen, catalog, typed, PackSaid(parallel=2)) == pack(
        "modules stand 2 side by side, so every bay holds a multiple of 2", "multiples of 2"
    )


def test_modules_that_stand_nowhere(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    nowhere = pack(
        "the list does not say where every module stands",
        "a column bay (bonnet, bed) in every row of family module, or --placement BAY=PLACES",
    )
    assert refused(project, catalog, typed) == nowhere
    assert refused(project, catalog, typed, PackSaid(parallel=3)) == nowhere
    typed["module"].bays = {"bed": 9, "bonnet": 2}
    assert refused(project, catalog, typed, PackSaid(parallel=3)) == nowhere


def test_in_a_car_of_one_bay_they_stand_there(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    here = with_bays(project, "bed")
    assert rows(audit_parts_list(here, catalog, typed, PackSaid(parallel=3))) == {"bed": (4, 12)}
    # Said nothing, modules stand one by one: twelve places, more than the bed has room for.
    typed["module"].quantity = 4
    found = audit_parts_list(here, catalog, typed)
    assert rows(found) == {"bed": (4, 4)}
    assert found.plan is not None
    assert found.plan.core is not None
    assert (found.plan.core.series, found.plan.core.parallel) == (4, 1)


# -- final drive, wiring, setting --------------------------------------------------------------


def test_one_final_drive_goes_without_saying(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    for said, ratio in ((WHOLE, 3.9), (PackSaid(WHOLE.placement, final_ratio=3.9), 3.9)):
        plan = audit_parts_list(project, catalog, typed, said).plan
        assert plan is not None
        assert plan.core is not None
        assert plan.core.final_ratio == ratio
    assert refused(project, catalog, typed, PackSaid(WHOLE.placement, final_ratio=9.25)) == [
        Fault("list.ratio", "is no final drive that the project offers", value="9.25",
              allowed="3.9", hint="say which with --ratio")
    ]  # fmt: skip


def test_of_several_final_drives_one_is_said(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    several = with_ratios(project, 3.9, 4.3)
    assert refused(several, catalog, typed, WHOLE) == [
        Fault("list.ratio", "the project offers several final drives, and the list says none",
              value=None, allowed="3.9, 4.3", hint="say which with --ratio")
    ]  # fmt: skip
    plan = audit_parts_list(
        several, catalog, typed, PackSaid(WHOLE.placement, final_ratio=4.3)
    ).plan
    assert plan is not None
    assert plan.core is not None
    assert plan.core.final_ratio == 4.3


def test_how_modules_are_wired(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    def topology(said: PackSaid, here: Project = project) -> str:
        plan = audit_parts_list(here, catalog, typed, said).plan
        assert plan is not None
        assert plan.core is not None
        return plan.core.topology

    assert topology(WHOLE) == "groups"
    strings = with_choices(project, topology="strings")
    assert topology(WHOLE, strings) == "strings"
    assert topology(PackSaid(WHOLE.placement, topology="groups"), strings) == "groups"


def test_what_the_controller_is_set_to(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    def setting(said: float | None) -> int | None:
        beside = PackSaid(WHOLE.placement, battery_a=said)
        plan = audit_parts_list(project, catalog, typed, beside).plan
        assert plan is not None
        assert plan.core is not None
        return plan.core.battery_a

    today = todays_plan().core
    assert today is not None
    assert setting(None) == today.battery_a
    assert setting(120.9) == 120
    assert setting(0.2) == 1
    assert setting(1.0) == 1
    assert setting(2.0) == 2


def test_the_highest_of_the_settings_that_the_builder_names(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    named = with_choices(project, battery_current_a=(90, 150))
    plan = audit_parts_list(named, catalog, typed, WHOLE).plan
    assert plan is not None
    assert plan.core is not None
    assert plan.core.battery_a == 150


def test_spares_that_the_project_asks_for(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    assert RULE_OF["fuse"].too_few
    rule = SpareRule(family="fuse", pieces=2)
    buying = project.buying.model_copy(update={"spares": (rule,)})
    plan = audit_parts_list(
        project.model_copy(update={"buying": buying}), catalog, typed, WHOLE
    ).plan
    assert plan is not None
    assert [(one.part, one.asked) for one in plan.spares if one.asked] == [(typed["fuse"].part, 2)]


def test_a_setting_that_does_not_move_the_car_is_told(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    plan = audit_parts_list(project, catalog, typed, PackSaid(WHOLE.placement, battery_a=1)).plan
    assert plan is not None
    assert plan.performance is not None
    assert plan.performance.gradeability == 0.0
    failed = {check.id.split(".")[0] for check in plan.checks if not check.passed}
    assert {"range", "climb"} & failed


# -- suppliers -------------------------------------------------------------------------------


def test_a_part_that_nobody_allowed_sells(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    typed["charger"].supplier = "yard-salvage"
    typed["dcdc"].supplier = "nobody"
    found = refused(project, catalog, typed, WHOLE)
    assert [(one.code, one.where, one.value) for one in found] == [
        ("list.not-for-sale", "family charger", "charger-144v-3300w"),
        ("list.not-for-sale", "family dcdc", "dcdc-96v-400w"),
    ]
    assert found[0].message == "no supplier that the project allows sells this part"
    sellers = {offer.supplier for offer in catalog.offers if offer.part == "charger-144v-3300w"}
    assert found[0].allowed is not None
    assert set(found[0].allowed.split(", ")) == sellers
    assert len(sellers) > 1
    shut = with_choices(project, suppliers=("nobody",))
    told = refused(shut, catalog, typed, WHOLE)
    assert {one.allowed for one in told} == {None}


def seller(found: ListAudit, family: str) -> str:
    assert found.plan is not None
    return next(line.supplier for line in found.plan.lines if line.family == family)


def test_a_supplier_that_is_named_is_taken_and_else_the_cheapest(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    typed["charger"].supplier = ""
    assert seller(audit_parts_list(project, catalog, typed, WHOLE), "charger") == "harbour-parts"
    typed["charger"].supplier = "northern-wholesale"
    assert (
        seller(audit_parts_list(project, catalog, typed, WHOLE), "charger") == "northern-wholesale"
    )


def test_the_cheapest_is_that_for_as_many(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    """Packs of ten at a tenth of the price are dearer for one piece and cheaper for twelve."""
    part = typed["monitor"].part
    offers = (
        Offer(part=part, supplier="harbour-parts", unit_price=1_000),
        Offer(part=part, supplier="northern-wholesale", pack_size=10, unit_price=500),
    )
    here = catalog.model_copy(
        update={"offers": (*(one for one in catalog.offers if one.part != part), *offers)}
    )
    typed["monitor"].supplier = ""
    found = audit_parts_list(project, here, typed, WHOLE)
    assert typed["monitor"].quantity == 12
    assert seller(found, "monitor") == "northern-wholesale"
    typed["monitor"].quantity = 3
    assert seller(audit_parts_list(project, here, typed, WHOLE), "monitor") == "harbour-parts"
    # As dear with either: the first by name.
    even = here.model_copy(
        update={
            "offers": tuple(
                one.model_copy(update={"unit_price": 1_000, "pack_size": 1})
                if one.part == part
                else one
                for one in reversed(here.offers)
            ),
            "suppliers": {
                name: row.model_copy(update={"currency": "EUR"})
                for name, row in here.suppliers.items()
            },
        }
    )
    assert seller(audit_parts_list(project, even, typed, WHOLE), "monitor") == "harbour-parts"


# -- checks ----------------------------------------------------------------------------------


def checks(found: ListAudit) -> dict[str, Check]:
    return {one.id: one for one in found.checks}


@pytest.mark.parametrize(
    ("family", "step", "unit", "more"),
    [
        ("lug", 0, "pieces", ""),
        ("lug", -1, "pieces", ""),
        ("lug", 1, "pieces", " (1 spare, neither weighed nor paid here)"),
        ("lug", 7, "pieces", " (7 spare, neither weighed nor paid here)"),
        ("cable", -1, "m", ""),
        ("hold_down", 0, "kg of modules", ""),
        ("fuse", -1, "pieces", ""),
    ],
)
def test_pieces_on_the_list_against_what_is_fitted(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart], family: str, step: int,
    unit: str, more: str,
) -> None:  # fmt: skip
    fitted = typed[family].quantity
    typed[family].quantity += step
    check = checks(audit_parts_list(project, catalog, typed, WHOLE))[f"list.quantity.{family}"]
    assert check == Check(
        id=f"list.quantity.{family}",
        words=f"{typed[family].part} on the list against what is fitted{more}",
        value=fitted + step, limit=fitted, unit=unit, sense="at least", passed=step >= 0,
        source="counted from the parts list", source_kind="computed",
        caution=RULE_OF[family].too_few,
    )  # fmt: skip


def test_a_family_that_is_missing(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    del typed["fuse"]
    found = audit_parts_list(project, catalog, typed, WHOLE)
    assert found.missing == ("fuse",)
    assert found.plan is None
    assert found.checks[0] == Check(
        id="list.missing.fuse",
        words="the list has a part of family fuse, which this conversion needs",
        value=0, limit=1, unit="yes/no", sense="at least", passed=False,
        source="counted from the parts list", source_kind="computed",
        caution=RULE_OF["fuse"].too_few,
    )  # fmt: skip
    assert RULE_OF["fuse"].too_few


def test_without_one_family_all_else_is_checked(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    """What the parts must pass alone and beside each other is what the whole list is held to."""
    whole = checks(audit_parts_list(project, catalog, typed, WHOLE))
    del typed["labels"]
    part = checks(audit_parts_list(project, catalog, typed, WHOLE))
    left_out = {"list.missing.labels"}
    assert part.keys() - whole.keys() == left_out
    for name in part.keys() - left_out:
        assert part[name] == whole[name], name
    for name in (
        "pair.known", "cable.continuous", "lug.hole", "fuse.voltage", "fuse_holder.body",
        "contactor.break", "branch_fuse_holder.body", "dcdc.voltage-high",
    ):  # fmt: skip
        assert name in part or name not in whole, name
    joints = {name for name in whole if name.startswith(("lug.", "fuse_holder.", "gland."))}
    assert joints <= part.keys()
    del typed["lug"]
    less = checks(audit_parts_list(project, catalog, typed, WHOLE))
    assert {name for name in less if name.startswith("lug.")} == set()
    assert less.keys() < part.keys() | {"list.missing.lug"}


def test_the_plan_of_a_list_says_what_it_is(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    plan = audit_parts_list(project, catalog, typed, WHOLE).plan
    assert plan is not None
    assert plan.status == "feasible"
    assert plan.objective.minimise == "nothing: a typed list"
    assert plan.objective.value == sum(line.price for line in plan.lines)
    assert plan.objective.bound is None
    assert (plan.currency, plan.project) == (project.currency, project.name)
    assert plan.as_of == project.as_of.isoformat()
    assert plan.search.model_dump() == {
        **plan.search.model_dump(), "screened": 0, "solved": 0, "simulated": 0, "cut": 0,
    }  # fmt: skip
    assert plan.inputs["catalog"] == catalog.digest
    assert set(plan.inputs) == {"catalog", "project"}
    assert plan.project_used == project.model_dump(mode="json")
    assert plan.driving is not None
    assert plan.performance is not None
    assert plan.mass is not None
    assert plan.whole_sum is not None
    assert plan.buying_order is not None
    assert plan.invoices
    named = {row["id"] for row in plan.parts_used["parts"]}
    assert {one.part for one in typed.values()} <= named
    assert len(plan.cautions) > 3
    # cable for them is listed, so what no bar reaches is in the bill
    assert not any("links between modules are longer" in words for words in plan.cautions)


def test_more_modules_than_the_bay_holds_is_told_with_all_that_can_be_checked(
    project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    typed["module"] = TypedPart("module", typed["module"].part, "", 3 * 40)
    found = audit_parts_list(project, catalog, typed, PackSaid({"bed": 39, "bonnet": 1}))
    assert found.plan is None
    assert found.missing == ()
    failed = {check.id: check for check in found.checks if not check.passed}
    room = failed["list.room.bed"]
    assert room.value == 117
    assert 9 <= room.limit < 117
    assert any(name.startswith("voltage") for name in failed)
