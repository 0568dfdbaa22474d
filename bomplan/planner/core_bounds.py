"""All that is known from below of one core's bills: of the whole, and of each of its rows.

What failed simulations taught leaves boxes of couplers (:mod:`bomplan.planner.cuts`); in each of
them the limits are plain ones, which the bounds of :mod:`bomplan.planner.row_bounds` put prices on.
"""

from __future__ import annotations

import numpy as np

from bomplan.design.assemble import joints_uohm
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Couplers
from bomplan.planner.bill_bound import BillBound
from bomplan.planner.bounds import Leasts
from bomplan.planner.cuts import Box, Cuts, boxes
from bomplan.planner.goals import Goal
from bomplan.planner.judge import BoolArray, Judge
from bomplan.planner.options import Options
from bomplan.planner.row_bounds import NEVER, KnownFigures, RowBounds

TRIES = 15  # prices that are tried in each box
ABOVE = 4  # bits: bills are looked at that come to more than is known by this part of it


def ceiling_of(floor: int, incumbent: int | None) -> int:
    """What bills may come to that are looked at, where none comes to less than ``floor``."""
    found = floor + (floor >> ABOVE) + 1
    return found if incumbent is None else min(found, incumbent)


class CoreBounds:
    """The bounds of one core; ``goal`` tells what rows come to beside their bill."""

    def __init__(
        self,
        context: Context,
        goal: Goal,
        bill: BillBound,
        judge: Judge,
        drive: Drive,
        currents: DesignCurrents,
        options: Options,
        figures: KnownFigures | None = None,
    ) -> None:
        donor = context.project.donor
        self._ground = Box(0, joints_uohm(context, drive), round(donor.load_12v_w))
        self._beyond_w = self._ground.mean_12v_w + donor.beyond_mean_12v_w
        grams, uohm, watts = Leasts().of(options)
        self._least = Box(grams, uohm + self._ground.external_uohm, watts + self._ground.mean_12v_w)
        extra = goal.by_row(drive, options)
        self._plain = RowBounds(context, bill, judge, drive, currents, options, extra)
        self._families = tuple(options.rows)
        self._figures = figures or KnownFigures()
        self._asked: tuple[Cuts, int] | None = None
        self._boxes: list[RowBounds] = []
        # What a bill comes to at least before anything is asked, and by the last ask.
        self.plain = self.least = self._plain.least

    def ask(self, cuts: Cuts, ceiling: int) -> int:
        """No bill that the cuts leave comes to less; none that comes to more is looked at.

        The answer hangs on nothing that was asked before: it is the same in any process.
        """
        if self._asked == (cuts, ceiling):
            return self.least
        self._asked, self._boxes = (cuts, ceiling), []
        within = self._plain.within(ceiling, self._beyond_w, self._figures)
        for box in self.boxes(cuts):
            here = Box(
                box.added_g,
                box.external_uohm - self._ground.external_uohm,
                box.mean_12v_w - self._ground.mean_12v_w,
            )
            found = within.in_box(here)
            found.raise_prices(ceiling + 1, TRIES)
            self._boxes.append(found)
        self.least = max(self._plain.least, min([box.least for box in self._boxes], default=NEVER))
        return self.least

    def boxes(self, cuts: Cuts) -> tuple[Box, ...]:
        """Couplers that a bill may have which the cuts leave."""
        return boxes(cuts, self._least)

    def couplers(self) -> Couplers | None:
        """The least couplers of the rows that come to least, if some are found that keep limits."""
        best = min(self._boxes, key=lambda box: box.least, default=None)
        if best is None or best.choice is None:
            return None
        found, ground = best.choice.couplers, self._ground
        return Couplers(
            added_g=found.added_g,
            external_uohm=found.external_uohm + ground.external_uohm,
            mean_12v_w=found.mean_12v_w + ground.mean_12v_w,
        )

    def rows_within(self, figure: int) -> dict[str, BoolArray]:
        """For each family which rows a bill of no more than this may hold."""
        bound = self._plain.by_row
        if self._boxes:
            bound = np.maximum(bound, np.min([box.by_row for box in self._boxes], axis=0))
        kept = self._plain.kept(bound, figure)
        return {family: kept[self._plain.span(family)] for family in self._families}
