"""The clash finder over made-up rules of what is possible, where every answer can be listed."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import examples

from bomplan import api
from bomplan.design.records import Objective, Plan, SearchCounts
from bomplan.outlook.clash import find_clash, how_far
from bomplan.outlook.levers import Lever, levers
from bomplan.project.records import Project

PROJECT = api.load_project("example:courier-motorcycle")
CATALOG = api.load_catalog(["generic"])
LEVERS = [lever for lever in levers(PROJECT) if lever.amount != lever.loosest]


class Rules:
    """Stands for the solver: a project has a plan unless it asks all of some clash at once."""

    def __init__(self, clashes: list[set[str]]) -> None:
        self.clashes = clashes
        self.catalog = CATALOG
        self.solved = 0
        self.unknown = False

    def possible(self, project: Project) -> bool | None:
        return self._is(project)

    def _is(self, project: Project) -> bool | None:
        self.solved += 1
        if self.unknown:
            return None
        asked = {lever.id for lever in levers(project) if _asks(lever)}
        return not any(clash <= asked for clash in self.clashes)

    def witness(self, project: Project) -> Plan | None:
        return self.plan(project)

    def near(self, project: Project) -> Plan:
        return self.plan(project)

    def some(self, project: Project, catalog: object = None) -> Plan:
        del catalog
        return self.plan(project)

    def plan(self, project: Project) -> Plan:
        value = 1 if self.possible(project) else None
        counts: dict[str, Any] = dict.fromkeys(("screened", "solved", "simulated", "cut"), 0)
        return Plan(
            status="optimal" if value else "none",
            objective=Objective(minimise="price of the whole bill", value=value, bound=value),
            currency="EUR",
            project="made up",
            as_of="2026-11-01",
            search=SearchCounts(**counts),
            inputs={},
            reasons=("nothing fits",),
        )


def _asks(lever: Lever) -> bool:
    """Whether a lever still asks as much as the project does, or more."""
    own = next(one for one in LEVERS if one.id == lever.id)
    return (lever.amount - own.amount) * own.harder >= 0


@settings(deadline=None, max_examples=examples(8, 30))
@given(st.data())
def test_the_set_found_is_a_smallest_one(data: st.DataObject) -> None:
    ids = [lever.id for lever in LEVERS]
    clashes = data.draw(
        st.lists(st.sets(st.sampled_from(ids), min_size=1, max_size=4), min_size=1, max_size=3)
    )
    rules = Rules(clashes)
    found = find_clash(PROJECT, rules)  # type: ignore[arg-type]
    members = {one.lever for one in found.members}
    smallest = [clash for clash in clashes if not any(other < clash for other in clashes)]
    assert members in smallest
    for one in found.members:
        # Alone it helps only where it stands in every clash.
        assert one.helps == all(one.lever in clash for clash in clashes)
    assert found.searches <= rules.solved


def test_every_member_is_needed_and_together_they_fail() -> None:
    ids = [lever.id for lever in LEVERS]
    clash = {ids[0], ids[3], ids[5]}
    found = find_clash(PROJECT, Rules([clash]))  # type: ignore[arg-type]
    assert {one.lever for one in found.members} == clash
    for kept in combinations(clash, 2):
        assert not clash <= set(kept)


def test_a_project_with_a_plan_has_no_clash() -> None:
    found = find_clash(PROJECT, Rules([]))  # type: ignore[arg-type]
    assert found.possible
    assert found.members == ()


def test_nothing_is_claimed_when_a_search_ends_early() -> None:
    rules = Rules([])
    rules.unknown = True
    found = find_clash(PROJECT, rules)  # type: ignore[arg-type]
    assert not found.proven
    assert not found.possible


def test_a_catalogue_without_a_car_is_said_to_be_the_cause() -> None:
    found = find_clash(PROJECT, Rules([set()]))  # type: ignore[arg-type]
    assert found.proven
    assert found.members == ()
    assert found.missing_parts == ("nothing fits",)


@pytest.mark.parametrize("lever", LEVERS, ids=lambda lever: lever.id)
def test_how_far_is_tight(lever: Lever) -> None:
    middle = (lever.amount + lever.loosest) // 2

    class From(Rules):
        def possible(self, project: Project) -> bool | None:
            amount = next(one.amount for one in levers(project) if one.id == lever.id)
            return (middle - amount) * lever.harder >= 0

    assert how_far(lever, PROJECT, From([])) == middle  # type: ignore[arg-type]


@pytest.mark.parametrize("lever", LEVERS, ids=lambda lever: lever.id)
def test_how_far_is_tight_wherever_it_lies(lever: Lever) -> None:
    """A grain away, about a step, at the loosest amount, and nowhere: few questions where near."""
    asked: list[int] = []

    class From(Rules):
        def possible(self, project: Project) -> bool | None:
            amount = next(one.amount for one in levers(project) if one.id == lever.id)
            asked.append(amount)
            return (right - amount) * lever.harder >= 0

    whole = (lever.amount - lever.loosest) * lever.harder
    for grains in {1, lever.step - 1, lever.step, lever.step + 1, whole}:
        if not 0 < grains <= whole:
            continue
        right = lever.amount - lever.harder * grains
        assert how_far(lever, PROJECT, From([])) == right  # type: ignore[arg-type]
    right = lever.loosest - lever.harder
    assert how_far(lever, PROJECT, From([])) is None  # type: ignore[arg-type]
    assert asked[-1] == lever.loosest
    turning = lever.id.startswith(("bay.room.", "mass.gross", "axle."))
    asked.clear()
    right = lever.amount - lever.harder
    how_far(lever, PROJECT, From([]))  # type: ignore[arg-type]
    # Where not only more becomes possible with room or mass, the loosest amount is asked first.
    assert (asked[0] == lever.loosest) == (turning or lever.step >= whole)


@pytest.mark.parametrize("lever", LEVERS, ids=lambda lever: lever.id)
def test_a_lever_says_the_amount_that_it_sets(lever: Lever) -> None:
    for amount in {lever.amount, lever.loosest, (lever.amount + lever.loosest) // 2}:
        moved = lever.at(PROJECT, amount)
        assert next(one.amount for one in levers(moved) if one.id == lever.id) == amount
        same = [one for one in levers(moved) if one.id != lever.id]
        others = [one for one in levers(PROJECT) if one.id != lever.id]
        assert [(one.id, one.amount) for one in same] == [(one.id, one.amount) for one in others]
