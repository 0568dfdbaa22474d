"""How the planner scales: ``python -m benchmarks.planner`` from the top folder.

Catalogues of any size are grown from the generic one (:mod:`benchmarks.grown`). Targets are
scaled to be easy, tight or out of reach. Beside the planner's own search stand, where asked for,
one plain integer model over all cores in a loop that simulates and cuts, solved by CP-SAT and by
HiGHS (:mod:`benchmarks.one_model`), and brute force: every core opened, no bound and no order.
All that end must come to the same price. Each runs in a process of its own, so that its peak of
memory is its own.

``--no-plan`` measures the proof that there is no plan and the explanation (the smallest clash
with how far each member must give): for a range far out of reach, for a catalogue without a
contactor for any pack, for a range that is a thousandth beyond the last possible one, and for a
rear axle a kilogram below the last possible.
"""

from __future__ import annotations

import argparse
import platform
import resource
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from importlib.metadata import version
from multiprocessing import get_context

from benchmarks.grown import grown, only
from benchmarks.one_model import NotEndedError, OneModel, Solved, by_cp_sat, by_highs, every_core
from bomplan import api
from bomplan.catalog.records import Catalog
from bomplan.design.context import Context
from bomplan.outlook import Solver, find_clash
from bomplan.outlook.mending import with_figure
from bomplan.outlook.needed import with_parts
from bomplan.planner import find_plan
from bomplan.planner.core_search import look_into
from bomplan.planner.events import Stop
from bomplan.project.records import Project

HEADINGS = (
    "rows", "target", "way", "seconds", "processor s", "ratio", "status", "price", "cores",
    "simulations", "solves", "MB",
)  # fmt: skip
TARGETS = {"easy": 0.6, "tight": 1.0, "out of reach": 6.0}


def scaled(project: Project, share: float) -> Project:
    """The project with every range wanted times ``share``."""
    targets = project.targets
    ranges = tuple(
        target.model_copy(update={"distance_m": round(target.distance_m * share)})
        for target in targets.range
    )
    return project.model_copy(update={"targets": targets.model_copy(update={"range": ranges})})


def with_rear_axle(project: Project, limit_kg: int) -> Project:
    """The project with another plate limit of the rear axle."""
    donor = project.donor.model_copy(update={"rear_axle_limit_g": limit_kg * 1000})
    return project.model_copy(update={"donor": donor})


def with_weak_contactors(catalog: Catalog) -> Catalog:
    """The catalogue with no contactor above 30 V: itself the cause that there is no plan."""
    rows = catalog.family("contactor").values()
    weak = [with_figure(row, "v_max", min(30.0, row.number("v_max"))) for row in rows]
    return with_parts(catalog, weak)


@dataclass(frozen=True)
class Measured:
    """One search: seconds on the wall and of the processor, and what it came to."""

    seconds: float
    cpu_s: float
    status: str
    price: int | None
    cores: int
    simulated: int
    solved: int
    peak_mb: int = 0


def measure(project: Project, catalog: Catalog, limit_s: float) -> Measured:
    """The planner's search, stopped at a limit (status feasible or unknown then)."""
    stop = Stop()
    timer = threading.Timer(limit_s, stop.request)
    timer.start()
    start, cpu = time.perf_counter(), time.process_time()
    plan = find_plan(project, catalog, stop=stop)
    seconds, cpu_s = time.perf_counter() - start, time.process_time() - cpu
    timer.cancel()
    found, price = plan.search, plan.objective.value
    return Measured(
        seconds, cpu_s, plan.status, price, found.screened, found.simulated, found.solved
    )


