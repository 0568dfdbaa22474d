"""What the walk goes by: for each goal, bounds on what a core can come to, and what a bill does.

A goal is one whole number per bill, the less the better. Its key for a core bounds that number
from below for every bill of the core: first from pack and drive alone, then from the rows that
suit. Bills of the same number go by price, then by mass, then by the fixed order of names.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.assemble import Bill
from bomplan.design.bill.rule import Side
from bomplan.design.context import Context
from bomplan.design.drive import Drive, charge_return
from bomplan.design.pack_life import (
    driven,
    energy_price,
    pack_price,
    usual_target,
    wear_of,
    window_of,
)
from bomplan.design.records import Objective, Reached
from bomplan.design.running_costs import everyday_drive, running_cost
from bomplan.physics.arrays import FloatArray
from bomplan.physics.bounds import STEP_SLACK
from bomplan.planner.bill_bound import BEYOND, BillBound
from bomplan.planner.bounds import Subsets, least_rest, least_rest_g
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.judge import Judge
from bomplan.planner.options import Options, Row
from bomplan.planner.screen import DriveRow, Packs
from bomplan.requirements.simulated import mass_never_pays

IntArray = npt.NDArray[np.int64]
J_PER_M_PER_WH_KM = 3.6
# Of the distance asked, what a core whose bill goes so far comes to by itself. Assumed, with room
# to spare, not proven: it is lighter, but its reference circuit may be longer than the bill's.
SURELY = 0.9


class Goal:
    """The least price of the whole bill."""

    words = "price of the whole bill"
    unit: Literal["g", "m", "money"] = "money"
    by_price = True  # whether the bounds of its measure are bounds on the price
    runs = False  # whether a core comes to anything beside its bill

    def __init__(self, context: Context) -> None:
        self.context = context

    def measure(self, subsets: Subsets, judge: Judge) -> BillBound:
        """Bounds on the sum over the bill's lines that this goal starts from."""
        return BillBound(self.context, subsets, judge)

    def rest(self, side: Side, only: frozenset[str] | None = None) -> int:
        """What every conversion brings of the families of one side, the core's own parts aside.

        Of ``only`` these families, if given.
        """
        return least_rest(self.context, side, only)

    def of_drive(self, row: DriveRow) -> int:
        """What motor and controller bring at least."""
        return row.price

    def of_packs(self, found: Packs) -> IntArray:
        """What the modules of each pack bring at least."""
        return found.price

    def lifts(self, screen: EnergyScreen, row: DriveRow, order: IntArray) -> IntArray | None:
        """What each pack of an order comes to beside the bill at least; None: nothing."""
        del screen, row, order
        return None

    def running(self, drive: Drive, options: Options) -> int | None:
        """What a core comes to beside the bill at least; None if it is no core for this goal."""
        del drive, options
        return 0

    def by_row(self, drive: Drive, options: Options) -> dict[str, IntArray]:
        """What the rows of a family come to beside the bill, for each family that matters."""
        del drive, options
        return {}

    def objective(self, bill: Bill | None, figure: int | None, bound: int | None) -> Objective:
        """What the plan file says of the goal; ``bound`` is proven for the goal's figure."""
        price = None if bill is None else bill.price
        aim = self.context.project.goal.aim
        if aim == "least-cost":
            return Objective(minimise=self.words, value=price, bound=bound)
        return Objective(
            minimise=self.words,
            value=price,
            bound=None,
            goal=Reached(aim=aim, unit=self.unit, figure=figure, bound=bound),
        )


class LeastMass(Goal):
    """The least mass of everything that is added, in grams."""

    words = "mass of everything added"
    unit = "g"
    by_price = False

    def measure(self, subsets: Subsets, judge: Judge) -> BillBound:
        return MassBill(self.context, subsets, judge)

    def rest(self, side: Side, only: frozenset[str] | None = None) -> int:
        return least_rest_g(self.context, side, only)

    def of_drive(self, row: DriveRow) -> int:
        return row.motor.mass_g + row.controller.mass_g

    def of_packs(self, found: Packs) -> IntArray:
        return found.mass_g


