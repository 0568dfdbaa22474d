"""Many plans of near-alike projects: each solved once, side by side where an executor is given.

Whatever has the standard executor interface will do (:class:`concurrent.futures.Executor`):
a pool of processes here, or a cluster's own. The answers do not depend on it.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from typing import Final, TypeVar

from bomplan.audit import audit_plan
from bomplan.catalog.records import Catalog
from bomplan.design.planfile import digest
from bomplan.design.records import Core, Plan
from bomplan.errors import InternalError
from bomplan.outlook.meeting import may_meet, meets
from bomplan.planner import Stop, find_any, find_plan
from bomplan.planner.shared import Shared
from bomplan.project.goal import Goal
from bomplan.project.records import Project

Answer = TypeVar("Answer")
_LOOK_S: Final = 0.3
_LOOKED_AT: Final = 6  # plans that were met, held against a new project
# Motor and module of plans that are not wanted again.
Barred = frozenset[tuple[str, str]]


class StudyStoppedError(Exception):
    """The user asked to stop before the study was done."""


def solve(
    project: Project,
    catalog: Catalog,
    barred: Barred = frozenset(),
    shared: Shared | None = None,
    stop: Stop | None = None,
) -> Plan:
    """The cheapest plan of a project, audited. A task for an executor."""
    plan = find_plan(project, catalog, barred=barred, shared=shared, stop=stop, standings=False)
    return _audited(plan)


def solve_left(
    project: Project,
    catalog: Catalog,
    shared: Shared | None = None,
    stop: Stop | None = None,
) -> Plan:
    """As :func:`solve`, without the cores that fell in earlier searches."""
    return _audited(
        find_plan(project, catalog, shared=shared, stop=stop, standings=False, left_over=True)
    )


def _audited(plan: Plan) -> Plan:
    if plan.core is None:
        return plan
    plan = plan.model_copy(update={"checks": audit_plan(plan)})
    failed = [check.id for check in plan.checks if not check.passed]
    if failed:
        raise InternalError(f"a plan that was found fails the audit: {', '.join(failed)}")
    return plan


def by_cost(project: Project) -> Project:
    """The project with the least cost as its goal: what studies of money go by."""
    return project.model_copy(update={"goal": Goal()})


def any_plan(
    project: Project,
    catalog: Catalog,
    shared: Shared | None = None,
    stop: Stop | None = None,
) -> Plan:
    """The first plan of the project that the search comes to, whatever it costs."""
    return find_any(by_cost(project), catalog, stop=stop, shared=shared)


def plan_of_core(
    project: Project,
    catalog: Catalog,
    core: Core,
    shared: Shared | None = None,
    stop: Stop | None = None,
) -> Plan:
    """A plan of the project with this core; one without a core where it has none."""
    return find_any(by_cost(project), catalog, stop=stop, shared=shared, only=core)


def _told(plan: Plan) -> bool | None:
    """Whether there is a plan; None if the search could not tell."""
    if plan.core is not None:
        return True
    return False if plan.status == "none" else None


class Solver:
    """Plans of one catalogue, remembered by project."""

    def __init__(
        self, catalog: Catalog, executor: Executor | None = None, stop: Stop | None = None
    ) -> None:
        self.catalog = catalog
        self.solved = 0
        self._executor = executor
        self._stop = stop or Stop()
        self._catalogs: list[Catalog] = [catalog]
        self._shared = Shared(catalog)
        self._plans: dict[tuple[int, str, Barred], Plan] = {}
        self._possible: dict[str, bool | None] = {}
        self._witnesses: dict[str, Plan] = {}
        self._some: dict[tuple[int, str], Plan] = {}
        # Plans that were met, newest first: one of them may meet the next project as it stands.
        self._met: list[Plan] = []

    def plan(self, project: Project, barred: Barred = frozenset()) -> Plan:
        """The cheapest plan (status ``none``: proven that there is none)."""
        return self.plans([project], barred)[0]

    def plans(self, projects: Sequence[Project], barred: Barred = frozenset()) -> list[Plan]:
        """The cheapest plan of each, in order."""
        return self.plans_of([(project, self.catalog) for project in projects], barred)

    def plans_of(
        self, wanted: Sequence[tuple[Project, Catalog]], barred: Barred = frozenset()
    ) -> list[Plan]:
        """As :meth:`plans`, each project with a catalogue of its own."""
        keys = [(self._number(catalog), _key(project), barred) for project, catalog in wanted]
        new = {
            key: (*one, barred)
            for key, one in zip(keys, wanted, strict=True)
            if key not in self._plans
        }
        for key, plan in zip(new, self._run(solve, list(new.values())), strict=True):
            self._plans[key] = plan
        return [self._plans[key] for key in keys]

    def with_catalog(self, catalog: Catalog) -> Solver:
        """One that works alike on another catalogue; this one if it is the same."""
        return self if catalog is self.catalog else Solver(catalog, self._executor, self._stop)

    def _number(self, catalog: Catalog) -> int:
        """Which of the catalogues so far this is; their digests may be of what they came from."""
        for number, known in enumerate(self._catalogs):
            if known is catalog:
                return number
        self._catalogs.append(catalog)
        return len(self._catalogs) - 1

    def some(self, project: Project, catalog: Catalog | None = None) -> Plan:
        """A plan of the project, the first that is come to (status ``none``: there is none)."""
        catalog = catalog or self.catalog
        project = by_cost(project)
        key = (self._number(catalog), _key(project))
        known = self._some.get(key)
        if known is None:
            (known,) = self._run(any_plan, [(project, catalog)])
            self._some[key] = known
            if known.core is not None and catalog is self.catalog:
                self._met.insert(0, known)
        return known

    def possible(self, project: Project) -> bool | None:
        """Whether the project has a plan at all; None if the search could not tell.

        A plan that was met before may meet this project as it stands; else one is searched for.
        """
        project = by_cost(project)
        key = _key(project)
        if key not in self._possible:
            known = (plan for plan in self._met[:_LOOKED_AT] if may_meet(plan, project))
            met = next((plan for plan in known if meets(plan, project)), None)
            self._keep(key, met or self.some(project))
        return self._possible[key]

    def _keep(self, key: str, plan: Plan) -> None:
        if plan.core is not None:
            self._witnesses[key] = plan
        self._possible[key] = _told(plan)

    def stands(self, plan: Plan, project: Project) -> bool:
        """Whether the project has a plan with the core of this one; :meth:`possible` knows then."""
        project = by_cost(project)
        key = _key(project)
        if key in self._possible:
            return bool(self._possible[key])
        found = plan
        if not meets(plan, project):
            (found,) = self._run(plan_of_core, [(project, self.catalog, plan.core)])
            if found.core is None:
                return False
            self._met.insert(0, found)
        self._keep(key, found)
        return True

    def witness(self, project: Project) -> Plan | None:
        """The plan by which :meth:`possible` knew that there is one; None if there was none."""
        return self._witnesses.get(_key(by_cost(project)))

    def near(self, project: Project) -> Plan:
        """As :meth:`plan`, without the cores that fell in earlier searches."""
        key = (self._number(self.catalog), _key(project), Barred())
        if key not in self._plans:
            (self._plans[key],) = self._run(solve_left, [(project, self.catalog)])
        return self._plans[key]

    def _run(self, task: Callable[..., Answer], jobs: list[tuple[object, ...]]) -> Iterator[Answer]:
        """Every job's answer in order; stops between answers where the user asks."""
        if self._executor is None or len(jobs) < 2:
            for job in jobs:
                self._look()
                self.solved += 1
                answer = task(*job, shared=self._shared, stop=self._stop)
                self._look()  # a search that was stopped proves nothing
                yield answer
            return
        futures: list[Future[Answer]] = [self._executor.submit(task, *job) for job in jobs]
        try:
            for future in futures:
                self._wait(future)
                self.solved += 1
                yield future.result()
        finally:
            for future in futures:
                future.cancel()

    def _wait(self, future: Future[Answer]) -> None:
        while True:
            self._look()
            try:
                future.exception(timeout=_LOOK_S)
                return
            except TimeoutError:
                continue

    def _look(self) -> None:
        if self._stop.requested:
            raise StudyStoppedError


def _key(project: Project) -> str:
    return digest(project.model_dump(mode="json"))


@contextmanager
def processes(workers: int, stop: Stop | None = None) -> Iterator[Executor | None]:
    """A pool of processes; none for one worker. Where ``stop`` is asked for, it ends at once."""
    if workers <= 1:
        yield None
        return
    pool = ProcessPoolExecutor(
        workers, mp_context=get_context("spawn"), initializer=_leave_interrupts
    )
    try:
        yield pool
    finally:
        if stop is not None and stop.requested:
            # Who is still searching would be waited for, a minute on a large project.
            for child in list((getattr(pool, "_processes", None) or {}).values()):
                child.terminate()
        pool.shutdown(wait=True, cancel_futures=True)


def _leave_interrupts() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
