"""One core's whole bill as one integer model: price first, then mass, in a single objective.

Where the goal is the least mass, mass comes first.

Exactly-one booleans choose a row and a source per family; tables over the series places in
each bay give quantities, masses and moments; axle, gross and bay limits are exact integer
rows in grams and gram-millimetres. What the simulation rejects comes back as clauses over
the three couplers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

from bomplan.design.assemble import (
    Chosen,
    bay_moment_gmm,
    joints_uohm,
    place_x_mm,
)
from bomplan.design.bill import JOINTS, DesignCurrents
from bomplan.design.bill.body import box_holds_g
from bomplan.design.bill.shared_places import place_checks, shared_places
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.running_costs import everyday_drive, running_cost
from bomplan.design.spots import bay_lateral_moments, bay_spot, lateral_moments, spot_of
from bomplan.errors import InputError, InternalError
from bomplan.planner.countable import MASS_WEIGHT, beyond
from bomplan.planner.cuts import ANY, Box, Cut, Point
from bomplan.planner.dominance import partners_of, undominated
from bomplan.planner.judge import Beside, BoolArray, IntArray, Judge
from bomplan.planner.options import Options, Row, counted
from bomplan.planner.purchases import PurchaseModel
from bomplan.requirements.loads import MassRow, mass_rows

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

# One smallest unit of money is worth this share of a gram where mass goes first; of bills that come
# to more, the mass is settled before the price.
PRICE_WEIGHT = 10**10
# Deterministic seconds for one core; beyond it the core stays open and the plan unproven.
EFFORT = 20.0


@dataclass(frozen=True)
class Solution:
    """A bill that the integers accept."""

    rows: tuple[int, ...]
    chosen: dict[str, Chosen]
    price: int
    added_g: int
    figure: int = 0  # what it comes to by the goal


@dataclass(frozen=True)
class Answer:
    """``solved``: a best bill, or None for a proof that there is none. Else unknown."""

    solved: bool
    solution: Solution | None


class CoreModel:
    """The model of one core; of ``kept`` rows alone, if it is told for each family."""

    def __init__(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,
        options: Options,
        monotone: bool = False,
        judge: Judge | None = None,
        kept: Mapping[str, BoolArray] | None = None,
    ) -> None:
        from ortools.sat.python import cp_model

        self.cp = cp_model
        self._context = context
        self._drive = drive
        options = counted(context, drive, options)
        beside = (judge or Judge(context)).neighbours(drive, currents, options.rows)
        if kept is not None:
            options, beside = _kept(options, beside, kept)
        self._options = options
        self.families = tuple(options.rows)
        self._currents = currents
        self.model: cp_model.CpModel = cp_model.CpModel()
        self.cuts = 0  # how many were added
        self._picks: dict[str, list[tuple[Row, Any]]] = {}
        self._there: dict[str, Any] = {}  # by part, whether a piece of it is fitted
        # Terms are gathered in lists and summed once. Never += on a solver's expression: it
        # changes in place, and one that another sum already holds would count twice.
        self._added: list[Any] = []
        self._moment: list[Any] = []
        self._limit_rows = mass_rows(context)
        self._sideways = any(limit.sideways for limit in self._limit_rows)
        self._lateral: list[Any] = []
        self._cross: list[Any] = []
        self._external: list[Any] = [joints_uohm(context, drive)]
        self._load: list[Any] = [round(context.project.donor.load_12v_w)]
        self._supply: list[Any] = []
        self._bay_mass: list[list[Any]] = [[] for _ in options.capacity]
        self.purchases = PurchaseModel(cp_model, self.model, context)
        self._place()
        self._rows = {
            family: undominated(
                context, rows, partners_of(family, beside), options.capacity, monotone
            )
            for family, rows in options.rows.items()
        }
        for family, rows in self._rows.items():
            self._family(family, rows)
        self._joints(beside)
        self._own_rules()
        self._shared_places()
        total = cp_model.LinearExpr.sum
        self._total_price = self.purchases.total()
        self._total_added = total(self._added)
        self._total_moment = total(self._moment)
        self._total_lateral = total(self._lateral)
        self._total_cross = total(self._cross)
        self._limits()
        self._couplers()
        self._lightest = context.project.goal.aim == "least-mass"
        self._running = self._running_cost()
        # What the goal asks for is settled first, then the price: in one sum where it holds both.
        self._in_steps = not isinstance(self._running, int)
        self._objective = self._first() * MASS_WEIGHT + self._total_added
        if self._lightest:
            self._in_steps = self.purchases.most_price >= PRICE_WEIGHT
            self._objective = self._total_added * PRICE_WEIGHT + self._total_price
            if self._in_steps:
                self._objective = self._total_added
        problem = self.model.validate()
        if "overflow" in problem:
            raise InputError([beyond(context.project.currency)])
        if problem:
            raise InternalError(f"the model of one core is not valid: {problem}")

    # -- building ----------------------------------------------------------------------

    def _place(self) -> None:
        model, series = self.model, self._drive.core.series
        self.at: list[list[Any]] = []
        self._rows_in: list[Any] = []
        self._looked: dict[tuple[int, tuple[int, ...]], Any] = {}
        for bay, most in enumerate(self._options.capacity):
            booleans = [model.new_bool_var(f"bay{bay}={rows}") for rows in range(most + 1)]
            model.add_exactly_one(booleans)
            self.at.append(booleans)
            here = model.new_int_var(0, most, f"bay{bay}")
            model.add(sum(rows * var for rows, var in enumerate(booleans)) == here)
            self._rows_in.append(here)
        model.add(sum(self._rows_in) == series)
        bays_max = self._context.project.choices.bays_max
        if bays_max is not None:
            model.add(sum(1 - at[0] for at in self.at) <= bays_max)

    def _family(self, family: str, rows: tuple[Row, ...]) -> None:
        model = self.model
        alone = len(rows) == 1
        picks: list[tuple[Row, Any]] = []
        for row in rows:
            pick: Any = 1 if alone else model.new_bool_var(f"{family}={row.part.id}")
            picks.append((row, pick))
        if not alone:
            model.add_exactly_one([pick for _, pick in picks])
        here = self._in_bays(picks)
        for number, (row, pick) in enumerate(picks):
            pieces = self._pieces(row, pick, [bay[number] for bay in here])
            self.purchases.add(row, pick, pieces)
            self._there[row.part.id] = self._fitted(row, pick, pieces)
        self._picks[family] = picks

    def _in_bays(self, picks: list[tuple[Row, Any]]) -> list[list[Any]]:
        """For every bay the pieces of each row in it: the table's figure, or 0 if not picked.

        Rows of one table share its pieces out among them, which tells the relaxation that the
        pieces must be somebody's.
        """
        rows = [row for row, _ in picks]
        if not any(row.in_bays for row in rows):
            return []
        shared = all(row.tables == rows[0].tables for row in rows)
        found: list[list[Any]] = []
        for bay in range(len(self._options.capacity)):
            values = [self._tabled(bay, row, pick) for row, pick in picks]
            if shared and len(rows) > 1:
                self.model.add(
                    self.cp.LinearExpr.sum(values) == self._looked_up(bay, rows[0].tables[bay])
                )
            found.append(values)
        return found

    def _looked_up(self, bay: int, table: tuple[int, ...]) -> Any:
        """The table's figure for the rows in this bay."""
        known = self._looked.get((bay, table))
        if known is None:
            known = self._looked[bay, table] = self._of_places(bay, table)
        return known

    def _of_places(self, bay: int, table: tuple[int, ...]) -> Any:
        """As few terms as tell it: most tables go by whether the bay is used, and by its rows."""
        at = self.at[bay]
        if len(table) < 2:
            return 0
        each = table[2] - table[1] if len(table) > 2 else 0
        if table == (0, *(table[1] + each * rows for rows in range(len(table) - 1))):
            return each * self._rows_in[bay] + (table[1] - each) * (1 - at[0])
        figure = self.model.new_int_var(0, max(table), f"of {len(self._looked)} in bay{bay}")
        self.model.add(
            figure
            == self.cp.LinearExpr.sum(
                [pieces * var for pieces, var in zip(table, at, strict=True) if pieces]
            )
        )
        return figure

    def _tabled(self, bay: int, row: Row, pick: Any) -> Any:
        """table[rows in this bay], or zero when the row is not picked."""
        if not row.in_bays or not any(row.tables[bay]):
            return 0
        table = row.tables[bay]
        looked_up = self._looked_up(bay, table)
        if isinstance(pick, int):
            return looked_up
        value = self.model.new_int_var_from_domain(
            self.cp.Domain.from_values(sorted({0, *table})), f"{row.part.id}@{bay}"
        )
        most = max(table)
        self.model.add(value <= most * pick)
        self.model.add(value <= looked_up)
        self.model.add(value >= looked_up - most + most * pick)
        return value

    def _pieces(self, row: Row, pick: Any, here: list[Any]) -> Any:
        """Fitted pieces as an expression, zero when the row is not picked."""
        context, drive, rule, part = self._context, self._drive, row.rule, row.part
        self._added.append(row.base * part.mass_g * pick)
        self._moment.append(row.base * part.mass_g * place_x_mm(context, rule) * pick)
        if self._sideways:
            self._beside(row, pick, here)
        for bay, pieces in enumerate(here):
            self._added.append(part.mass_g * pieces)
            self._bay_mass[bay].append(part.mass_g * pieces)
            if rule.family == "module":
                self._moment.extend(
                    bay_moment_gmm(context, drive, rule, part, bay, rows) * var
                    for rows, var in enumerate(self.at[bay])
                )
            else:
                # Equal places: the moment is the pieces' times the bay's centre.
                self._moment.append(part.mass_g * context.bay_centre_mm(bay) * pieces)
        total = self.cp.LinearExpr.sum([row.base * pick, *here])
        self._external.append(row.external_uohm * total)
        self._load.append(row.load_12v_w * total)
        self._supply.append(row.supply_12v_w * total)
        return total

    def _beside(self, row: Row, pick: Any, here: list[Any]) -> None:
        """The row's lateral moments; gathered only where a limit reads them."""
        context, drive, rule, part = self._context, self._drive, row.rule, row.part
        aside, cross = lateral_moments(row.base * part.mass_g, spot_of(context, rule))
        self._lateral.append(aside * pick)
        self._cross.append(cross * pick)
        for bay, pieces in enumerate(here):
            if rule.family == "module":
                for rows, var in enumerate(self.at[bay]):
                    found = bay_lateral_moments(context, drive, rule, part, bay, rows)
                    self._lateral.append(found[0] * var)
                    self._cross.append(found[1] * var)
            else:
                aside, cross = lateral_moments(part.mass_g, bay_spot(context, bay))
                self._lateral.append(aside * pieces)
                self._cross.append(cross * pieces)

    def _joints(self, beside: dict[tuple[str, str], Beside]) -> None:
        """Each picked row needs a partner that it may stand beside, and the other way round."""
        optional = {(one.first, one.second) for one in JOINTS if one.optional}
        for (first, second), found in beside.items():
            unbound = [self._none_of(first)] if (first, second) in optional else []
            self._partnered(first, second, found, unbound)
            self._partnered(second, first, found.turned, unbound)

    def _none_of(self, family: str) -> Any:
        """A boolean that may only be true where no piece of the family is fitted."""
        none = self.model.new_bool_var(f"no {family}")
        tables = self._picks[family][0][0].tables  # the same for all rows, with a base of 0
        for at, table in zip(self.at, tables, strict=True):
            needing = [var for var, pieces in zip(at, table, strict=True) if pieces]
            self.model.add(self.cp.LinearExpr.sum([*needing, none]) <= 1)
        return none

    def _partnered(self, family: str, other: str, beside: Beside, unbound: list[Any]) -> None:
        """Rows of one kind together: no more than one of them is picked."""
        mine = self._by_kind(family, beside.first)
        theirs = self._by_kind(other, beside.second)
        for kind, picks in mine.items():
            partners = [
                pick
                for number, some in theirs.items()
                if beside.allowed[kind, number]
                for pick in some
            ]
            picked = picks[0] if len(picks) == 1 else self.cp.LinearExpr.sum(picks)
            self.model.add(picked <= self.cp.LinearExpr.sum([*partners, *unbound]))

    def _by_kind(self, family: str, kinds: IntArray) -> dict[int, list[Any]]:
        """The picks of the rows that are left of a family, by their kind."""
        rows = self._options.rows[family]
        places = {id(row): kind for row, kind in zip(rows, kinds.tolist(), strict=True)}
        found: dict[int, list[Any]] = {}
        for row, pick in self._picks[family]:
            found.setdefault(places[id(row)], []).append(pick)
        return found

    def _fitted(self, row: Row, pick: Any, pieces: Any) -> Any:
        """Whether rules between parts bear on the row: it is picked, for a piece at least."""
        if not row.rule.may_be_none or row.part.id not in self._context.project.choices.ruled:
            return pick
        there = self.model.new_bool_var(f"{row.part.id} there")
        self.model.add(pieces >= 1).only_enforce_if(there)
        self.model.add(pieces <= 0).only_enforce_if(there.negated())
        return there

    def _own_rules(self) -> None:
        """The builder's own: a row that is there brings others along, or shuts them out."""
        there, choices = self._there, self._context.project.choices
        for part, others in choices.requires.items():
            for other in others if part in there else ():
                self.model.add(there[part] <= there.get(other, 0))
        for part, others in choices.forbids.items():
            for other in others if part in there else ():
                self.model.add(there[part] + there.get(other, 0) <= 1)

    def _shared_places(self) -> None:
        """Rows that do not go into their place together are not all picked."""
        for place in shared_places(self._context):
            found = [self._picks[family] for family in place.families if family in self._picks]
            for combination in product(*found):
                parts = {row.part.family: row.part for row, _ in combination}
                if all(
                    check.passed for check in place_checks(self._context, self._drive, place, parts)
                ):
                    continue
                picks = [pick for _, pick in combination]
                self.model.add(self.cp.LinearExpr.sum(picks) <= len(picks) - 1)

    def _limits(self) -> None:
        model = self.model
        for limit in self._limit_rows:
            model.add(self._row_value(limit) <= limit.limit)
        for bay, at_most in enumerate(self._context.bays):
            if at_most.mass_limit_g is not None:
                model.add(self.cp.LinearExpr.sum(self._bay_mass[bay]) <= at_most.mass_limit_g)
        for floor, bays in self._context.floors():
            on_it = [mass for bay in bays for mass in self._bay_mass[bay]]
            model.add(self.cp.LinearExpr.sum(on_it) <= floor.mass_limit_g)
        holds = sum(box_holds_g(row.part) * pick for row, pick in self._picks["box"])
        for bay in range(len(self._options.capacity)):
            model.add(self._modules_g(bay) <= holds)
        carried = self.cp.LinearExpr.sum(self._load) + self._context.project.donor.beyond_mean_12v_w
        model.add(self.cp.LinearExpr.sum(self._supply) >= carried)
        budget = self._context.project.targets.budget
        if budget is not None:
            model.add(self._total_price <= budget)

    def _modules_g(self, bay: int) -> Any:
        drive = self._drive
        return drive.module.mass_g * drive.core.parallel * self._rows_in[bay]

    def _row_value(self, limit: MassRow) -> Any:
        value = (
            limit.per_gram * self._total_added + limit.per_gmm * self._total_moment + limit.constant
        )
        if limit.sideways:
            value = (
                value
                + limit.per_lateral * self._total_lateral
                + limit.per_cross * self._total_cross
            )
        return value

    def _couplers(self) -> None:
        """The couplers as variables of their own, for cuts and for reading back."""
        model = self.model
        self._mass_var = model.new_int_var(0, MASS_WEIGHT - 1, "added mass")
        model.add(self._mass_var == self._total_added)
        self._external_var = model.new_int_var(0, 10**9, "external resistance")
        model.add(self._external_var == self.cp.LinearExpr.sum(self._external))
        self._load_var = model.new_int_var(0, 10**6, "12 V load")
        model.add(self._load_var == self.cp.LinearExpr.sum(self._load))

    # -- cuts --------------------------------------------------------------------------

    def add_cuts(self, cuts: Iterable[Cut | Point]) -> None:
        """What failed simulations of this core have taught, beside what it knows of them."""
        for made in cuts:
            self.cuts += 1
            if isinstance(made, Cut):
                self.add_cut(made)
            else:
                self.exclude(made)

    def hold(self, boxes: Sequence[Box]) -> None:
        """Couplers are in one of these boxes, whence in what holds them all: plain rows.

        Cuts say the same, but the relaxation cannot see it in them.
        """
        for some, most in zip(
            (self._added, self._external, self._load),
            zip(*[astuple(box) for box in boxes], strict=True),
            strict=True,
        ):
            if max(most) < ANY:
                self.model.add(self.cp.LinearExpr.sum(some) <= max(most))

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

    def of_price_alone(self) -> cp_model.CpModel:
        """A copy with the price alone to be minimised, for other solvers."""
        model = self.model.clone()
        model.minimize(self._total_price)
        return model

    def solve(self, no_more_than: int | None = None) -> Answer:
        """The cheapest, then lightest bill (or the other way round, by the goal).

        An incumbent bounds price or mass alone: a row with the objective's wide coefficients
        would slow the solver down by orders of magnitude.
        """
        model = self.model.clone()
        if no_more_than is not None:
            model.add(self._first() <= no_more_than)
        model.minimize(self._objective)
        answer = self._run(model)
        found = answer.solution
        self._counted(no_more_than if found is None else found.figure)
        if found is None or not answer.solved or not self._in_steps:
            return answer
        # Of all that come to as little over the years (or weigh as little), the least price.
        model = self.model.clone()
        model.minimize(self._cheapest_within(model, found.figure))
        return self._run(model)

    def _cheapest_within(self, model: cp_model.CpModel, figure: int) -> Any:
        """Price, then mass of bills that come to no more than this by the goal."""
        if not self._in_steps:
            return self._objective
        model.add(self._first() <= figure)
        if self._lightest:
            return self._total_price  # the mass is settled
        return self._total_price * MASS_WEIGHT + self._total_added

    def better_than(self, figure: int) -> Answer:
        """Any bill below this price or mass, sought with another seed and without presolve."""
        model = self.model.clone()
        model.add(self._first() <= figure - 1)
        self._counted(figure - 1)
        return self._run(model, seed=7, presolve=False)

    def _counted(self, figure: int | None) -> None:
        """InputError if bills that come to no more by the goal may be beyond the integers."""
        most = self.purchases.counted_to
        if most is not None and (self._lightest or figure is None or figure > most):
            raise InputError([beyond(self._context.project.currency)])

    def _first(self) -> Any:
        """What the goal asks for first."""
        return self._total_added if self._lightest else self._total_price + self._running

    def _running_cost(self) -> Any:
        """What the picked charger makes of the years of use; nothing where no goal asks."""
        if self._context.project.goal.aim != "least-lifetime-cost":
            return 0
        everyday = everyday_drive(self._context, self._drive)
        if everyday is None:
            raise InternalError("a core that cannot follow the everyday drive came to its model")
        return self.cp.LinearExpr.sum(
            [
                running_cost(
                    self._context, self._drive, everyday, row.part.number("efficiency")
                ).weighted
                * pick
                for row, pick in self._picks["charger"]
            ]
        )

    def as_good(self, known: Solution, ask: Callable[[cp_model.CpModel], None]) -> Solution | None:
        """A bill of the same price and mass that also keeps the constraints that are added."""
        model = self.model.clone()
        ask(model)
        # Beside the objective, whose bounds prove the answer, as rows of their own: half the time.
        model.add(self._total_price <= known.price)
        model.add(self._mass_var <= known.added_g)
        model.minimize(self._cheapest_within(model, known.figure))
        found = self._run(model).solution
        if found is None or (found.price, found.added_g) != (known.price, known.added_g):
            return None
        return found

    def _run(self, model: cp_model.CpModel, seed: int = 0, presolve: bool = True) -> Answer:
        solver = self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.cp_model_presolve = presolve
        # Measured on the models of the examples: probing takes half the time and finds nothing.
        solver.parameters.cp_model_probing_level = 0
        # That what is bought must be ordered stands in the relaxation at this level only; without
        # it no bound knows of shipping, and four suppliers take five times as long. Cuts then
        # cost more than they bring.
        solver.parameters.linearization_level = 2
        solver.parameters.cut_level = 0
        solver.parameters.catch_sigint_signal = False
        # An open report of a wrong optimum in this solver is avoided without this presolve.
        solver.parameters.presolve_inclusion_work_limit = 0
        solver.parameters.max_deterministic_time = EFFORT
        status = solver.solve(model)
        if status == self.cp.INFEASIBLE:
            return Answer(True, None)
        if status == self.cp.MODEL_INVALID:
            raise InputError([beyond(self._context.project.currency)])
        if status != self.cp.OPTIMAL:
            solution = self._read(solver) if status == self.cp.FEASIBLE else None
            return Answer(False, solution)
        return Answer(True, self._read(solver))

    def _read(self, solver: cp_model.CpSolver) -> Solution:
        chosen = self.purchases.chosen(solver)
        rows = tuple(
            next(rows for rows, var in enumerate(at) if solver.boolean_value(var)) for at in self.at
        )
        return Solution(
            rows,
            chosen,
            int(solver.value(self._total_price)),
            int(solver.value(self._mass_var)),
            int(solver.value(self._first())),
        )


def _kept(
    options: Options,
    beside: dict[tuple[str, str], Beside],
    kept: Mapping[str, BoolArray],
) -> tuple[Options, dict[tuple[str, str], Beside]]:
    """The rows that are kept, and what of them stands beside what."""
    rows = {
        family: tuple([row for row, keep in zip(some, kept[family].tolist(), strict=True) if keep])
        for family, some in options.rows.items()
    }
    found = {
        (first, second): Beside(one.allowed, one.first[kept[first]], one.second[kept[second]])
        for (first, second), one in beside.items()
    }
    return Options(rows, options.capacity), found
