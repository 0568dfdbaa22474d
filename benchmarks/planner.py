"""How the planner scales: ``python -m benchmarks.planner`` from the top folder.

Catalogues of any size are grown from the generic one: every new row is a generic row whose
size is drawn anew and whose price follows size with noise, seeded. Targets are scaled to be
easy, tight or out of reach. Brute force opens every core that closed-form checks leave, with
no bound and no order, and must come to the same price.
"""

from __future__ import annotations

import argparse
import platform
import resource
import sys
import threading
import time
from dataclasses import dataclass
from importlib.metadata import version

import numpy as np

from bomplan import api
from bomplan.catalog.records import Catalog, Pair, Part
from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.planner import find_plan
from bomplan.planner.core_search import look_into
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.events import Stop
from bomplan.planner.options import NoOption, find_options
from bomplan.planner.screen import Screened, drives, first_failed, matching, packs
from bomplan.project.records import Project
from bomplan.requirements.sustained import sustained_checks

SPREAD = 0.25  # of size, log-normal; prices follow size and spread by half of it again
# Figures that grow with a module's size, and those that fall.
GROWS = (
    "capacity_ah", "capacity_1h_ah", "discharge_continuous_a", "discharge_10s_a",
    "charge_continuous_a", "charge_10s_a",
)  # fmt: skip
FALLS = ("resistance_dc_mohm", "resistance_ac_mohm")
HEADINGS = (
    "rows", "target", "way", "seconds", "processor s", "status", "price", "cores", "simulations",
    "solves", "MB",
)  # fmt: skip
TARGETS = {"easy": 0.6, "tight": 1.0, "out of reach": 6.0}


def grown(catalog: Catalog, rows: int, seed: int) -> Catalog:
    """The catalogue with so many rows in each main family, pairs grown alike."""
    rng = np.random.default_rng(seed)
    families = {name: dict(parts) for name, parts in catalog.families.items()}
    modules = list(catalog.family("module").values())
    for number in range(max(0, rows - len(modules))):
        base = modules[int(rng.integers(len(modules)))]
        size = float(np.exp(SPREAD * rng.standard_normal()))
        figures: dict[str, float | int | str | bool] = dict(base.figures)
        for column in GROWS:
            if base.has(column):
                figures[column] = round(base.number(column) * size, 3)
        for column in FALLS:
            figures[column] = round(base.number(column) / size, 5)
        _add(families["module"], base, f"{base.id}-grown-{number}", size, figures, rng)
    _grow_drives(catalog, families, rows, rng)
    pairs = _grow_pairs(catalog, families, rng)
    return catalog.model_copy(update={"families": families, "pairs": pairs})


def _add(
    family: dict[str, Part],
    base: Part,
    name: str,
    size: float,
    figures: dict[str, float | int | str | bool],
    rng: np.random.Generator,
) -> None:
    price = base.price * size * float(np.exp(0.5 * SPREAD * rng.standard_normal()))
    update = {
        "id": name,
        "mass_g": max(1, round(base.mass_g * size)),
        "price": max(1, round(price)),
        "figures": figures,
    }
    family[name] = base.model_copy(update=update)


def _grow_drives(
    catalog: Catalog, families: dict[str, dict[str, Part]], rows: int, rng: np.random.Generator
) -> None:
    """Motors and controllers: only mass and price are drawn anew, so that pairs still hold."""
    for name in ("motor", "controller"):
        bases = list(catalog.family(name).values())
        for number in range(max(0, rows - len(bases))):
            base = bases[int(rng.integers(len(bases)))]
            size = float(np.exp(SPREAD * rng.standard_normal()))
            _add(families[name], base, f"{base.id}-grown-{number}", size, dict(base.figures), rng)


def _grow_pairs(
    catalog: Catalog, families: dict[str, dict[str, Part]], rng: np.random.Generator
) -> tuple[Pair, ...]:
    """Each grown motor goes with one row of every kind of controller that its base goes with."""
    alike: dict[str, list[str]] = {}
    for part_id in families["controller"]:
        alike.setdefault(part_id.split("-grown-")[0], []).append(part_id)
    of_motor: dict[str, list[Pair]] = {}
    for pair in catalog.pairs:
        of_motor.setdefault(pair.motor, []).append(pair)
    pairs = list(catalog.pairs)
    for motor in families["motor"]:
        base = motor.split("-grown-")[0]
        if base == motor:
            continue
        for pair in of_motor.get(base, []):
            some = alike[pair.controller]
            update = {"motor": motor, "controller": some[int(rng.integers(len(some)))]}
            pairs.append(pair.model_copy(update=update))
    return tuple(pairs)


