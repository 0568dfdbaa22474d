"""Each rule keeps its word: what it reads, how many it needs at least, whose table it uses."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product
from random import Random
from typing import Any, cast

import pytest
from oracle.brute_force import placements
from oracle.small_cases import generic, project_fields

from bomplan.catalog.records import Part
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import quantity
from bomplan.design.bill import JOINTS, RULES, DesignCurrents, Rule
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive, resolve
from bomplan.design.records import Core
from bomplan.project.records import Project

PACKS = (
    ("lfp-module-8s-50", 3, 1, "groups"),
    ("lfp-cell-100", 24, 2, "groups"),
    ("lead-agm-12v-100", 6, 1, "groups"),
    ("nmc-hybrid-12s-37", 2, 2, "strings"),
    ("nmc-hybrid-12s-37", 2, 1, "groups"),
    ("nmc-hybrid-12s-50", 3, 1, "groups"),
)
DRIVES = (
    ("motor-series-185mm", "chopper-120v-450a"),
    ("motor-induction-96v-45kw", "inverter-96v-500a"),
    ("motor-pm-96v-38kw-air", "inverter-96v-450a-liquid"),
)


class Unread:
    """Fails the test that lets a rule look at it."""

    def __init__(self, name: str) -> None:
        self.__dict__["name"] = name

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(f"a rule of the other side reads {self.__dict__['name']}.{name}")


@cache
def context() -> Context:
    fields = project_fields(Random(5))
    fields["donor"]["brake_booster"] = True
    fields["conditions"][1]["heater_w"] = 500.0
    for bay, run in zip(fields["bays"], (0, 2_000), strict=True):
        bay |= {"length_mm": 700, "width_mm": 1_000, "height_mm": 330, "cable_run_mm": run}
    return Context(Project.model_validate(fields), generic())


@cache
def drives() -> tuple[Drive, ...]:
    found = []
    for (motor, controller), (module, series, parallel, topology) in product(DRIVES, PACKS):
        core = Core.model_validate(
            {
                "motor": motor,
                "controller": controller,
                "final_ratio": 3.9,
                "module": module,
                "series": series,
                "parallel": parallel,
                "topology": topology,
            }
        )
        found.append(resolve(context(), core))
    return tuple(found)


@cache
def currents(index: int) -> DesignCurrents:
    return design_currents(context(), drives()[index], Simulator(context(), drives()[index]))


def rows(rule: Rule) -> list[Part]:
    return list(generic().family(rule.family).values())


def blinded(drive: Drive, side: str) -> Drive:
    """The drive with everything of the other side taken away."""
    gone = ("motor", "controller", "pair") if side == "pack" else ("module", "figures")
    return replace(drive, **{name: cast(Any, Unread(name)) for name in gone})


@pytest.mark.parametrize("rule", [r for r in RULES if r.side != "currents"], ids=lambda r: r.family)
def test_a_rule_of_one_side_reads_nothing_of_the_other(rule: Rule) -> None:
    no_currents = cast(DesignCurrents, Unread("currents"))
    judged = 0
    for index, drive in enumerate(drives()):
        blind = blinded(drive, rule.side)
        assert rule.needed(context(), blind) == rule.needed(context(), drive)
        if not rule.needed(context(), drive):
            continue
        for part in rows(rule):
            seen = list(rule.suits(context(), blind, no_currents, part))
            assert seen == list(rule.suits(context(), drive, currents(index), part))
            assert rule.base(context(), blind, part) == rule.base(context(), drive, part)
            for bay in (0, 1):
                here = rule.in_bay(context(), blind, part, bay, 2)
                assert here == rule.in_bay(context(), drive, part, bay, 2)
            judged += 1
    assert judged > 0


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.family)
def test_rows_of_a_family_share_a_table_unless_it_says_otherwise(rule: Rule) -> None:
    differs = False
    for drive in drives():
        if not rule.needed(context(), drive):
            continue
        for bay, count in product((0, 1), (1, 2, 3)):
            pieces = {rule.in_bay(context(), drive, part, bay, count) for part in rows(rule)}
            differs = differs or len(pieces) > 1
    assert differs == rule.table_by_part


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.family)
def test_no_conversion_needs_fewer_than_the_least_ever(rule: Rule) -> None:
    """Also where a bay is beside the controller and each box holds one module alone."""
    for drive in drives():
        if not rule.needed(context(), drive):
            continue
        for part in rows(rule)[:3]:
            for places in placements(context(), drive):
                assert quantity(context(), drive, rule, part, places) >= rule.least_ever


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.family)
def test_suits_do_not_read_the_placement_and_speak(rule: Rule) -> None:
    """Twice the same answer, with an id and words in every check, and a reason for the line."""
    for index, drive in enumerate(drives()):
        if not rule.needed(context(), drive):
            continue
        part = rows(rule)[0]
        first = list(rule.suits(context(), drive, currents(index), part))
        assert first == list(rule.suits(context(), drive, currents(index), part))
        assert all(check.id and check.words and check.source for check in first)
        assert rule.why(context(), drive, currents(index), part)


def test_families_are_unique_and_in_the_catalogue() -> None:
    names = [rule.family for rule in RULES]
    assert len(names) == len(set(names))
    assert all(generic().family(name) for name in names)


def test_joints_join_families_that_have_rules() -> None:
    names = {rule.family for rule in RULES}
    assert all({joint.first, joint.second} <= names for joint in JOINTS)
    assert len({(joint.first, joint.second) for joint in JOINTS}) == len(JOINTS)


def joint_passes(first: str, first_id: str, second: str, second_id: str) -> bool:
    judge = next(j.judge for j in JOINTS if (j.first, j.second) == (first, second))
    parts = generic().part(first_id), generic().part(second_id)
    checks = list(judge(context(), drives()[0], currents(0), *parts))
    assert checks
    return all(check.passed for check in checks)


def test_a_lug_fits_its_own_cable_only() -> None:
    assert joint_passes("lug", "lug-35mm2-m10", "cable", "cable-35mm2-90c")
    assert not joint_passes("lug", "lug-35mm2-m10", "cable", "cable-50mm2-90c")


def test_a_gland_seals_a_range_of_cables() -> None:
    cable = generic().part("cable-35mm2-90c")
    outer = cable.number("outer_diameter_mm")
    for gland in generic().family("gland").values():
        fits = gland.number("cable_mm_min") <= outer <= gland.number("cable_mm_max")
        assert joint_passes("gland", gland.id, "cable", cable.id) == fits


def test_a_holder_takes_one_body_up_to_its_rating() -> None:
    fuse = generic().part("fuse-125v-160a")
    for holder in generic().family("fuse_holder").values():
        fits = holder.text("body") == fuse.text("body")
        fits = fits and holder.number("rated_a") >= fuse.number("rated_a")
        assert joint_passes("fuse_holder", holder.id, "fuse", fuse.id) == fits
