"""The next best motor, controller and module, sought again by other ways."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from lanes import FULL, first_fast
from oracle.brute_force import best_alone
from oracle.small_cases import make_case

from bomplan import api
from bomplan.audit import audit_plan
from bomplan.catalog.records import Catalog
from bomplan.design.line_records import Standing
from bomplan.design.records import Core, Plan
from bomplan.planner import Stop, find_plan
from bomplan.project.goal import Goal
from bomplan.project.records import Project

# What stays of the drive beside another row of each family.
KEPT = {
    "motor": ("module",),
    "controller": ("motor", "module"),
    "module": ("motor", "controller"),
}
# Another controller (1, 8, 21), another module (16, 29), a fixed module (1, 20).
SEEDS = (1, 16, 8, 29, 20, 21, 5, 36, 41, 25, 54)
GOALS = ("least-cost", "least-mass", "most-range")


@dataclass(frozen=True)
class Asked:
    project: Project
    catalog: Catalog
    plan: Plan

    def locked(self, family: str) -> Project:
        """The project as a builder would write it to get another row of this family."""
        choices, core = self.project.choices, self.plan.core
        assert core is not None
        locks = {name: getattr(core, name) for name in KEPT[family]}
        excluded = (*choices.excluded, getattr(core, family))
        changed = choices.model_copy(update={**locks, "excluded": excluded})
        return self.project.model_copy(update={"choices": changed})


def standing(plan: Plan, family: str) -> Standing:
    found = next(line.standing for line in plan.lines if line.family == family)
    assert found is not None
    return found


def asked(seed: int, aim: str = "least-cost") -> Asked:
    case = make_case(seed)
    project = case.project
    if aim != "least-cost":
        goal = Goal.model_validate({"aim": aim})
        project = project.model_copy(update={"goal": goal})
    plan = find_plan(project, case.catalog, other_drives=True)
    return Asked(project, case.catalog, plan)


def told(line: Standing, plan: Plan) -> tuple[int, int, str] | None:
    """Price [smallest units], added mass [g] and row of the other plan."""
    other = line.instead
    if other is None:
        return None
    assert plan.objective.value is not None
    assert plan.mass is not None
    grams = round(1000 * (plan.mass.added_kg + other.mass_kg))
    return plan.objective.value + other.price, grams, other.part


@pytest.mark.parametrize("seeds", first_fast([SEEDS[:3], SEEDS], 1))
def test_no_drive_that_brute_force_finds_is_cheaper(seeds: tuple[int, ...]) -> None:
    found = nothing = fixed = 0
    for seed in seeds:
        one = asked(seed)
        assert one.plan.core is not None
        for family in KEPT:
            line = standing(one.plan, family)
            if getattr(one.project.choices, family) is not None:
                assert (line.instead, line.nothing_because) == (None, "fixed")
                fixed += 1
                continue
            best = best_alone(one.locked(family), one.catalog)
            if best is None:
                assert (line.instead, line.nothing_because) == (None, "none beside"), (seed, family)
                nothing += 1
                continue
            theirs = (best.price, best.added_g, getattr(best.core, family))
            assert told(line, one.plan) == theirs, (seed, family)
            assert line.instead is not None
            assert line.instead.drive is not None
            assert line.instead.drive.proven
            assert line.instead.drive.by_goal is None
            for name in KEPT[family]:
                assert getattr(line.instead.drive, name) == getattr(one.plan.core, name)
            found += 1
    assert found >= len(seeds) // 2, found
    assert nothing >= len(seeds), nothing
    assert fixed


def same_as_solved(one: Asked, family: str) -> bool:
    """Whether a plan of its own, by the locks that a builder would write, is what is told."""
    line = standing(one.plan, family)
    other = find_plan(one.locked(family), one.catalog, standings=False)
    if other.core is None:
        assert other.status == "none"
        assert (line.instead, line.nothing_because) == (None, "none beside")
        return False
    assert other.objective.value is not None
    assert other.mass is not None
    grams = round(1000 * other.mass.added_kg)
    row = getattr(other.core, family)
    assert told(line, one.plan) == (other.objective.value, grams, row)
    assert line.instead is not None
    drive = line.instead.drive
    assert drive is not None
    mine = {name: getattr(drive, name) for name in Core.model_fields if name != "battery_a"}
    assert mine == other.core.model_dump(exclude={"battery_a"})
    assert drive.proven == (other.status == "optimal")
    if other.objective.goal is not None:
        chosen = one.plan.objective.goal
        assert chosen is not None
        assert drive.goal_unit == chosen.unit
        assert drive.by_goal == (other.objective.goal.figure or 0) - (chosen.figure or 0)
    return True


@pytest.mark.parametrize("aim", GOALS[1:])
def test_the_project_s_own_goal_decides(aim: str) -> None:
    seen = 0
    for seed in (8, 21):
        one = asked(seed, aim)
        if one.plan.core is None:
            continue
        seen += sum(same_as_solved(one, family) for family in KEPT)
    assert seen


@pytest.mark.parametrize(
    "name", first_fast(["courier-motorcycle", "garden-pickup", "camper-van"], 1)
)
def test_a_shipped_example_planned_with_locks_says_the_same(name: str) -> None:
    project, catalog = api.check_references(f"example:{name}", None)
    one = Asked(project, catalog, find_plan(project, catalog, other_drives=True))
    # Of motors no small case has another that would do; the rest is for the slow lane.
    assert same_as_solved(one, "motor")
    if FULL:
        assert sum(same_as_solved(one, family) for family in ("controller", "module")) >= 1
    assert all(check.passed for check in audit_plan(one.plan))


def test_the_plan_is_the_same_where_other_drives_are_asked_for() -> None:
    case = make_case(8)
    plain, asked_for = find_plan(case.project, case.catalog), asked(8).plan
    assert plain.search == asked_for.search
    lines = []
    for before, after in zip(plain.lines, asked_for.lines, strict=True):
        if before.family in KEPT:
            assert before.standing is not None
            assert before.standing.nothing_because == "core"
            assert after.standing is not None
            assert after.standing.slack == before.standing.slack
            after = after.model_copy(update={"standing": before.standing})
        lines.append(after)
    assert asked_for.model_copy(update={"lines": tuple(lines)}) == plain


class StopsLater(Stop):
    """Stops a search at the so-manieth time that it looks."""

    def __init__(self, looks: int) -> None:
        super().__init__()
        self.looks = looks

    @property
    def requested(self) -> bool:
        self.looks -= 1
        return self.looks < 0


def test_a_search_that_was_stopped_says_nothing_wrong() -> None:
    case = make_case(8)
    settled = asked(8).plan
    stages = set()
    for looks in range(5, 140, 15):
        plan = find_plan(case.project, case.catalog, other_drives=True, stop=StopsLater(looks))
        if plan.core is None:
            continue
        for family in KEPT:
            line, whole = standing(plan, family), standing(settled, family)
            if line.instead is None:
                stages.add(line.nothing_because)
                # That there is none is said where that is proven alone.
                if line.nothing_because == "none beside" and plan.core == settled.core:
                    assert whole.nothing_because == "none beside"
            else:
                stages.add("found")
                assert line.instead.drive is not None
                if line.instead.drive.proven and plan.core == settled.core:
                    assert line == whole
    assert {"not settled", "found"} <= stages
