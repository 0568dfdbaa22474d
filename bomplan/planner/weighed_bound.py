"""A closer bound on the price of a core's bill: what its mass limits make dearer is counted.

Where a limit binds, the cheapest rows are too heavy for it and some lighter ones are paid for.
A price is set on what each row adds to the limit, and what the limit leaves is given back: a
bill that keeps it loses nothing by that, so whatever the price, the least sum is a bound on every
bill (Lagrange). The sum takes the same trees of rows that stand beside each other as the bound
without it. The price is raised while that lifts the bound; any price that is tried is sound.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.bill_bound import BEYOND, Bays, BillBound, all_branches, trees
from bomplan.planner.bounds import Subsets
from bomplan.planner.goals import Goal
from bomplan.planner.judge import Judge
from bomplan.planner.options import Options, Row
from bomplan.planner.walked import Opened

IntArray = npt.NDArray[np.int64]
FINE = 1 << 16  # parts of the smallest unit of money that prices of mass are counted in
TRIES = 8


def _fine(money: IntArray) -> IntArray:
    """Money in fine parts, held to ``BEYOND``, so that sums of it fit an integer."""
    return np.minimum(money, BEYOND // FINE) * FINE


class WeighedBound(BillBound):
    """Bounds as those of the bill, with a price on what the tightest mass limit holds down."""

    def __init__(self, context: Context, subsets: Subsets, judge: Judge, goal: Goal) -> None:
        super().__init__(context, subsets, judge)
        self._by_row: dict[tuple[int, Bays], tuple[tuple[Row, ...], IntArray]] = {}
        # Only what goes by the bill's price alone is bounded by it.
        self._helps = goal.by_price and not goal.runs

    def dearer(self, opened: Opened) -> Opened | None:
        """The same core under a higher bound; None if it has none, or was asked before."""
        if opened.weighed or opened.cuts or not self._helps:
            return None
        found = self.weighed(opened.drive, opened.currents, opened.options, opened.key)
        return replace(opened, key=found, weighed=True) if found > opened.key else None

    def weighed(self, drive: Drive, currents: DesignCurrents, options: Options, known: int) -> int:
        """The least price of a bill that keeps its limits, at least ``known``."""
        sets = self.bay_sets(drive, options.capacity)
        if not sets[0]:
            return known
        sets = tuple(bays for bays in sets if self.mass.may_stand(drive, options, bays))
        tightest = self._tightest(drive, options, sets)
        if tightest is None:
            return known
        limit, left = tightest
        # Where the car breaks the limit before anything is fitted, what is left is below nothing.
        most = BEYOND // max(1, self._greatest(options, sets, limit, left))
        best, step = known, 2.0
        price = known * FINE // max(1, abs(int(self.mass.left[limit])))
        for _ in range(TRIES):
            price = min(max(1, price), most)
            if not price:
                return best
            found = self._at(drive, currents, options, sets, limit, left, price)
            if found > best:
                best = found
            else:
                # Past the top, or from the beginning too high: back by half a step.
                price, step = int(price / step), step**0.5
            price = int(price * step)
        return best

    def _greatest(
        self, options: Options, sets: tuple[Bays, ...], limit: int, left: IntArray
    ) -> int:
        """The greatest amount that a price of this limit is multiplied by."""
        found = int(np.abs(left).max())
        for family, rows in options.rows.items():
            if family != "module":
                for bays in sets:
                    found = max(found, int(np.abs(self._values(rows, bays)[:, limit]).max()))
        return found

    def _tightest(
        self, drive: Drive, options: Options, sets: tuple[Bays, ...]
    ) -> tuple[int, IntArray] | None:
        """The limit that leaves least to choose from, and what it leaves in each set of bays.

        None where the heaviest rows keep every limit.
        """
        least = np.zeros((len(sets), len(self.mass.left)), dtype=np.int64)
        most = np.zeros_like(least)
        left = np.zeros_like(least)
        for place, bays in enumerate(sets):
            modules = options.rows["module"][0]
            left[place] = self.mass.left - self.mass.least_of_modules(
                drive, modules, options.capacity, bays
            )
            for family, rows in options.rows.items():
                if family != "module":
                    values = self._values(rows, bays)
                    least[place] += values.min(axis=0)
                    most[place] += values.max(axis=0)
        if not len(sets) or (most <= left).all():
            return None
        free = (left - least) / np.maximum(most - least, 1)
        limit = int(free.max(axis=0).argmin())
        return limit, left[:, limit]

    def _values(self, rows: tuple[Row, ...], bays: Bays) -> IntArray:
        known = self._by_row.get((id(rows), bays))
        if known is None:
            known = rows, self.mass.by_row(rows, bays)
            self._by_row[id(rows), bays] = known
        return known[1]

    def _at(
        self,
        drive: Drive,
        currents: DesignCurrents,
        options: Options,
        sets: tuple[Bays, ...],
        limit: int,
        left: IntArray,
        price: int,
    ) -> int:
        """The bound where each unit of this limit costs ``price``."""
        rows = options.rows
        total = np.zeros((len(sets), len(self._shipping)), dtype=np.int64)
        for root, joined in trees(tuple(rows), frozenset()):
            costs = {root: self._weighted(drive, rows, root, sets, limit, price)}
            beside = {}
            for branch in all_branches(joined):
                joint, family = branch.joint, branch.family
                allowed = self._judge.beside(
                    joint, drive, currents, rows[joint.first], rows[joint.second]
                )
                beside[family] = allowed if joint.second == family else allowed.turned
                costs[family] = self._weighted(drive, rows, family, sets, limit, price)
            total += self._tree(costs, beside, root, joined).min(axis=0)
        sent = self._unavoidable(options)
        total = np.minimum(total + _fine(sent), BEYOND)
        total -= price * left[:, None]
        return -(-int(total.min()) // FINE)

    def _weighted(
        self,
        drive: Drive,
        rows: dict[str, tuple[Row, ...]],
        family: str,
        sets: tuple[Bays, ...],
        limit: int,
        price: int,
    ) -> IntArray:
        """(rows, sets of bays, sets of suppliers): each row with what its mass costs."""
        some = rows[family]
        money = self._family(drive, family, some, sets)
        fine = _fine(money)
        if family == "module":
            return fine  # what modules add is taken off what is left
        added = np.array([self._values(some, bays)[:, limit] for bays in sets])
        weighed: IntArray = fine + price * added.T[:, :, None]
        return np.minimum(weighed, BEYOND)