def brute_force(project: Project, catalog: Catalog, limit_s: float) -> Measured:
    """Every core whose parts fit, solved until its bill passes; the cheapest of all."""
    context = Context(project, catalog)
    best: int | None = None
    solved = simulated = cores = 0
    start, cpu = time.perf_counter(), time.process_time()
    status = "optimal"
    try:
        for core in every_core(context, cpu + limit_s):
            cores += 1
            result = look_into(
                context, core.drive, core.currents, core.options, core.simulator, None
            )
            while result.bound is not None:
                solved, simulated = solved + result.solved, simulated + result.simulated
                result = look_into(
                    context, core.drive, core.currents, core.options, core.simulator, None,
                    result.cuts, floor=result.floor, tried=result.tried,
                )  # fmt: skip
            solved, simulated = solved + result.solved, simulated + result.simulated
            if result.bill is not None and (best is None or result.bill.price < best):
                best = result.bill.price
        status = "none" if best is None else "optimal"
    except NotEndedError:
        status = "not ended"
    seconds, cpu_s = time.perf_counter() - start, time.process_time() - cpu
    return Measured(seconds, cpu_s, status, best, cores, simulated, solved)


def one_model(
    project: Project, catalog: Catalog, limit_s: float, solve: Callable[..., Solved]
) -> Measured:
    """One model over all cores; building it is part of the time."""
    context = Context(project, catalog)
    start, cpu = time.perf_counter(), time.process_time()
    price, cores, solves, status = None, 0, 0, "not ended"
    try:
        whole = OneModel(context, cpu + limit_s)
        cores = len(whole.cores)
        price, solves = whole.least(solve, cpu + limit_s)
        status = "none" if price is None else "optimal"
    except NotEndedError:
        pass
    seconds, cpu_s = time.perf_counter() - start, time.process_time() - cpu
    return Measured(seconds, cpu_s, status, price, cores, solves, solves)


def plain_cp_sat(project: Project, catalog: Catalog, limit_s: float) -> Measured:
    """:func:`one_model` with CP-SAT."""
    return one_model(project, catalog, limit_s, by_cp_sat)


def plain_highs(project: Project, catalog: Catalog, limit_s: float) -> Measured:
    """:func:`one_model` with HiGHS."""
    return one_model(project, catalog, limit_s, by_highs)


WAYS: dict[str, Callable[[Project, Catalog, float], Measured]] = {
    "ours": measure,
    "cp-sat": plain_cp_sat,
    "highs": plain_highs,
    "brute-force": brute_force,
}


def explained(project: Project, catalog: Catalog, limit_s: float) -> Measured:
    """No plan, and why: the proof, the smallest clash, and how far each member must give."""
    stop = Stop()
    timer = threading.Timer(limit_s, stop.request)
    timer.start()
    start, cpu = time.perf_counter(), time.process_time()
    solver = Solver(catalog, stop=stop)
    try:
        clash = find_clash(project, solver)
        told = "possible" if clash.possible else ", ".join(one.lever for one in clash.members)
    except Exception as error:  # whatever ended it is the measurement's answer
        told = f"not ended ({type(error).__name__})"
    timer.cancel()
    return Measured(
        time.perf_counter() - start, time.process_time() - cpu, told or "nothing left", None, 0, 0,
        solver.solved,
    )  # fmt: skip


def last_possible(
    make: Callable[[int], Project], catalog: Catalog, works: int, fails: int
) -> Project:
    """The project one step beyond the last amount that has a plan, by halving."""
    solver = Solver(catalog)
    while abs(works - fails) > 1:
        middle = (works + fails) // 2
        if solver.possible(make(middle)):
            works = middle
        else:
            fails = middle
    return make(fails)


