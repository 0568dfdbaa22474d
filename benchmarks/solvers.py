"""The same integer models given to other solvers: ``python -m benchmarks.solvers``.

The cores that the walk comes to open are built as integer models, just as the planner builds
them, and solved for their cheapest bill in three ways: CP-SAT with the planner's settings (price
and then mass), CP-SAT as it comes and HiGHS (through scipy, which the planner itself does not
need), both for the price alone. All must agree on every price. One table with ratios of
processor seconds.
"""

from __future__ import annotations

import argparse
import platform
import time
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import Any

import numpy as np

from bomplan import api
from bomplan.design.context import Context
from bomplan.planner.model import CoreModel
from bomplan.planner.spread import open_here
from bomplan.planner.walk import Opened, Walk
from bomplan.requirements.simulated import all_worsen


@dataclass
class Total:
    """What one way took over all cores, and the price it found for each (None: no bill)."""

    cpu_s: float = 0.0
    ended: int = 0
    prices: list[int | None] = field(default_factory=list)


def opened_cores(context: Context, most: int) -> tuple[list[Opened], int | None]:
    """The first cores that the walk opens, and the price of its best bill."""
    walk = Walk(context)
    walked = walk.run(open_here(context, walk.judge))
    cores = {opened.core: opened for opened, _ in walked.opened}
    best = None if walked.best is None else walked.best.price
    return list(cores.values())[:most], best


def plainly(proto: Any, limit_s: float) -> tuple[int | None, bool]:
    """(objective, ended): CP-SAT with one worker and nothing else set."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = limit_s
    status = solver.solve(proto)
    if status == cp_model.OPTIMAL:
        return round(solver.objective_value), True
    return None, status == cp_model.INFEASIBLE


def by_highs(proto: Any, limit_s: float) -> tuple[float | None, bool]:
    """(objective, ended) of :func:`highs_solution`."""
    return highs_solution(proto, limit_s)[:2]


def highs_solution(proto: Any, limit_s: float) -> tuple[float | None, bool, Any]:
    """(objective, ended, values): HiGHS on the same rows; one under a condition gets a big M."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    low = np.array([var.domain[0] for var in proto.variables], dtype=float)
    high = np.array([list(var.domain)[-1] for var in proto.variables], dtype=float)
    entries: list[tuple[int, int, float]] = []
    row_low: list[float] = []
    row_high: list[float] = []

    def add(terms: dict[int, float], least: float, greatest: float) -> None:
        entries.extend((len(row_low), var, value) for var, value in terms.items())
        row_low.append(least)
        row_high.append(greatest)

    def summed(literals: list[int]) -> tuple[dict[int, float], float]:
        """Literals as a sum and a constant; a negated one is ``-1 - its variable``."""
        terms: dict[int, float] = {}
        constant = 0.0
        for literal in literals:
            var = literal if literal >= 0 else -1 - literal
            terms[var] = terms.get(var, 0.0) + (1.0 if literal >= 0 else -1.0)
            constant += literal < 0
        return terms, constant

    for made in proto.constraints:
        unless, offset = summed([-1 - literal for literal in made.enforcement_literal])
        if made.has_linear():
            terms = dict(zip(made.linear.vars, map(float, made.linear.coeffs), strict=True))
            domain = list(made.linear.domain)
            if len(domain) != 2:
                raise ValueError("a row with holes in its domain is not a row of a linear program")
            ends = [sorted((c * low[v], c * high[v])) for v, c in terms.items()]
            least, greatest = sum(end[0] for end in ends), sum(end[1] for end in ends)
            for bound, side in ((domain[0], -1), (domain[1], 1)):
                slack = side * (greatest if side > 0 else least) - side * bound
                if slack <= 0:
                    continue
                row = {var: side * value for var, value in terms.items()}
                for var, value in unless.items():
                    row[var] = row.get(var, 0.0) - slack * value
                add(row, -np.inf, side * bound + slack * offset)
        elif made.has_bool_or():
            terms, constant = summed([*made.bool_or.literals])
            for var, value in unless.items():
                terms[var] = terms.get(var, 0.0) + value
            add(terms, 1.0 - constant - offset, np.inf)
        elif made.has_exactly_one():
            terms, constant = summed([*made.exactly_one.literals])
            add(terms, 1.0 - constant, 1.0 - constant)
        elif made.has_bool_and():
            for literal in made.bool_and.literals:
                terms, constant = summed([literal])
                for var, value in unless.items():
                    terms[var] = terms.get(var, 0.0) + value
                add(terms, 1.0 - constant - offset, np.inf)
        else:
            raise ValueError("a kind of row that this conversion does not know")
    objective = np.zeros(len(low))
    for var, value in zip(proto.objective.vars, proto.objective.coeffs, strict=True):
        objective[var] += value
    rows, columns, values = zip(*entries, strict=True)
    matrix = csr_array((values, (rows, columns)), shape=(len(row_low), len(low)))
    found = milp(
        objective,
        integrality=np.ones(len(low)),
        bounds=Bounds(low, high),
        constraints=LinearConstraint(matrix, row_low, row_high),
        options={"time_limit": limit_s, "mip_rel_gap": 0.0},
    )
    price = found.fun + proto.objective.offset if found.status == 0 else None
    return price, found.status in (0, 2), found.x


def model_of(context: Context, opened: Opened) -> CoreModel:
    """The planner's model of a core, without any cut."""
    return CoreModel(
        context, opened.drive, opened.currents, opened.options, all_worsen(opened.simulator)
    )


def compare(context: Context, cores: list[Opened], limit_s: float) -> dict[str, Total]:
    """Every core's least price by each way; AssertionError where two ways that ended differ."""
    totals = {name: Total() for name in ("CP-SAT, our settings", "CP-SAT as it comes", "HiGHS")}
    for opened in cores:
        model = model_of(context, opened)
        alone = model.of_price_alone()
        proto = alone.proto
        ways = (
            lambda model=model: _own(model),
            lambda alone=alone: plainly(alone, limit_s),
            lambda proto=proto: by_highs(proto, limit_s),
        )
        for total, way in zip(totals.values(), ways, strict=True):
            start = time.process_time()
            price, ended = way()
            total.cpu_s += time.process_time() - start
            total.ended += ended
            total.prices.append(None if price is None or not ended else round(price))
        ended_prices = {total.prices[-1] for total in totals.values() if total.prices[-1]}
        assert len(ended_prices) <= 1, ended_prices
    return totals


def _own(model: CoreModel) -> tuple[int | None, bool]:
    answer = model.solve()
    return (None if answer.solution is None else answer.solution.price), answer.solved


def main() -> None:
    """Print one table; see the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--example", default="courier-motorcycle")
    parser.add_argument("--cores", type=int, default=12)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds for one model")
    asked = parser.parse_args()
    print(platform.platform(), f"Python {platform.python_version()}")
    print(", ".join(f"{name} {version(name)}" for name in ("numpy", "ortools", "scipy")))
    project, catalog = api.check_references(f"example:{asked.example}")
    context = Context(project, catalog)
    cores, best = opened_cores(context, asked.cores)
    totals = compare(context, cores, asked.limit)
    base = next(iter(totals.values())).cpu_s
    print(f"{asked.example}: {len(cores)} cores, best bill {best}")
    print("way | processor s | ratio | ended")
    for name, total in totals.items():
        print(f"{name} | {total.cpu_s:.2f} | {total.cpu_s / base:.1f} | {total.ended}")


if __name__ == "__main__":
    main()