def scaled(project: Project, share: float) -> Project:
    """The project with every range wanted times ``share``."""
    targets = project.targets
    ranges = tuple(
        target.model_copy(update={"distance_m": round(target.distance_m * share)})
        for target in targets.range
    )
    return project.model_copy(update={"targets": targets.model_copy(update={"range": ranges})})


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


def measure(project: Project, catalog: Catalog, limit_s: float) -> Measured:
    """One search in this process, stopped at a limit (status feasible or unknown then)."""
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
    seen = Screened()
    start, cpu = time.perf_counter(), time.process_time()
    rows, found = drives(context, seen), packs(context, seen)
    screen = EnergyScreen(context, found)
    best: int | None = None
    solved = simulated = cores = 0
    for row in rows:
        for pack in matching(row, found, 1 + project.margins.voltage).tolist():
            cores += 1
            if time.perf_counter() - start > limit_s:
                late, cpu_s = time.perf_counter() - start, time.process_time() - cpu
                return Measured(late, cpu_s, "not ended", best, cores, simulated, solved)
            simulator = screen.simulator(row, pack)
            price, runs, solves = _every_bill(context, simulator, seen)
            solved, simulated = solved + solves, simulated + runs
            if price is not None and (best is None or price < best):
                best = price
    status = "none" if best is None else "optimal"
    seconds, cpu_s = time.perf_counter() - start, time.process_time() - cpu
    return Measured(seconds, cpu_s, status, best, cores, simulated, solved)


def _every_bill(
    context: Context, simulator: Simulator, seen: Screened
) -> tuple[int | None, int, int]:
    """(price of the core's best bill, simulations, solver calls)."""
    drive, core = simulator.drive, simulator.drive.core
    capacity = tuple(
        min(core.series, context.layout(bay, drive.module).count // core.parallel)
        for bay in range(len(context.bays))
    )
    if sum(capacity) < core.series or first_failed(context, drive, seen) is not None:
        return None, 0, 0
    currents = design_currents(context, drive, simulator)
    if not all(check.passed for check in sustained_checks(context, drive, currents)):
        return None, 1, 0
    options = find_options(context, drive, currents, capacity)
    if isinstance(options, NoOption):
        return None, 1, 0
    runs, solves = 1, 0
    result = look_into(context, drive, currents, options, simulator, None)
    while True:
        runs, solves = runs + result.simulated, solves + result.solved
        if result.bound is None:
            return (None if result.bill is None else result.bill.price), runs, solves
        result = look_into(context, drive, currents, options, simulator, None, result.cuts)


def main() -> None:
    """Print one table; see the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--example", default="garden-pickup")
    parser.add_argument("--rows", type=int, nargs="+", default=[0, 200, 1000])
    parser.add_argument("--targets", nargs="+", choices=list(TARGETS), default=list(TARGETS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=float, default=120.0, help="seconds for one search")
    parser.add_argument("--brute-force", action="store_true", help="beside the shipped rows")
    asked = parser.parse_args()
    import ortools.sat.python.cp_model  # noqa: F401  (not a part of the search)

    print(platform.platform(), platform.processor() or "", f"Python {platform.python_version()}")
    print(", ".join(f"{name} {version(name)}" for name in ("numpy", "ortools", "pandas")))
    print(" | ".join(HEADINGS))
    project = api.open_project(f"example:{asked.example}").project
    shipped = api.load_catalog(project.catalogs)
    for rows in asked.rows:
        catalog = grown(shipped, rows, asked.seed) if rows else shipped
        for name in asked.targets:
            wanted = scaled(project, TARGETS[name])
            ways = [("ours", measure)]
            if asked.brute_force and not rows:
                ways.append(("brute force", brute_force))
            for way, run in ways:
                found = run(wanted, catalog, asked.limit)
                memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
                cells = (
                    rows or "shipped", name, way, f"{found.seconds:.1f}",
                    f"{found.cpu_s:.1f}", found.status,
                    found.price, found.cores, found.simulated, found.solved, memory,
                )  # fmt: skip
                print(" | ".join(str(cell) for cell in cells))
                sys.stdout.flush()


if __name__ == "__main__":
    main()
