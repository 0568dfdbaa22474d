"""Any executor with the standard interface does: a cluster engine's is handed in as it is.

The one here does what such an engine must: it sends each task away as bytes, and brings the
answer back as bytes.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import Any

import pytest
from shipped_examples import generic, plan_of, with_core

from bomplan import api
from bomplan.outlook import Solver, what_binds


class Engine(Executor):
    """Hands every task over by value, and its answer back."""

    def __init__(self) -> None:
        self.done = 0

    def submit(self, task: Callable[..., Any], /, *words: Any, **named: Any) -> Future[Any]:
        there, given, more = pickle.loads(pickle.dumps((task, words, named)))
        future: Future[Any] = Future()
        future.set_result(pickle.loads(pickle.dumps(there(*given, **more))))
        self.done += 1
        return future


NAME = "courier-motorcycle"


def test_chances_on_an_engine() -> None:
    engine = Engine()
    plan = plan_of(NAME)
    assert api.chances(plan, draws=120, executor=engine) == api.chances(plan, draws=120)
    assert engine.done == 3


@pytest.mark.slow
def test_plans_side_by_side_on_an_engine() -> None:
    project = with_core(NAME)
    dearer = project.model_copy(update={"name": "another"})
    engine = Engine()
    found = api.compare([project, dearer], executor=engine)
    assert found == api.compare([project, dearer])
    assert [row.outcome for row in found.rows] == ["plan", "plan"]
    assert engine.done == 2


@pytest.mark.slow
def test_what_binds_on_an_engine() -> None:
    project, engine = with_core(NAME), Engine()
    plan = Solver(generic()).plan(project)
    only = ("bay.mass.cradle",)
    found = what_binds(project, plan, Solver(generic(), engine), only)
    assert found == what_binds(project, plan, Solver(generic()), only)
    assert found[0].lever == only[0]
    assert engine.done >= 1
