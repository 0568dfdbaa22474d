"""Cost against one figure: every plan that nothing beats in both, by the epsilon constraint.

The cheapest plan is planned again with the figure asked to be better than the last plan's by
a least distance; each answer is a point of the front unless the next costs no more. No plan
lies between two points that follow one another, but for those that are not that distance
better (proven by the searches themselves).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from bomplan.design.records import Plan
from bomplan.design.studies import Front, FrontPoint
from bomplan.outlook.headline import headline
from bomplan.outlook.levers import Lever, levers
from bomplan.outlook.solving import Solver, by_cost
from bomplan.project.records import Project

Against = Literal["range", "mass", "rear-axle"]
AGAINST: Final[tuple[Against, ...]] = ("range", "mass", "rear-axle")


@dataclass(frozen=True)
class _Axis:
    """One figure: how a project asks for it, how a plan has it, in integer grains."""

    words: str
    unit: str
    size: float
    apart: int
    greater: bool
    ask: Callable[[Project, int], Project]
    had: Callable[[Plan], int]


def front(
    project: Project,
    solver: Solver,
    against: Against,
    *,
    most: int = 12,
    target: str = "",
    apart: float | None = None,
) -> Front:
    """The front from the cheapest plan on, at most ``most`` points.

    ``apart`` is the least distance between two points, in the front's unit (1 km, 1 kg).
    ``target`` names the range target that is moved (the first one, if empty). ValueError for
    a name that the project does not have.
    """
    project = by_cost(project)
    axis = _range_axis(project, target) if against == "range" else _MASSES[against]
    grains = axis.apart if apart is None else max(1, round(apart / axis.size))
    points: list[FrontPoint] = []
    complete = True
    plans = _walk(project, solver, axis, grains)
    last = next(plans, None)
    while last is not None:
        after = next(plans, None)
        # The same price for a better figure: the earlier plan was beaten.
        if after is None or _price(after) > _price(last):
            points.append(FrontPoint(figure=_shown(axis, axis.had(last)), plan=headline(last)))
            if len(points) == most and after is not None:
                complete = False
                break
        last = after
    return Front(
        currency=project.currency,
        against=against,
        words=axis.words,
        unit=axis.unit,
        greater_is_better=axis.greater,
        points=tuple(points),
        complete=complete,
    )


def _walk(project: Project, solver: Solver, axis: _Axis, apart: int) -> Iterator[Plan]:
    plan = solver.plan(project)
    while plan.core is not None:
        yield plan
        better = axis.had(plan) + apart if axis.greater else axis.had(plan) - apart
        if better <= 0:
            return
        plan = solver.plan(axis.ask(project, better))


def _shown(axis: _Axis, amount: int) -> float:
    return round(amount * axis.size, 3)


def _price(plan: Plan) -> int:
    assert plan.objective.value is not None
    return plan.objective.value


def range_target(project: Project, name: str) -> str:
    """The range target of this name, the first one if it is empty; ValueError if there is none."""
    targets = [one.name for one in project.targets.range]
    name = name or targets[0]
    if name not in targets:
        raise ValueError(f"{name!r} is no range target; there are: {', '.join(targets)}")
    return name


def _range_axis(project: Project, name: str) -> _Axis:
    name = range_target(project, name)
    lever = next(one for one in levers(project) if one.id == f"range.{name}")
    return _Axis(
        f"distance that {name} may ask for",
        lever.unit,
        lever.size,
        round(1 / lever.size),
        True,
        lever.at,
        lambda plan: _grants(project, lever, plan, name),
    )


def _grants(project: Project, lever: Lever, plan: Plan, name: str) -> int:
    """The longest distance, in the lever's grain, that the plan would still meet."""
    assert plan.performance is not None
    reached = next(one.range_km for one in plan.performance.ranges if one.target == name)
    grains = int(reached / (1 + project.margins.range) / lever.size + 1e-6)
    return max(grains, 1)


def _laden(project: Project, grams: int) -> Project:
    return _limited(project, "laden_mass_max_g", grams)


def _rear(project: Project, grams: int) -> Project:
    return _limited(project, "rear_axle_max_g", grams)


def _limited(project: Project, key: str, grams: int) -> Project:
    targets = project.targets.model_copy(update={key: grams})
    return project.model_copy(update={"targets": targets})


def _laden_g(plan: Plan) -> int:
    assert plan.mass is not None
    return round(plan.mass.laden_kg * 1000)


def _rear_g(plan: Plan) -> int:
    """The rear axle's greatest load, rounded up to the gram as the limit is judged."""
    assert plan.mass is not None
    return max(round(axle.load_kg * 1000) for axle in plan.mass.axles if axle.name == "rear")


_MASSES: Final[dict[str, _Axis]] = {
    "mass": _Axis(
        "laden mass in the heaviest load case", "kg", 0.001, 1000, False, _laden, _laden_g
    ),
    "rear-axle": _Axis(
        "rear axle load in the worst load case", "kg", 0.001, 1000, False, _rear, _rear_g
    ),
}
