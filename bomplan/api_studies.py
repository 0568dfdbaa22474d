"""Studies of one project from Python: what binds, alternatives, fronts, the smallest clash.

Public as ``api.binds`` and so on. Each plans many times; every figure is that of a plan which was
searched for and proven. All go by money, whatever the project's goal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from bomplan.design.records import Plan
    from bomplan.design.studies import Alternatives, Bindings, Clash, Front
    from bomplan.outlook import Solver
    from bomplan.outlook.alternatives import Differ
    from bomplan.outlook.fronts import Against
    from bomplan.planner.events import Stop
    from bomplan.project import LoadedProject, Project

    Given = Project | LoadedProject | str | Path


def binds(
    project: Project | LoadedProject | str | Path,
    only: Sequence[str] = (),
    catalogs: Sequence[str | Path] | None = None,
    *,
    workers: int = 1,
    executor: Executor | None = None,
    stop: Stop | None = None,
) -> Bindings:
    """What one step more or less of each target and limit costs, dearest first.

    ``only`` are ids of targets and limits as checks have them; ValueError for one that the
    project does not have, and for a project without a plan. ``executor`` or ``workers`` as in
    :func:`compare`. Raises InputError.
    """
    from bomplan.design.studies import Bindings
    from bomplan.outlook import what_binds
    from bomplan.outlook.headline import headline
    from bomplan.outlook.levers import levers

    with _asked(project, catalogs, workers, executor, stop) as (wanted, solver):
        known = [lever.id for lever in levers(wanted)]
        for name in only:
            if name not in known:
                raise ValueError(f"{name!r} is no target or limit; there are: {', '.join(known)}")
        plan = _cheapest(wanted, solver)
        return Bindings(
            currency=plan.currency,
            chosen=headline(plan),
            bindings=what_binds(wanted, plan, solver, only),
        )


def alternatives(
    project: Project | LoadedProject | str | Path,
    catalogs: Sequence[str | Path] | None = None,
    *,
    most: int = 3,
    within: float | None = None,
    differ: Differ = "motor-or-module",
    prices_move: float = 0.15,
    workers: int = 1,
    executor: Executor | None = None,
    stop: Stop | None = None,
) -> Alternatives:
    """The cheapest plan and the best that differ from it, each with what it does better.

    At most ``most`` of them, none dearer than ``within`` (0.05: by 5 %) above the first;
    ``prices_move`` is how far prices may turn out otherwise, for the plans that would then be
    the cheaper ones. ValueError for a project without a plan. Raises InputError.
    """
    from bomplan.outlook import alternatives as study

    with _asked(project, catalogs, workers, executor, stop) as (wanted, solver):
        plan = _cheapest(wanted, solver)
        return study(
            wanted,
            plan,
            solver,
            most=most,
            within=within,
            differ=differ,
            prices_move=prices_move,
        )


def front(
    project: Project | LoadedProject | str | Path,
    against: Against = "range",
    catalogs: Sequence[str | Path] | None = None,
    *,
    most: int = 8,
    target: str = "",
    apart: float | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    stop: Stop | None = None,
) -> Front:
    """The plans that no other beats both in cost and in range, mass or rear axle load.

    At most ``most`` points from the cheapest on, ``apart`` (1 km, 1 kg) at least from one to the
    next; ``target`` names the range target that is moved. No points for a project without a
    plan; ValueError for a target that it does not have. Raises InputError.
    """
    from bomplan.outlook import front as study

    with _asked(project, catalogs, workers, executor, stop) as (wanted, solver):
        return study(wanted, solver, against, most=most, target=target, apart=apart)


def clash(
    project: Project | LoadedProject | str | Path,
    catalogs: Sequence[str | Path] | None = None,
    *,
    parts: bool = False,
    workers: int = 1,
    executor: Executor | None = None,
    stop: Stop | None = None,
) -> Clash:
    """The smallest set of requirements that no plan meets together, and what each must give.

    ``possible`` in the result says that the project has a plan after all. Where the catalogue
    itself is the cause, ``parts`` in the result are the figures that a part would need; the
    argument ``parts`` asks for better parts in any case. Raises InputError.
    """
    from bomplan.outlook import find_clash

    with _asked(project, catalogs, workers, executor, stop) as (wanted, solver):
        return find_clash(wanted, solver, parts=parts or None)


@contextmanager
def _asked(
    project: Given,
    catalogs: Sequence[str | Path] | None,
    workers: int,
    executor: Executor | None,
    stop: Stop | None,
) -> Iterator[tuple[Project, Solver]]:
    """The project, checked, with what solves it."""
    from bomplan.opening import check_references
    from bomplan.outlook import Solver, processes

    wanted, catalog = check_references(project, catalogs)
    with processes(workers if executor is None else 1, stop) as own:
        yield wanted, Solver(catalog, executor or own, stop)


def _cheapest(project: Project, solver: Solver) -> Plan:
    from bomplan.outlook import by_cost

    plan = solver.plan(by_cost(project))
    if plan.core is None:
        raise ValueError(f"there is no plan to start from (status {plan.status})")
    return plan
