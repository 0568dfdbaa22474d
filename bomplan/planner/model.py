"""One core's whole bill as one integer model: price first, then mass, in a single objective.

Exactly-one booleans choose a row and a source per family; tables over the series places in
each bay give quantities, masses and moments; axle, gross and bay limits are exact integer
rows in grams and gram-millimetres. What the simulation rejects comes back as clauses over
the three couplers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from bomplan.design.assemble import (
    Chosen,
    bay_moment_gmm,
    joints_uohm,
    place_x_mm,
)
from bomplan.design.bill import JOINTS, DesignCurrents
from bomplan.design.bill.body import box_holds_g
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.errors import InternalError
from bomplan.planner.options import Options, Row
from bomplan.requirements.loads import MassRow, mass_rows

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

# One gram of mass is worth this share of one smallest unit of money: no plan weighs 100 t.
MASS_WEIGHT = 100_000_000
# Deterministic seconds for one core; beyond it the core stays open and the plan unproven.
EFFORT = 20.0


@dataclass(frozen=True)
class Cut:
    """A failed simulation: no bill may have all three couplers at least this bad.

    ``added_g`` is the greatest mass that still passes with the two other couplers.
    """

    added_g: int
    external_uohm: int
    mean_12v_w: int


@dataclass(frozen=True)
class Point:
    """Couplers at which a requirement without a direction failed: only these are excluded."""

    added_g: int
    external_uohm: int
    mean_12v_w: int


@dataclass(frozen=True)
class Solution:
    """A bill that the integers accept."""

    rows: tuple[int, ...]
    chosen: dict[str, Chosen]
    price: int
    added_g: int


@dataclass(frozen=True)
class Answer:
    """``solved``: a best bill, or None for a proof that there is none. Else unknown."""

    solved: bool
    solution: Solution | None


class CoreModel:
    """The model of one core; built once, solved as often as cuts are added."""

    def __init__(
        self, context: Context, drive: Drive, currents: DesignCurrents, options: Options
    ) -> None:
        from ortools.sat.python import cp_model

        self._cp = cp_model
        self._context = context
        self._drive = drive
        self._options = options
        self._currents = currents
        self.model: cp_model.CpModel = cp_model.CpModel()
        self._picks: dict[str, list[tuple[Row, Any]]] = {}
        self._sources: list[tuple[Row, Any, Any, int, int, str]] = []
        # Terms are gathered in lists and summed once. Never += on a solver's expression: it
        # changes in place, and one that another sum already holds would count twice.
        self._price: list[Any] = []
        self._added: list[Any] = []
        self._moment: list[Any] = []
        self._external: list[Any] = [joints_uohm(context, drive)]
        self._load: list[Any] = [round(context.project.donor.load_12v_w)]
        self._supply: list[Any] = []
        self._bay_mass: list[list[Any]] = [[] for _ in options.capacity]
        self._spend: dict[str, list[tuple[int, Any]]] = {}
        self._place()
        for family, rows in options.rows.items():
            self._family(family, rows)
        self._ship()
        self._joints()
        total = cp_model.LinearExpr.sum
        self._total_price = total(self._price)
        self._total_added = total(self._added)
        self._total_moment = total(self._moment)
        self._limits()
        self._couplers()
        self._objective = self._total_price * MASS_WEIGHT + self._total_added
        problem = self.model.validate()
        if problem:
            raise InternalError(f"the model of one core is not valid: {problem}")

    # -- building ----------------------------------------------------------------------

    def _place(self) -> None:
        model, series = self.model, self._drive.core.series
        self._at: list[list[Any]] = []
        for bay, most in enumerate(self._options.capacity):
            booleans = [model.new_bool_var(f"bay{bay}={rows}") for rows in range(most + 1)]
            model.add_exactly_one(booleans)
            self._at.append(booleans)
        model.add(sum(rows * var for at in self._at for rows, var in enumerate(at)) == series)
        bays_max = self._context.project.choices.bays_max
        if bays_max is not None:
            model.add(sum(1 - at[0] for at in self._at) <= bays_max)

    def _family(self, family: str, rows: tuple[Row, ...]) -> None:
        model = self.model
        alone = len(rows) == 1
        picks: list[tuple[Row, Any]] = []
        for row in rows:
            pick: Any = 1 if alone else model.new_bool_var(f"{family}={row.part.id}")
            picks.append((row, pick))
            pieces = self._pieces(row, pick)
            self._buy(row, pick, pieces)
        if not alone:
            model.add_exactly_one([pick for _, pick in picks])
        self._picks[family] = picks

    def _pieces(self, row: Row, pick: Any) -> Any:
        """Fitted pieces as an expression, zero when the row is not picked."""
        context, drive, rule, part = self._context, self._drive, row.rule, row.part
        pieces: list[Any] = [row.base * pick]
        self._added.append(row.base * part.mass_g * pick)
        self._moment.append(row.base * part.mass_g * place_x_mm(context, rule) * pick)
        if row.in_bays:
            for bay, table in enumerate(row.tables):
                moments = [
                    bay_moment_gmm(context, drive, rule, part, bay, rows)
                    for rows in range(len(table))
                ]
                here = self._tabled(bay, list(table), pick, f"{part.id}@{bay}")
                pieces.append(here)
                self._added.append(part.mass_g * here)
                self._bay_mass[bay].append(part.mass_g * here)
                if rule.family == "module":
                    self._moment.append(
                        sum(
                            moment * var for moment, var in zip(moments, self._at[bay], strict=True)
                        )
                    )
                else:
                    # Equal places: the moment is the pieces' times the bay's centre.
                    self._moment.append(part.mass_g * context.bay_centre_mm(bay) * here)
        total = self._cp.LinearExpr.sum(pieces)
        self._external.append(row.external_uohm * total)
        self._load.append(row.load_12v_w * total)
        self._supply.append(row.supply_12v_w * total)
        return total

    def _tabled(self, bay: int, table: list[int], pick: Any, name: str) -> Any:
        """table[rows in this bay], or zero when the row is not picked."""
        looked_up = sum(
            pieces * var for pieces, var in zip(table, self._at[bay], strict=True) if pieces
        )
        if isinstance(pick, int):
            return looked_up
        if not any(table):
            return 0
        value = self.model.new_int_var_from_domain(
            self._cp.Domain.from_values(sorted({0, *table})), name
        )
        self.model.add(value == looked_up).only_enforce_if(pick)
        self.model.add(value == 0).only_enforce_if(pick.negated())
        return value

    def _buy(self, row: Row, pick: Any, pieces: Any) -> None:
        model = self.model
        single = len(row.quantities) == 1 and len(row.sources) == 1
        booleans: list[Any] = []
        counted: list[Any] = []
        for source in row.sources:
            for fitted in row.quantities:
                price = row.price(source, fitted)
                name = f"{row.part.id}<-{source.supplier or 'list'}x{fitted}"
                var: Any = pick if single else model.new_bool_var(name)
                booleans.append(var)
                counted.append(fitted * var)
                self._price.append(price * var)
                if source.supplier:
                    self._spend.setdefault(source.supplier, []).append((price, var))
                self._sources.append((row, source, var, fitted, price, source.supplier))
        if single:
            return
        model.add(sum(booleans) == pick)
        if len(row.quantities) > 1:
            model.add(sum(counted) == pieces)

    def _ship(self) -> None:
        model = self.model
        for supplier, spend in sorted(self._spend.items()):
            shipping = self._context.prices.shipping[supplier]
            paying = [(price, var) for price, var in spend if price > 0]
            if not paying or shipping.flat == 0:
                continue
            used = model.new_bool_var(f"{supplier} used")
            for _, var in paying:
                if isinstance(var, int):
                    model.add(used == 1)
                else:
                    model.add_implication(var, used)
            if shipping.free_above is None:
                self._price.append(shipping.flat * used)
                continue
            free = model.new_bool_var(f"{supplier} free")
            model.add_implication(free, used)
            goods = sum(price * var for price, var in paying)
            model.add(goods >= shipping.free_above).only_enforce_if(free)
            self._price.append(shipping.flat * used - shipping.flat * free)

    def _joints(self) -> None:
        for joint in JOINTS:
            if joint.first not in self._picks or joint.second not in self._picks:
                continue
            for first, pick_first in self._picks[joint.first]:
                for second, pick_second in self._picks[joint.second]:
                    checks = joint.judge(
                        self._context, self._drive, self._currents, first.part, second.part
                    )
                    if not all(check.passed for check in checks):
                        self.model.add(pick_first + pick_second <= 1)

    def _limits(self) -> None:
        model = self.model
        for limit in mass_rows(self._context):
            model.add(self._row_value(limit) <= limit.limit)
        for bay, at_most in enumerate(self._context.bays):
            if at_most.mass_limit_g is not None:
                model.add(self._cp.LinearExpr.sum(self._bay_mass[bay]) <= at_most.mass_limit_g)
        holds = sum(box_holds_g(row.part) * pick for row, pick in self._picks["box"])
        for bay in range(len(self._options.capacity)):
            model.add(self._modules_g(bay) <= holds)
        model.add(self._cp.LinearExpr.sum(self._supply) >= self._cp.LinearExpr.sum(self._load))
        budget = self._context.project.targets.budget
        if budget is not None:
            model.add(self._total_price <= budget)

    def _modules_g(self, bay: int) -> Any:
        drive = self._drive
        each = drive.module.mass_g * drive.core.parallel
        return sum(each * rows * var for rows, var in enumerate(self._at[bay]))

    def _row_value(self, limit: MassRow) -> Any:
        return (
            limit.per_gram * self._total_added + limit.per_gmm * self._total_moment + limit.constant
        )

    def _couplers(self) -> None:
        """The couplers as variables of their own, for cuts and for reading back."""
        model = self.model
        self._mass_var = model.new_int_var(0, MASS_WEIGHT - 1, "added mass")
        model.add(self._mass_var == self._total_added)
        self._external_var = model.new_int_var(0, 10**9, "external resistance")
        model.add(self._external_var == self._cp.LinearExpr.sum(self._external))
        self._load_var = model.new_int_var(0, 10**6, "12 V load")
        model.add(self._load_var == self._cp.LinearExpr.sum(self._load))

    # -- cuts --------------------------------------------------------------------------

    def add_cuts(self, cuts: Iterable[Cut | Point]) -> None:
        """Everything that failed simulations of this core have taught."""
        for made in cuts:
            if isinstance(made, Cut):
                self.add_cut(made)
            else:
                self.exclude(made)

    def add_cut(self, cut: Cut) -> None:
        """Worse couplers than a failed one fail too (declared and property-tested)."""
        model = self.model
        lighter = model.new_bool_var("")
        model.add(self._mass_var <= cut.added_g).only_enforce_if(lighter)
        less = model.new_bool_var("")
        model.add(self._external_var <= cut.external_uohm - 1).only_enforce_if(less)
        weaker = model.new_bool_var("")
        model.add(self._load_var <= cut.mean_12v_w - 1).only_enforce_if(weaker)
        model.add_bool_or([lighter, less, weaker])

    def exclude(self, point: Point) -> None:
        """Forbid exactly these couplers: nothing is known of their neighbours."""
        model = self.model
        literals = []
        for var, value in (
            (self._mass_var, point.added_g),
            (self._external_var, point.external_uohm),
            (self._load_var, point.mean_12v_w),
        ):
            below, above = model.new_bool_var(""), model.new_bool_var("")
            model.add(var <= value - 1).only_enforce_if(below)
            model.add(var >= value + 1).only_enforce_if(above)
            literals += [below, above]
        model.add_bool_or(literals)

    # -- solving -----------------------------------------------------------------------

    def solve(self, no_dearer_than: int | None = None) -> Answer:
        """The cheapest, then lightest bill; no dearer than an incumbent if one is given.

        The incumbent bounds the price alone: a row with the objective's wide coefficients
        would slow the solver down by orders of magnitude.
        """
        model = self.model.clone()
        if no_dearer_than is not None:
            model.add(self._total_price <= no_dearer_than)
        model.minimize(self._objective)
        return self._run(model)

    def cheaper_than(self, price: int) -> Answer:
        """Any bill below this price, sought with another seed and without presolve."""
        model = self.model.clone()
        model.add(self._total_price <= price - 1)
        return self._run(model, seed=7, presolve=False)

    def first_by_rank(self, known: Solution) -> Solution:
        """Among the bills of this price and mass, the first in the fixed order.

        Per family the part's id, then the supplier's; last the placement, fullest first bay
        first. Most often ``known`` is the only one, which one call proves.
        """
        model = self.model.clone()
        model.add(self._total_price == known.price)
        model.add(self._mass_var == known.added_g)
        found = self._run(model)
        if not found.solved or found.solution is None:
            raise InternalError("the best bill of a core cannot be found again")
        other = model.clone()
        other.add_bool_or(self._differs_from(found.solution))
        if self._run(other) == Answer(True, None):
            return found.solution
        best = found.solution
        for ranks in self._rank_expressions():
            model.clear_objective()  # type: ignore[no-untyped-call]
            model.minimize(ranks)
            answer = self._run(model)
            if not answer.solved or answer.solution is None:
                raise InternalError("the order among equal bills could not be settled")
            best = answer.solution
            model.add(ranks == self._last_objective)
        return best

    def _differs_from(self, solution: Solution) -> list[Any]:
        literals = [at[rows].negated() for at, rows in zip(self._at, solution.rows, strict=True)]
        for row, source, var, fitted, _, _ in self._sources:
            taken = solution.chosen[row.rule.family]
            same = (taken.part.id, taken.source.supplier) == (row.part.id, source.supplier)
            if same and fitted == row.fitted(solution.rows) and not isinstance(var, int):
                literals.append(var.negated())
        return literals

    def _rank_expressions(self) -> list[Any]:
        expressions: list[Any] = []
        for family in self._options.rows:
            entries = [entry for entry in self._sources if entry[0].rule.family == family]
            order = sorted({(row.part.id, supplier) for row, *_, supplier in entries})
            if len(order) == 1:
                continue
            rank = {key: index for index, key in enumerate(order)}
            expressions.append(
                sum(rank[row.part.id, supplier] * var for row, _, var, _, _, supplier in entries)
            )
        for at in self._at[:-1]:
            expressions.append(sum(-rows * var for rows, var in enumerate(at)))
        return expressions

    def _run(self, model: cp_model.CpModel, seed: int = 0, presolve: bool = True) -> Answer:
        solver = self._cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.cp_model_presolve = presolve
        solver.parameters.catch_sigint_signal = False
        # An open report of a wrong optimum in this solver is avoided without this presolve.
        solver.parameters.presolve_inclusion_work_limit = 0
        solver.parameters.max_deterministic_time = EFFORT
        status = solver.solve(model)
        if status == self._cp.INFEASIBLE:
            return Answer(True, None)
        if status == self._cp.MODEL_INVALID:
            raise InternalError("the solver calls the model of one core invalid")
        if status != self._cp.OPTIMAL:
            solution = self._read(solver) if status == self._cp.FEASIBLE else None
            return Answer(False, solution)
        self._last_objective = round(solver.objective_value) if model.has_objective() else 0
        return Answer(True, self._read(solver))

    def _read(self, solver: cp_model.CpSolver) -> Solution:
        chosen: dict[str, Chosen] = {}
        for row, source, var, _, _, _ in self._sources:
            taken = var == 1 if isinstance(var, int) else bool(solver.boolean_value(var))
            if taken:
                chosen[row.rule.family] = Chosen(row.part, source)
        rows = tuple(
            next(rows for rows, var in enumerate(at) if solver.boolean_value(var))
            for at in self._at
        )
        return Solution(
            rows, chosen, int(solver.value(self._total_price)), int(solver.value(self._mass_var))
        )
