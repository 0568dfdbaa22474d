"""The best plans that differ in motor or module, and whether the choice stands on firm prices.

The next plan is the cheapest of all those whose motor and module together have not been
shown yet, found and proven by the same search: the order is exact, however close prices lie.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal

from bomplan.design.records import Plan
from bomplan.design.studies import Alternative, Alternatives
from bomplan.outlook.headline import better_and_worse, headline
from bomplan.outlook.solving import Barred, Solver, by_cost
from bomplan.project.records import Project

Differ = Literal["motor-or-module", "motor", "module", "chemistry"]
DIFFER: Final[tuple[Differ, ...]] = ("motor-or-module", "motor", "module", "chemistry")
PRICES_MOVE: Final = 0.15


def different_plans(
    project: Project, plan: Plan, solver: Solver, differ: Differ = "motor-or-module"
) -> Iterator[Plan]:
    """The plan, then the cheapest that differs from all before, and so on to the last."""
    project = by_cost(project)
    barred: set[tuple[str, str]] = set()
    while plan.core is not None:
        yield plan
        barred |= _alike(plan, solver, differ)
        plan = solver.plan(project, Barred(barred))


def _alike(plan: Plan, solver: Solver, differ: Differ) -> set[tuple[str, str]]:
    """Every motor with module of the catalogue that counts as the plan's own."""
    assert plan.core is not None
    motors, modules = solver.catalog.family("motor"), solver.catalog.family("module")
    motor, module = plan.core.motor, plan.core.module
    if differ == "motor-or-module":
        return {(motor, module)}
    if differ == "motor":
        return {(motor, other) for other in modules}
    if differ == "module":
        return {(other, module) for other in motors}
    chemistry = modules[module].text("chemistry")
    same = [name for name, part in modules.items() if part.text("chemistry") == chemistry]
    return {(other, name) for other in motors for name in same}


def alternatives(
    project: Project,
    plan: Plan,
    solver: Solver,
    *,
    most: int = 3,
    within: float | None = None,
    differ: Differ = "motor-or-module",
    prices_move: float = PRICES_MOVE,
) -> Alternatives:
    """At most ``most`` further plans, and none dearer than ``within`` (a share) above the first.

    ``prices_move`` is the share by which the parts of either plan that the other does not
    have may turn out dearer or cheaper, for :attr:`Alternative.overtakes`. ValueError where
    ``plan`` chose nothing.
    """
    first = headline(plan)
    ceiling = None if within is None else first.price * (1 + within)
    others: list[Alternative] = []
    complete = True
    plans = different_plans(project, plan, solver, differ)
    next(plans)
    while True:
        if len(others) == most:
            complete = False
            break
        other = next(plans, None)
        if other is None:
            break
        line = headline(other)
        if ceiling is not None and line.price > ceiling:
            break
        better, worse = better_and_worse(line, first)
        others.append(
            Alternative(
                plan=line,
                price_change=line.price - first.price,
                better=better,
                worse=worse,
                overtakes=_overtakes(plan, other, prices_move),
            )
        )
    return Alternatives(
        currency=plan.currency,
        chosen=first,
        others=tuple(others),
        complete=complete,
        prices_move=prices_move,
    )


def _overtakes(chosen: Plan, other: Plan, share: float) -> bool:
    """Whether ``other`` gets cheaper if what only the chosen plan has costs ``share`` more.

    And what only the other has costs as much less; what both buy alike moves both alike.
    Counted in thousandths of a smallest unit, so that no rounding decides.
    """
    ours = {(line.family, line.part, line.bought, line.supplier): line for line in chosen.lines}
    theirs = {(line.family, line.part, line.bought, line.supplier): line for line in other.lines}
    permille = round(share * 1000)
    dear = sum(line.price for key, line in ours.items() if key not in theirs)
    cheap = sum(line.price for key, line in theirs.items() if key not in ours)
    return cheap * (1000 - permille) < dear * (1000 + permille)
