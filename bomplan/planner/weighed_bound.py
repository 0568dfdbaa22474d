"""A closer bound on a core's bill: what its mass limits make dearer is counted.

It takes longer than the bound without limits, so it is asked for only when a core's turn comes.
"""

from __future__ import annotations

from dataclasses import replace

from bomplan.design.context import Context
from bomplan.planner.bill_bound import BillBound
from bomplan.planner.core_bounds import CoreBounds, ceiling_of
from bomplan.planner.goals import Goal
from bomplan.planner.judge import Judge
from bomplan.planner.row_bounds import KnownFigures
from bomplan.planner.walked import Opened


class WeighedBound:
    """Bounds of cores with prices on what their limits hold down, by one goal."""

    def __init__(self, context: Context, bill: BillBound, judge: Judge, goal: Goal) -> None:
        self._context, self._bill, self._judge, self._goal = context, bill, judge, goal
        self._figures = KnownFigures()

    def dearer(self, opened: Opened, found: bool) -> Opened | None:
        """The same core with its bounds, under a key that may be higher; None if it has them.

        Before anything is ``found`` its turn stays: a plan that is known spares others a look.
        """
        if opened.bounds is not None:
            return None
        bounds = CoreBounds(
            self._context,
            self._goal,
            self._bill,
            self._judge,
            opened.drive,
            opened.currents,
            opened.options,
            self._figures,
        )
        floor = opened.key
        key = max(floor, bounds.ask((), ceiling_of(floor, None))) if found else floor
        return replace(opened, key=key, bounds=bounds, floor=floor)
