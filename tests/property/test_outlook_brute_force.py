"""Studies of many plans against brute force over small catalogues that share nothing with them.

Each seed's case is one of those that the planner itself is held against; the brute force
plans the changed project on its own, so a figure that came from a wrong lever, a lost plan or
a search that was saved wrongly shows.
"""

from __future__ import annotations

from functools import cache

import pytest
from oracle.brute_force import brute_force
from oracle.small_cases import Case, make_case

from bomplan.design.records import Plan
from bomplan.outlook import Solver, alternatives, find_clash, front, what_binds
from bomplan.outlook.clash import TURNING
from bomplan.outlook.levers import decisions, levers
from bomplan.project.records import Project

SEEDS = range(22)
pytestmark = pytest.mark.slow


@cache
def case(seed: int) -> Case:
    return make_case(seed)


@cache
def solved(seed: int) -> tuple[Solver, Plan]:
    solver = Solver(case(seed).catalog)
    return solver, solver.plan(case(seed).project)


def with_plan() -> list[int]:
    return [seed for seed in SEEDS if solved(seed)[1].core is not None]


def without_plan() -> list[int]:
    return [seed for seed in SEEDS if solved(seed)[1].status == "none"]


def price(project: Project, seed: int) -> int | None:
    best = brute_force(project, case(seed).catalog, compare_every=10**9).best
    return None if best is None else best.price


def test_the_seeds_hold_both_kinds() -> None:
    assert len(with_plan()) >= 5
    assert len(without_plan()) >= 5


def test_a_step_costs_what_brute_force_says() -> None:
    steps = 0
    for seed in with_plan()[:4]:
        solver, plan = solved(seed)
        project = case(seed).project
        by_id = {lever.id: lever for lever in levers(project)}
        for one in what_binds(project, plan, solver):
            lever = by_id[one.lever]
            for step, amount in ((one.easier, lever.eased()), (one.harder, lever.hardened())):
                if step.outcome == "not asked":
                    assert amount is None
                    continue
                assert amount is not None
                found = price(lever.at(project, amount), seed)
                if found is None:
                    assert step.outcome == "none", (seed, one.lever)
                else:
                    assert step.price_change == found - (plan.objective.value or 0)
                    steps += step.price_change != 0
    assert steps >= 3, "hardly a step changed anything"


def test_an_easier_step_never_costs_more_unless_it_sizes_conductors() -> None:
    for seed in with_plan()[:6]:
        solver, plan = solved(seed)
        for one in what_binds(case(seed).project, plan, solver, only=_not_of_mass(seed)):
            assert one.easier.outcome in ("plan", "not asked")
            assert (one.easier.price_change or 0) <= 0
            assert one.harder.price_change is None or one.harder.price_change >= 0


def _not_of_mass(seed: int) -> list[str]:
    """Plate limits also size conductors, and a longer bay moves its box's middle."""
    ids = [lever.id for lever in levers(case(seed).project)]
    return [name for name in ids if not name.startswith(("mass.", "axle.", "bay.room"))]


@pytest.mark.parametrize("differ", ["motor-or-module", "module"])
def test_alternatives_are_the_cheapest_that_differ(differ: str) -> None:
    others = 0
    for seed in with_plan():
        solver, plan = solved(seed)
        found = alternatives(
            case(seed).project,
            plan,
            solver,
            most=20,
            differ=differ,  # type: ignore[arg-type]
        )
        assert found.complete
        seen: list[tuple[str, str]] = [(found.chosen.motor, found.chosen.module)]
        last = found.chosen.price
        for one in found.others:
            pair = (one.plan.motor, one.plan.module)
            assert all(_differs(pair, other, differ) for other in seen)
            assert one.plan.price >= last
            assert one.price_change == one.plan.price - found.chosen.price
            last = one.plan.price
            seen.append(pair)
        others += len(found.others)
        best = _cheapest_by(case(seed), differ)
        assert (
            sorted(best.values())
            == sorted([found.chosen.price, *(one.plan.price for one in found.others)])
            or differ == "motor-or-module"
        ), "a different plan is missing"
    assert others >= 2


