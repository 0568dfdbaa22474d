"""One plain integer model over all cores, solved, simulated and cut until its answer drives.

What somebody would write first: the model of every core that closed-form checks leave, side by
side in one, a boolean per core and exactly one of them true. No bound, no order, no optimistic
simulation. The models are those of the planner, so that ways differ in how they are put to a
solver and in nothing else.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from benchmarks.solvers import highs_solution
from bomplan.design.adapter import Simulator
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive
from bomplan.planner.core_search import checked_bill, cuts_from, first_failure, least_couplers
from bomplan.planner.cuts import Point
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.model import CoreModel
from bomplan.planner.options import NoOption, Options, find_options
from bomplan.planner.screen import Screened, drives, first_failed, matching, packs
from bomplan.requirements.simulated import all_worsen
from bomplan.requirements.sustained import sustained_checks

# No bill of the examples comes to so much of anything; it is the big M that HiGHS gets.
MOST = 5 * 10**6
# (objective, value of every variable) of a proven optimum; None: proven that there is none.
Solved = tuple[int, Callable[[int], int]] | None


class NotEndedError(Exception):
    """A solver had no answer in its time."""


@dataclass
class Core:
    """A core with its bill's rows; ``place`` maps its model's variables to the whole one's."""

    drive: Drive
    currents: DesignCurrents
    options: Options
    simulator: Simulator
    model: CoreModel | None = None
    place: list[int] = field(default_factory=list)
    rows: int = 0
    selector: int = 0
    cuts: int = 0


def every_core(context: Context, ends_at: float) -> Iterator[Core]:
    """Every core whose parts fit. NotEndedError beyond so many processor seconds."""
    seen = Screened()
    found = packs(context, seen)
    screen = EnergyScreen(context, found)
    for row in drives(context, seen):
        for pack in matching(row, found, 1 + context.project.margins.voltage).tolist():
            if time.process_time() > ends_at:
                raise NotEndedError
            simulator = screen.simulator(row, pack)
            drive, core = simulator.drive, simulator.drive.core
            capacity = tuple(
                min(core.series, context.layout(bay, drive.module).count // core.parallel)
                for bay in range(len(context.bays))
            )
            if sum(capacity) < core.series or first_failed(context, drive, seen) is not None:
                continue
            currents = design_currents(context, drive, simulator)
            if not all(check.passed for check in sustained_checks(context, drive, currents)):
                continue
            options = find_options(context, drive, currents, capacity)
            if not isinstance(options, NoOption):
                yield Core(drive, currents, options, simulator)


class OneModel:
    """All cores in one model, the price of the chosen one to be least."""

    def __init__(self, context: Context, ends_at: float) -> None:
        from ortools.sat.python import cp_model

        self.context = context
        self.cores = list(every_core(context, ends_at))
        self.whole = cp_model.CpModel()
        self.proto: Any = self.whole.proto
        self._price = self._variable([0, MOST])
        for core in self.cores:
            if time.process_time() > ends_at:
                raise NotEndedError
            core.model = CoreModel(
                context, core.drive, core.currents, core.options, all_worsen(core.simulator)
            )
            core.selector = self._variable([0, 1])
            self._take_over(core)
            objective = core.model.of_price_alone().proto.objective
            row = self.proto.constraints.add()
            row.enforcement_literal.append(core.selector)
            row.linear.vars.extend([core.place[var] for var in objective.vars])
            row.linear.vars.append(self._price)
            row.linear.coeffs.extend([*objective.coeffs, -1])
            row.linear.domain.extend([-round(objective.offset)] * 2)
        chosen = self.proto.constraints.add()
        chosen.exactly_one.literals.extend([core.selector for core in self.cores])
        self.proto.objective.vars.append(self._price)
        self.proto.objective.coeffs.append(1)

    def _variable(self, domain: list[int]) -> int:
        self.proto.variables.add().domain.extend(domain)
        return len(self.proto.variables) - 1

    def _take_over(self, core: Core) -> None:
        """What is new in the core's own model, under the core's boolean."""
        assert core.model is not None
        own: Any = core.model.model.proto
        for number in range(len(core.place), len(own.variables)):
            domain = list(own.variables[number].domain)
            domain[-1] = min(domain[-1], MOST)
            core.place.append(self._variable(domain))

        def literal(known: int) -> int:
            return core.place[known] if known >= 0 else -1 - core.place[-1 - known]

        for number in range(core.rows, len(own.constraints)):
            known = own.constraints[number]
            made = self.proto.constraints.add()
            made.enforcement_literal.extend(
                [core.selector, *(literal(one) for one in known.enforcement_literal)]
            )
            if known.has_linear():
                made.linear.vars.extend([core.place[var] for var in known.linear.vars])
                made.linear.coeffs.extend(list(known.linear.coeffs))
                made.linear.domain.extend(list(known.linear.domain))
            elif known.has_exactly_one():
                literals = list(known.exactly_one.literals)
                negated = sum(one < 0 for one in literals)
                made.linear.vars.extend([core.place[max(one, -1 - one)] for one in literals])
                made.linear.coeffs.extend([1 if one >= 0 else -1 for one in literals])
                made.linear.domain.extend([1 - negated] * 2)
            elif known.has_bool_or():
                made.bool_or.literals.extend([literal(one) for one in known.bool_or.literals])
            elif known.has_bool_and():
                made.bool_and.literals.extend([literal(one) for one in known.bool_and.literals])
            else:
                raise ValueError("a kind of row that this merging does not know")
        core.rows = len(own.constraints)

    def least(
        self, solve: Callable[[Any, float], Solved], ends_at: float
    ) -> tuple[int | None, int]:
        """(price of the cheapest bill that drives, or None; times that the whole was solved)."""
        solves = 0
        while self.cores:
            left = ends_at - time.process_time()
            if left <= 0:
                raise NotEndedError
            solves += 1
            found = solve(self.whole, left)
            if found is None:
                return None, solves
            price, value = found
            core = next(one for one in self.cores if value(one.selector))
            if self._drives(core, price):
                return price, solves
        return None, solves

    def _drives(self, core: Core, price: int) -> bool:
        """Whether the core's bill of this price drives; if not, what that teaches is added."""
        assert core.model is not None
        solution = core.model.solve(price).solution
        assert solution is not None
        assert solution.price == price
        bill = checked_bill(self.context, core.drive, core.currents, solution)
        failed = first_failure(core.simulator, bill.couplers)
        if failed is None:
            return True
        at = bill.couplers
        if failed.direction(core.simulator) == "none":
            core.model.exclude(Point(at.added_g, at.external_uohm, at.mean_12v_w))
        else:
            least = least_couplers(self.context, core.drive, core.options)
            core.model.add_cuts(cuts_from(failed, core.simulator, at, least, core.cuts > 0)[0])
        core.cuts += 1
        self._take_over(core)
        return False


def by_cp_sat(model: Any, limit_s: float) -> Solved:
    """CP-SAT with one worker and nothing else set."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = limit_s
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status != cp_model.OPTIMAL:
        raise NotEndedError
    values = list(solver.response_proto.solution)
    return round(solver.objective_value), lambda var: int(values[var])


def by_highs(model: Any, limit_s: float) -> Solved:
    """HiGHS, a row under a condition with a big M."""
    price, ended, values = highs_solution(model.proto, limit_s)
    if not ended:
        raise NotEndedError
    if price is None or values is None:
        return None
    return round(price), lambda var: round(values[var])
