"""The builder's own rules between parts: the planner against brute force, and in words."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from lanes import first_fast
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.small_cases import Case, make_case

from bomplan.audit import audit_plan
from bomplan.buying.terms import CHARGES
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project.records import Choices, Project
from bomplan.requirements.own_rules import impossible

# Cases that have a plan, and families of more than one row.
SEEDS = (50, 33, 59)
CORE = ("motor", "controller", "module")


@cache
def planned(seed: int) -> tuple[Case, Plan]:
    case = make_case(seed)
    return case, find_plan(case.project, case.catalog)


def ruled(project: Project, **tables: dict[str, tuple[str, ...]]) -> Project:
    return project.model_copy(update={"choices": project.choices.model_copy(update=tables)})


def rules_of(case: Case, plan: Plan) -> list[dict[str, Any]]:
    """Rules that the plan breaks: away from a chosen row, or towards another one."""
    parts = {line.family: line.part for line in plan.lines if line.family not in CHARGES}
    other = {
        family: next(part for part in sorted(case.catalog.family(family)) if part != chosen)
        for family, chosen in parts.items()
        if len(case.catalog.family(family)) > 1
    }
    many, far = [family for family in other if family not in CORE], "fasteners"
    found: list[dict[str, Any]] = []
    for family in many[:1]:
        found.append({"forbids": {parts[family]: (parts["module"],)}})
        found.append({"requires": {parts["module"]: (other[family],)}})
        found.append({"requires": {parts[far]: (other[family],)}})
    if len(many) > 1:
        one, two = many[:2]
        found.append(
            {"requires": {parts[one]: (other[two],)}, "forbids": {other[two]: (other[one],)}}
        )
    return found


@pytest.mark.parametrize("seed", first_fast(SEEDS, 1))
def test_plans_with_rules_are_the_brute_force_plans(seed: int) -> None:
    case, plan = planned(seed)
    changed = 0
    for rules in rules_of(case, plan):
        project = ruled(case.project, **rules)
        found = find_plan(project, case.catalog)
        assert differences(found, brute_force(project, case.catalog)) == [], rules
        changed += found.lines != plan.lines
        if found.core is not None:
            checks = audit_plan(found)
            assert all(check.passed for check in checks)
    assert changed


def test_a_rule_does_not_bear_on_a_row_of_which_no_piece_is_fitted() -> None:
    """A family that the placement needs no piece of has a row in the model, none in the plan."""
    case, plan = planned(SEEDS[0])
    held = {line.family: line.part for line in plan.lines}
    absent = [part for family in ("link_cable", "link_lug") for part in case.catalog.family(family)]
    assert absent
    assert not set(absent) & set(held.values())
    kept = ruled(case.project, forbids=dict.fromkeys(absent, (held["fasteners"],)))
    found = find_plan(kept, case.catalog)
    assert differences(found, brute_force(kept, case.catalog)) == []
    assert found.lines == plan.lines
    # Nor does it bring along what it is asked to bring.
    asked = ruled(case.project, requires={held["fasteners"]: (absent[0],)})
    found = find_plan(asked, case.catalog)
    assert differences(found, brute_force(asked, case.catalog)) == []
    assert found.lines != plan.lines


def test_a_plan_that_breaks_a_rule_fails_the_audit_by_that_rule() -> None:
    case, plan = planned(SEEDS[0])
    for rules in rules_of(case, plan):
        used = ruled(case.project, **rules).model_dump(mode="json")
        failed = {
            c.id for c in audit_plan(plan.model_copy(update={"project_used": used})) if not c.passed
        }
        names = {f"own.{table}.{part}" for table, parts in rules.items() for part in parts}
        assert failed & names
        assert failed <= names


def test_impossible_rules_are_refused_in_words() -> None:
    case, plan = planned(SEEDS[0])
    fasteners = next(line.part for line in plan.lines if line.family == "fasteners")
    labels = next(line.part for line in plan.lines if line.family == "labels")
    assert len(case.catalog.family("fasteners")) == len(case.catalog.family("labels")) == 1
    found = find_plan(ruled(case.project, forbids={fasteners: (labels,)}), case.catalog)
    assert found.status == "none"
    told = [reason for reason in found.reasons if f"own.forbids.{fasteners}" in reason]
    assert told
    assert any("by a rule of your own" in reason and labels in reason for reason in told)


def test_following_the_rules_to_a_family_that_is_left_empty() -> None:
    offered = {"a": ["a1", "a2"], "b": ["b1", "b2"], "c": ["c1"]}
    kept = Choices(requires={"c1": ("a1",)}, forbids={"a1": ("b1",)})
    assert impossible(kept, offered) is None
    broken = Choices(requires={"c1": ("a1",), "b2": ("a2",)}, forbids={"a1": ("b1",)})
    found = impossible(broken, offered)
    assert found is not None
    assert found[0] in offered
    assert not found[1].passed
    # A rule of a part that is not on offer binds nobody.
    assert impossible(Choices(requires={"d1": ("a1",)}), offered) is None
    missing = impossible(Choices(requires={"c1": ("d1",)}), offered)
    assert missing is not None
    assert missing[1].id == "own.requires.c1"
    # Of an optional family a plan may need no piece: what is its only row need not be there.
    lone = Choices(forbids={"c1": ("a1", "a2")})
    assert impossible(lone, offered) is not None
    assert impossible(lone, offered, optional=("c",)) is None
    assert impossible(Choices(requires={"a1": ("c1",), "a2": ("c1",)}), offered, ("c",)) is None
