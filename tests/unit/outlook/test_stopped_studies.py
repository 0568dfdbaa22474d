"""A study that is stopped claims nothing, keeps nothing, and does not wait for its searches."""

from __future__ import annotations

import threading
import time

import pytest
from shipped_examples import generic, project_of

from bomplan.outlook import Solver, StudyStoppedError, processes
from bomplan.planner.events import Stop, Until

PROJECT = project_of("courier-motorcycle")


def test_a_search_is_stopped_in_its_midst_and_not_remembered() -> None:
    stop = Stop()
    solver = Solver(generic(), stop=stop)
    timer = threading.Timer(0.2, stop.request)
    timer.start()
    with pytest.raises(StudyStoppedError):
        solver.plan(PROJECT)
    assert solver._plans == {}
    with pytest.raises(StudyStoppedError):
        solver.possible(PROJECT)
    assert solver._some == {}
    assert solver._possible == {}


def test_a_part_stops_for_itself_and_with_the_whole() -> None:
    whole = Stop()
    one, other = Until(whole), Until(whole)
    one.request()
    assert one.requested
    assert not other.requested
    assert not whole.requested
    whole.request()
    assert other.requested


def test_a_pool_of_a_stopped_study_ends_at_once() -> None:
    stop = Stop()
    begun = time.monotonic()
    with processes(2, stop) as pool:
        assert pool is not None
        futures = [pool.submit(time.sleep, 120) for _ in range(2)]
        while not any(future.running() for future in futures):
            time.sleep(0.05)
        stop.request()
    assert time.monotonic() - begun < 60
