"""Open the cores of a chunk: one after the other, or side by side in worker processes."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

from bomplan.catalog.records import Catalog
from bomplan.design.adapter import Simulator
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.records import Core
from bomplan.planner.core_search import CoreResult, look_into
from bomplan.planner.cuts import Cuts
from bomplan.planner.judge import Judge
from bomplan.planner.options import NoOption, counted, find_options
from bomplan.planner.walk import Opened, Spread
from bomplan.project.records import Project

_context: Context | None = None
_judge: Judge | None = None


def open_here(context: Context, judge: Judge | None = None) -> Spread:
    """Look into a chunk's cores one after the other in this process."""
    judge = judge or Judge(context)

    def spread(chunk: list[Opened], incumbent: int | None) -> list[CoreResult]:
        return [
            look_into(
                context,
                opened.drive,
                opened.currents,
                opened.options,
                opened.simulator,
                incumbent,
                opened.cuts,
                judge,
                opened.bounds,
                opened.floor,
                opened.tried,
            )
            for opened in chunk
        ]

    return spread


@contextmanager
def open_in_processes(context: Context, workers: int) -> Iterator[Spread]:
    """A pool of workers that each hold the project and the catalogue."""
    pool = ProcessPoolExecutor(
        workers,
        mp_context=get_context("spawn"),
        initializer=_prepare,
        initargs=(context.project, context.catalog),
    )

    def spread(chunk: list[Opened], incumbent: int | None) -> list[CoreResult]:
        futures = [
            pool.submit(
                _open,
                opened.core,
                opened.currents,
                opened.options.capacity,
                incumbent,
                opened.cuts,
                opened.floor,
                opened.tried,
                opened.simulator.context.farther_m,
            )
            for opened in chunk
        ]
        return [future.result() for future in futures]

    try:
        yield spread
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _prepare(project: Project, catalog: Catalog) -> None:
    global _context, _judge
    # The parent decides when to stop; a Ctrl-C must not kill a worker in mid-answer.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _context = Context(project, catalog)
    _judge = Judge(_context)


def _open(
    core: Core,
    currents: DesignCurrents,
    capacity: tuple[int, ...],
    incumbent: int | None,
    cuts: Cuts,
    floor: int | None,
    tried: int,
    farther_m: dict[str, int],
) -> CoreResult:
    assert _context is not None
    _context.farther_m = farther_m
    drive = resolve(_context, core)
    found = find_options(_context, drive, currents, capacity, judge=_judge)
    assert not isinstance(found, NoOption)
    options = counted(_context, drive, found)  # as the walk opens a core
    return look_into(
        _context,
        drive,
        currents,
        options,
        Simulator(_context, drive),
        incumbent,
        cuts,
        _judge,
        floor=floor,
        tried=tried,
    )