def _differs(one: tuple[str, str], other: tuple[str, str], differ: str) -> bool:
    if differ == "motor":
        return one[0] != other[0]
    if differ == "module":
        return one[1] != other[1]
    return one != other


def _cheapest_by(one: Case, differ: str) -> dict[str, int]:
    """The least price for each motor (or module) by brute force over the narrowed project."""
    family = "module" if differ == "module" else "motor"
    found = {}
    for part in one.catalog.family(family):
        choices = one.project.choices.model_copy(update={family: part})
        narrowed = one.project.model_copy(update={"choices": choices})
        if getattr(one.project.choices, family) not in (None, part):
            continue
        if part in one.project.choices.excluded:
            continue
        best = brute_force(narrowed, one.catalog, compare_every=10**9).best
        if best is not None:
            found[part] = best.price
    return found


@pytest.mark.parametrize("against", ["mass", "rear-axle"])
def test_no_plan_beats_a_point_of_the_front_in_both(against: str) -> None:
    points = 0
    for seed in with_plan()[:4]:
        solver, _ = solved(seed)
        project = case(seed).project
        found = front(project, solver, against, most=50, apart=0.001)  # type: ignore[arg-type]
        assert found.complete
        prices = [point.plan.price for point in found.points]
        figures = [point.figure for point in found.points]
        assert prices == sorted(set(prices))
        assert figures == sorted(set(figures), reverse=True)
        points += len(prices)
        key = "laden_mass_max_g" if against == "mass" else "rear_axle_max_g"
        for last, after in zip(found.points, found.points[1:], strict=False):
            # Between two neighbours nothing is cheaper than the later one.
            asked = round(last.figure * 1000) - 1
            targets = project.targets.model_copy(update={key: asked})
            best = price(project.model_copy(update={"targets": targets}), seed)
            assert best == after.plan.price
    assert points >= 8


def test_a_clash_is_smallest_and_its_figures_are_tight() -> None:
    helped = 0
    for seed in without_plan()[:4]:
        solver, _ = solved(seed)
        project = case(seed).project
        found = find_clash(project, solver)
        assert found.proven
        assert not found.possible
        by_id = {one.id: one for one in (*levers(project), *decisions(project))}
        members = {one.lever for one in found.members}
        if not members:
            alone = project
            for switch in by_id.values():
                alone = switch.lifted(alone)
            assert price(alone, seed) is None
            continue

        # What the finder gives up: everything, or where that leaves no plan all but what turns.
        def only(kept: set[str], turning: tuple[str, ...]) -> Project:
            changed = project  # noqa: B023
            for name, switch in by_id.items():  # noqa: B023
                if name not in kept and not name.startswith(turning):
                    changed = switch.lifted(changed)
            return changed

        every: tuple[tuple[str, ...], ...] = ((), *TURNING)
        left = next(turning for turning in every if price(only(set(), turning), seed) is not None)
        assert price(only(members, left), seed) is None, "the set does not clash"
        for name in members:
            assert price(only(members - {name}, left), seed) is not None, f"{name} is not needed"
        amounts = {lever.id: lever for lever in levers(project)}
        for one in found.members:
            lever = amounts.get(one.lever)
            if lever is None:
                continue
            if not one.helps:
                assert price(lever.lifted(project), seed) is None
                continue
            assert one.eased is not None
            eased = round(one.eased / lever.size)
            assert price(lever.at(project, eased), seed) == one.price
            assert price(lever.at(project, eased + lever.harder), seed) is None
            helped += 1
    assert helped >= 2


def test_a_project_with_a_plan_does_not_clash() -> None:
    seed = with_plan()[0]
    assert find_clash(case(seed).project, solved(seed)[0]).possible