class LeastLifetimeCost(Goal):
    """The least sum of price, energy and new packs over the years of use."""

    words = "bill, energy and new packs over the years"
    runs = True

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._pack_prices: dict[tuple[str, int], int] = {}

    def lifts(self, screen: EnergyScreen, row: DriveRow, order: IntArray) -> IntArray | None:
        """By the energy that motor, driveline and road take at least, and the range at most."""
        context, found = self.context, screen.found
        target = usual_target(context.project)
        alone = screen.floors.alone(row, int(order[0]), target)
        energy_j = screen.table(target.condition, new=True).energy_j[order]
        drive = screen.simulator(row, int(order[0])).drive
        added_g = row.own_g + found.mass_g[order]
        # The core alone is lighter than any bill that goes the distance asked.
        from_m = SURELY * target.distance_m if mass_never_pays(context, target) else 0.0
        j_per_m = alone.least_j_per_m(added_g, from_m)
        usable_j = energy_j * (1.0 + STEP_SLACK - target.reserve)
        farthest_m = alone.most_distance_m(added_g, usable_j)
        usual, weights = driven(context.project), context.project.goal
        price = float(energy_price(context.project) or 0)
        modules = {found.rows[pack][0].id: found.rows[pack][0] for pack in order.tolist()}
        returns = {
            name: charge_return(replace(drive, module=module)) for name, module in modules.items()
        }
        back = self._best_charger * np.array(
            [returns[found.rows[pack][0].id] for pack in order.tolist()]
        )
        # A hair less at every step, so that no rounding lifts a bound above the truth.
        wall = np.maximum(j_per_m / J_PER_M_PER_WH_KM / back - 0.05, 0.0)
        energy = float(usual.distance_m) / 1e6 * wall * price * weights.energy_weight
        packs = self._packs_after_the_first(found, order, farthest_m, target.reserve)
        again = packs * self._new_packs(found, order, packs) * weights.packs_weight
        return np.asarray(np.floor((energy + again) * (1.0 - 1e-9)), dtype=np.int64)

    def _packs_after_the_first(
        self, found: Packs, order: IntArray, farthest_m: FloatArray, reserve: float
    ) -> FloatArray:
        """At least; cycles by constant throughput come to years in proportion to the range."""
        usual = driven(self.context.project)
        years_per_m, calendar = {}, {}
        for module in {found.rows[pack][0].id: found.rows[pack][0] for pack in order}.values():
            wear, window = wear_of(module), float(window_of(module))
            throughput = wear.cycles * float(wear.cycles_depth) / (window * (1.0 - reserve))
            years_per_m[module.id] = throughput / usual.distance_a_year_m
            calendar[module.id] = float(wear.calendar_years)
        names = [found.rows[pack][0].id for pack in order.tolist()]
        years = np.minimum(
            np.array([years_per_m[name] for name in names]) * farthest_m,
            np.array([calendar[name] for name in names]),
        )
        needed = np.ceil(float(usual.years) / np.maximum(years, 1e-9) * (1.0 - 1e-9)) - 1.0
        return np.asarray(np.maximum(needed, 0.0), dtype=np.float64)

    def _new_packs(self, found: Packs, order: IntArray, packs: FloatArray) -> FloatArray:
        """The price of a new pack for each that needs one."""
        prices = np.zeros(len(order))
        for place in np.flatnonzero(packs > 0).tolist():
            module, series, parallel, _ = found.rows[order[place]]
            key = (module.id, series * parallel)
            if key not in self._pack_prices:
                self._pack_prices[key] = pack_price(self.context, module, key[1]) or 0
            prices[place] = self._pack_prices[key]
        return prices

    def running(self, drive: Drive, options: Options) -> int | None:
        found = self.by_row(drive, options)
        return int(found["charger"].min()) if found else None

    def by_row(self, drive: Drive, options: Options) -> dict[str, IntArray]:
        everyday = everyday_drive(self.context, drive)
        if everyday is None:
            return {}
        weighted = [
            running_cost(self.context, drive, everyday, row.part.number("efficiency")).weighted
            for row in options.rows["charger"]
        ]
        return {"charger": np.array(weighted, dtype=np.int64)}

    @cached_property
    def _best_charger(self) -> float:
        chargers = self.context.catalog.family("charger").values()
        return max((part.number("efficiency") for part in chargers), default=1.0)


class MostRange(Goal):
    """The most range: found by searches for the least price that each ask for more of it."""

    words = "range on the target that is to go farthest"
    unit = "m"


class MassBill(BillBound):
    """The bounds on a bill with grams in the place of money."""

    def __init__(self, context: Context, subsets: Subsets, judge: Judge) -> None:
        super().__init__(context, subsets, judge)
        self._shipping = np.zeros_like(self._shipping)

    def own(self, part: Part, pieces: int) -> IntArray:
        return _grams_where(super().own(part, pieces), pieces * part.mass_g)

    def each(self, row: Row) -> int:
        return -1 if super().each(row) < 0 else row.part.mass_g

    def _price(self, row: Row, pieces: int) -> IntArray:
        return _grams_where(super()._price(row, pieces), pieces * row.part.mass_g)

    def unavoidable(self, options: Options) -> IntArray:
        return _grams_where(super().unavoidable(options), 0)


def _grams_where(price: IntArray, grams: int) -> IntArray:
    """The grams in every set of suppliers that delivers at all."""
    return np.where(price >= BEYOND, BEYOND, grams)


def goal_of(context: Context) -> Goal:
    """The project's goal."""
    return _GOALS[context.project.goal.aim](context)


_GOALS = {
    "least-cost": Goal,
    "least-mass": LeastMass,
    "most-range": MostRange,
    "least-lifetime-cost": LeastLifetimeCost,
}


def arranged(found: Packs, keys: IntArray) -> tuple[Packs, IntArray]:
    """The packs in the order of their keys, equal ones as they were; and the keys so ordered."""
    order = np.argsort(keys, kind="stable")
    if bool((order[1:] > order[:-1]).all()):
        return found, keys
    changes: dict[str, Any] = {"rows": tuple([found.rows[pack] for pack in order.tolist()])}
    for one in fields(found):
        if one.name != "rows":
            changes[one.name] = getattr(found, one.name)[order]
    return replace(found, **changes), keys[order]


__all__ = ["Goal", "LeastMass", "arranged", "goal_of"]
