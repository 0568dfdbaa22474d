"""A series order that is not one run, joins the wrong poles or tells a wrong length is found."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from bomplan import api
from bomplan.audit import audit_plan
from bomplan.audit.series import series_checks
from bomplan.design.context import Context
from bomplan.design.drive import Drive, resolve
from bomplan.design.left_open import long_links
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Plan
from bomplan.design.series import in_series_order

RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"


@pytest.fixture(scope="module")
def old() -> Plan:
    """A plan from before there was an order: groups of three in two bays, one with two layers."""
    return api.read_plan(RELEASED)


@pytest.fixture(scope="module")
def drive(old: Plan) -> Drive:
    assert old.core is not None
    return resolve(Context(project_of(old), catalog_of(old)), old.core)


@pytest.fixture(scope="module")
def plan(old: Plan, drive: Drive) -> Plan:
    context = Context(project_of(old), catalog_of(old))
    ordered = in_series_order(context, drive, old.placement)
    links = sum(len(use.links) for use in ordered)
    lines = tuple(
        line.model_copy(update={"quantity": links}) if line.family == "link" else line
        for line in old.lines
    )
    return old.model_copy(update={"placement": ordered, "lines": lines})


def box(data: dict[str, Any]) -> dict[str, Any]:
    return next(use for use in data["placement"] if use["series"] > 1)


def failed(drive: Drive, data: dict[str, Any]) -> set[str]:
    plan = Plan.model_validate(data)
    return {check.id for check in series_checks(drive, plan) if not check.passed}


def swap_numbers(data: dict[str, Any]) -> None:
    stands = sorted(box(data)["stands"], key=lambda one: one["place"])
    first, second = stands[0], stands[-1]
    first["place"], second["place"] = second["place"], first["place"]
    first["beside"], second["beside"] = second["beside"], first["beside"]


def same_number_twice(data: dict[str, Any]) -> None:
    first, second = box(data)["stands"][:2]
    second["place"], second["beside"] = first["place"], first["beside"]


def turn_sideways(data: dict[str, Any]) -> None:
    stand = box(data)["stands"][0]
    facing = "z" if stand["terminals"] == "up" else stand["terminals"]
    stand["plus"] = f"{facing}+"


def drop_a_link(data: dict[str, Any]) -> None:
    del box(data)["links"][0]


def shorten_a_link(data: dict[str, Any]) -> None:
    box(data)["links"][-1]["length_mm"] = 1


def wrong_pole(data: dict[str, Any]) -> None:
    link = box(data)["links"][0]
    link["first_pole"] = "+" if link["first_pole"] == "-" else "-"


def unknown_module(data: dict[str, Any]) -> None:
    box(data)["links"][0]["second"] = "999"


def call_it_apart(data: dict[str, Any]) -> None:
    box(data)["links"][0]["joins"] = "layers"


def a_link_too_many(data: dict[str, Any]) -> None:
    box(data)["links"].append(box(data)["links"][0])


@pytest.mark.parametrize(
    "spoil",
    [swap_numbers, same_number_twice, turn_sideways, drop_a_link, shorten_a_link, wrong_pole,
     unknown_module, call_it_apart, a_link_too_many],
)  # fmt: skip
def test_a_spoilt_order_is_found(plan: Plan, drive: Drive, spoil: Any) -> None:
    data = plan.model_dump(mode="json")
    assert failed(drive, data) == set()
    spoil(data)
    assert f"audit.series.{box(data)['bay']}" in failed(drive, data)


def test_one_section_of_more_than_sixty_volts_fails(plan: Plan, drive: Drive) -> None:
    data = plan.model_dump(mode="json")
    use = box(data)
    first, last = use["sections"][0], use["sections"][-1]
    use["sections"] = [{"first": first["first"], "last": last["last"], "full_v": 100.8}]
    use["disconnects"] = []
    for link in use["links"]:
        link["last"] = False
    assert f"audit.sections.{use['bay']}" in failed(drive, data)


def test_a_last_link_that_is_not_told_fails(plan: Plan, drive: Drive) -> None:
    data = plan.model_dump(mode="json")
    use = box(data)
    next(link for link in use["links"] if link["last"])["last"] = False
    assert failed(drive, data) == {f"audit.sections.{use['bay']}"}


def test_links_that_the_bill_lacks_are_missed(plan: Plan, drive: Drive) -> None:
    data = plan.model_dump(mode="json")
    next(line for line in data["lines"] if line["family"] == "link")["quantity"] -= 1
    assert failed(drive, data) == {"audit.links"}


def test_the_whole_audit_holds_a_plan_to_its_order(plan: Plan) -> None:
    data = plan.model_dump(mode="json")
    swap_numbers(data)
    missed = {check.id for check in audit_plan(Plan.model_validate(data)) if not check.passed}
    assert f"audit.series.{box(data)['bay']}" in missed


def test_a_plan_from_before_there_was_an_order_is_not_held_to_one(old: Plan, drive: Drive) -> None:
    assert list(series_checks(drive, old)) == []


def test_links_that_the_bars_do_not_reach_are_told_in_the_plan(plan: Plan) -> None:
    bar = catalog_of(plan).family("link")["link-bar-200a"]
    lengths = [link.length_mm for use in plan.placement for link in use.links]
    assert min(lengths) > 80
    (told,) = long_links(plan.placement, bar)
    assert f"{len(lengths)} of {len(lengths)} links" in told
    assert f"{sum(lengths) / 1000:.1f} m" in told
    assert long_links(plan.placement, bar.model_copy(update={"length_mm": max(lengths)})) == ()
    assert long_links(plan.placement, bar.model_copy(update={"length_mm": None})) == ()
    assert long_links(plan.placement, None) == ()
