"""What keeps people from the pack's voltage: each rule takes, refuses and names its source."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest
from dangerous_cases import CORE, Car, sound

from bomplan.catalog.records import Part
from bomplan.design.bill.people import (
    bonding_checks,
    enclosure_checks,
    isolation_wanted_ohm,
    kit_checks,
    label_checks,
    label_places,
    orange_checks,
    tool_checks,
)
from bomplan.design.bill.traction import Conduit, fuse_data
from bomplan.design.context import Context
from bomplan.design.drive import Drive, resolve
from bomplan.design.records import Check
from bomplan.planner import find_plan
from bomplan.requirements.people import people_checks

KNOWN = ("seen", "from memory", "common practice", "computed")


def made(car: Car | None = None, **core: Any) -> tuple[Context, Drive]:
    car = car or sound()
    context = Context(car.project(), car.catalog())
    return context, resolve(context, CORE.model_copy(update=core))


def row(context: Context, family: str, **figures: Any) -> Part:
    (part,) = context.catalog.family(family).values()
    return part.model_copy(update={"figures": {**part.figures, **figures}})


def one(checks: Iterable[Check], name: str) -> Check:
    return next(check for check in checks if check.id == name)


def test_a_core_says_class_isolation_and_sections_with_where_each_is_from() -> None:
    context, drive = made()
    checks = {check.id: check for check in people_checks(context, drive)}
    # 28 cells at 3.65 V are 102.2 V; 500 Ω/V with an inverter are 51.1 kΩ (UN R100 5.1.3)
    assert checks["people.isolation"].value == pytest.approx(51_100)
    assert checks["people.isolation"].limit == 500_000
    assert checks["people.voltage-class"].value == pytest.approx(102.2 * 1.05)
    assert checks["people.section"].value == pytest.approx(3.65)
    assert {"tool.clamp-meter", "tool.voltage-tester", "tool.insulating-gloves"} <= set(checks)
    for check in checks.values():
        assert check.passed, check.id
        assert any(word in check.source for word in KNOWN), check.source
        assert check.caution, check.id


def test_a_series_motor_has_no_alternating_parts() -> None:
    _, drive = made()
    part = drive.motor.model_copy(update={"figures": {**drive.motor.figures, "kind": "series_dc"}})
    assert isolation_wanted_ohm(Drive(**{**vars(drive), "motor": part})) == pytest.approx(10_220)


def test_nothing_below_60_v_is_asked_for_protection_from_touch() -> None:
    context, drive = made(series=16)
    assert drive.figures.charge_v < 60
    assert [check.id for check in people_checks(context, drive)] == ["people.voltage-class"]
    assert list(orange_checks(drive, row(context, "conduit", colour="black"))) == []
    assert list(label_checks(context, drive, row(context, "labels", pieces=1))) == []
    assert list(kit_checks(context, drive, row(context, "safety_kit", gloves_v_dc=50))) == []


def test_a_module_above_60_v_is_refused_unless_the_builder_says_so() -> None:
    car = sound()
    car.figures["module"] = {"cells_series": 20, "max_system_v": 450.0}
    context, drive = made(car, series=2)
    check = one(people_checks(context, drive), "people.section")
    assert (check.passed, check.value) == (False, pytest.approx(73.0))
    assert "can kill before it is part of a pack" in check.caution
    car.fields["house_rules"] = {"section_v": 75.0}
    context, drive = made(car, series=2)
    assert one(people_checks(context, drive), "people.section").passed


@pytest.mark.parametrize(
    ("inside", "code", "failed"),
    [
        ((False, False), "IP54", []),
        ((False, False), "IPXXB", ["box.water"]),
        ((False, False), "IP24", []),
        ((False, False), "IP14", ["box.touch"]),
        ((True, True), "IP20", ["box.touch"]),
        ((True, True), "IP20D", []),
        ((True, True), "IPXXD", []),
        ((True, False), "IP3X", ["box.touch", "box.water"]),
        ((True, False), "a lid", ["box.touch", "box.water"]),
    ],
)
def test_covers_suit_the_bays(inside: tuple[bool, bool], code: str, failed: list[str]) -> None:
    """IPXXD in the cabin, IPXXB elsewhere, splash water outside (IEC 60529, from memory)."""
    car = sound()
    for bay, cabin in zip(car.fields["bays"], inside, strict=True):
        bay["inside_cabin"] = cabin
    context, drive = made(car)
    found = list(enclosure_checks(context, drive, row(context, "box", protection=code)))
    assert [check.id for check in found if not check.passed] == failed


def test_a_part_with_a_place_of_its_own_is_judged_there() -> None:
    car = sound()
    place = {"family": "dcdc", "x_mm": 900, "inside_cabin": True}
    car.fields["places"] = {**car.fields["places"], "parts": [place]}
    context, drive = made(car)
    found = list(enclosure_checks(context, drive, row(context, "dcdc", protection="IP2X")))
    assert [(check.id, check.passed) for check in found] == [("dcdc.touch", False)]
    # what a place says of its water is held against the row there
    place |= {"inside_cabin": False, "water": "dry"}
    context, drive = made(car)
    found = list(enclosure_checks(context, drive, row(context, "dcdc", protection="IP2X")))
    assert [(check.id, check.passed) for check in found] == [("dcdc.touch", True)]


def test_every_metre_of_cable_outside_is_covered_in_orange() -> None:
    context, drive = made()
    (orange,) = orange_checks(drive, row(context, "conduit"))
    (black,) = orange_checks(drive, row(context, "conduit", colour="black"))
    assert (orange.passed, black.passed) == (True, False)
    rule, part = Conduit(), row(context, "conduit")
    assert rule.in_bay(context, drive, part, 0, 28) == 2  # two poles of 0.7 m
    strings = resolve(context, CORE.model_copy(update={"parallel": 2, "topology": "strings"}))
    assert rule.in_bay(context, strings, part, 0, 28) == 4


def test_labels_are_counted_by_the_covers() -> None:
    context, drive = made()
    places = label_places(context, drive, 2)
    assert places.count("lid of a box") == 2
    assert len(places) == 10
    (enough,) = label_checks(context, drive, row(context, "labels", pieces=10))
    (few,) = label_checks(context, drive, row(context, "labels", pieces=9))
    assert (enough.passed, enough.margin) == (True, 0)
    assert (few.passed, few.margin) == (False, -1)


def test_gloves_and_meters_are_held_against_the_pack() -> None:
    context, drive = made()
    good = one(kit_checks(context, drive, row(context, "safety_kit")), "safety_kit.gloves")
    assert (good.passed, good.value, good.limit) == (True, 1500, pytest.approx(107.31))
    thin = row(context, "safety_kit", gloves_v_dc=100, tester_v_dc=50)
    failed = [check for check in kit_checks(context, drive, thin) if not check.passed]
    assert [check.id for check in failed] == ["safety_kit.gloves", "safety_kit.tester"]
    assert "break down in the hand" in failed[0].caution
    extras = {
        name: extra.model_copy(update={"v_dc": 60.0} if name == "clamp-meter" else {})
        for name, extra in context.catalog.extras.items()
    }
    weak = Context(context.project, context.catalog.model_copy(update={"extras": extras}))
    assert [check.id for check in tool_checks(weak, drive) if not check.passed] == [
        "tool.clamp-meter"
    ]


def test_a_strap_outlasts_the_fuse() -> None:
    """A 125 A fuse at 500 A: thinnest usual section whose k²S² is above what it lets through."""
    context, drive = made()
    fuse = fuse_data(row(context, "fuse"))
    (check,) = bonding_checks(context, drive, fuse)
    assert check.passed
    assert 0.002 < check.value < 0.02
    far = sound()
    far.fields["bays"][1]["cable_run_mm"] = 60_000
    context, drive = made(far)
    (check,) = bonding_checks(context, drive, fuse)
    assert not check.passed
    # a fuse that never clears is a fault of its own
    slow = fuse_data(row(context, "fuse", rated_a=2_000.0))
    assert list(bonding_checks(context, drive, slow)) == []


def test_a_charger_that_joins_the_pack_to_the_mains_is_refused() -> None:
    car = sound()
    car.figures["charger"] = {"isolated": False}
    plan = find_plan(car.project(series=28, parallel=1), car.catalog())
    assert plan.status == "none"
    assert any("puts the pack on the mains" in caution for caution in plan.cautions)
