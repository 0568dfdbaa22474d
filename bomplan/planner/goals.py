"""What the walk goes by: for each goal, bounds on what a core can come to, and what a bill does.

A goal is one whole number per bill, the less the better. Its key for a core bounds that number
from below for every bill of the core: first from pack and drive alone, then from the rows that
suit. Bills of the same number go by price, then by mass, then by the fixed order of names.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.assemble import Bill
from bomplan.design.bill.rule import Side
from bomplan.design.context import Context
from bomplan.design.records import Objective, Reached
from bomplan.planner.bill_bound import BEYOND, BillBound
from bomplan.planner.bounds import Subsets, least_rest, least_rest_g
from bomplan.planner.judge import Judge
from bomplan.planner.options import Row
from bomplan.planner.screen import DriveRow, Packs

IntArray = npt.NDArray[np.int64]


class Goal:
    """The least price of the whole bill."""

    words = "price of the whole bill"
    unit: Literal["g", "m", "money"] = "money"
    by_price = True  # whether the bounds of its measure are bounds on the price

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

    def of_bill(self, bill: Bill) -> int:
        """What a bill comes to."""
        return bill.price

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

    def of_bill(self, bill: Bill) -> int:
        return bill.added_g


class MassBill(BillBound):
    """The bounds on a bill with grams in the place of money."""

    def __init__(self, context: Context, subsets: Subsets, judge: Judge) -> None:
        super().__init__(context, subsets, judge)
        self._shipping = np.zeros_like(self._shipping)

    def own(self, part: Part, pieces: int) -> IntArray:
        return _grams_where(super().own(part, pieces), pieces * part.mass_g)

    def _price(self, row: Row, pieces: int) -> IntArray:
        return _grams_where(super()._price(row, pieces), pieces * row.part.mass_g)

    def _unavoidable(self, rows: dict[str, tuple[Row, ...]]) -> IntArray:
        return _grams_where(super()._unavoidable(rows), 0)


def _grams_where(price: IntArray, grams: int) -> IntArray:
    """The grams in every set of suppliers that delivers at all."""
    return np.where(price >= BEYOND, BEYOND, grams)


def goal_of(context: Context) -> Goal:
    """The project's goal."""
    return _GOALS[context.project.goal.aim](context)


_GOALS = {"least-cost": Goal, "least-mass": LeastMass}


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