def _alone(
    task: Callable[[Project, Catalog, float], Measured], *given: object
) -> tuple[Measured, int]:
    import ortools.sat.python.cp_model  # noqa: F401  (not a part of the search)

    found = task(*given)  # type: ignore[arg-type]
    return found, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def alone(
    task: Callable[[Project, Catalog, float], Measured], *given: object
) -> tuple[Measured, int]:
    """What a task measured in a fresh process, and the most memory that it held, in MB."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(_alone, task, *given).result()


def _catalog(asked: argparse.Namespace, shipped: Catalog, rows: int) -> Catalog:
    if not (rows or asked.modules):
        return shipped
    return grown(shipped, rows, asked.seed, asked.others, asked.modules)


def _table(asked: argparse.Namespace, project: Project, shipped: Catalog) -> None:
    print(" | ".join(HEADINGS), flush=True)
    for rows in asked.rows:
        catalog = _catalog(asked, shipped, rows)
        for name in asked.targets:
            wanted = scaled(project, TARGETS[name])
            base: float | None = None
            prices = set()
            for way in asked.ways:
                found, peak_mb = alone(WAYS[way], wanted, catalog, asked.limit)
                base = found.cpu_s if base is None else base
                if found.status in ("optimal", "none"):
                    prices.add(found.price)
                cells = (
                    rows or "shipped", name, way, f"{found.seconds:.1f}", f"{found.cpu_s:.1f}",
                    f"{found.cpu_s / base:.1f}", found.status, found.price, found.cores,
                    found.simulated, found.solved, peak_mb,
                )  # fmt: skip
                print(" | ".join(str(cell) for cell in cells), flush=True)
            if len(prices) > 1:
                sys.exit(f"the ways do not agree: {prices}")


def _no_plan(asked: argparse.Namespace, project: Project, shipped: Catalog) -> None:
    print("rows | cause | proof s | with the explanation s | clash | searches | MB", flush=True)
    for rows in asked.rows:
        catalog = _catalog(asked, shipped, rows)
        axle_kg = project.donor.rear_axle_limit_g // 1000
        base_kg = Context(project, catalog).base.mass_g // 1000
        cases = {
            "range times 6": (scaled(project, 6.0), catalog),
            "contactors end at 30 V": (project, with_weak_contactors(catalog)),
            "range just out of reach": (
                last_possible(lambda share: scaled(project, share / 1000), catalog, 1000, 6000),
                catalog,
            ),
            "rear axle just too weak": (
                last_possible(
                    lambda limit: with_rear_axle(project, limit), catalog, axle_kg, base_kg // 3
                ),
                catalog,
            ),
        }
        for cause, (wanted, rows_of_it) in cases.items():
            proof, _ = alone(measure, wanted, rows_of_it, asked.limit)
            told, peak_mb = alone(explained, wanted, rows_of_it, asked.limit)
            cells = (
                rows or "shipped", cause, f"{proof.cpu_s:.1f} ({proof.status})",
                f"{told.cpu_s:.1f}", told.status, told.solved, peak_mb,
            )  # fmt: skip
            print(" | ".join(str(cell) for cell in cells), flush=True)


def main() -> None:
    """Print one table; see the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--example", default="garden-pickup")
    parser.add_argument("--rows", type=int, nargs="+", default=[0, 200, 1000])
    parser.add_argument("--others", type=int, default=0, help="rows of every other family")
    parser.add_argument("--modules", type=int, default=0, help="rows of modules, if more")
    parser.add_argument("--targets", nargs="+", choices=list(TARGETS), default=list(TARGETS))
    parser.add_argument("--ways", nargs="+", choices=list(WAYS), default=["ours"])
    parser.add_argument("--only", nargs="+", default=[], help="ids: their families have no others")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=float, default=120.0, help="seconds for one search")
    parser.add_argument("--no-plan", action="store_true", help="proof and explanation instead")
    asked = parser.parse_args()
    print(platform.platform(), platform.processor() or "", f"Python {platform.python_version()}")
    names = ("numpy", "ortools", "pandas", "scipy")
    print(", ".join(f"{name} {version(name)}" for name in names))
    project = api.open_project(f"example:{asked.example}").project
    shipped = only(api.load_catalog(project.catalogs), asked.only)
    (_no_plan if asked.no_plan else _table)(asked, project, shipped)


if __name__ == "__main__":
    main()
