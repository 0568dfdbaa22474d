"""Packs that break an axle or a plate with a drive, before the other families are fitted.

What the modules add to each mass limit at least, over every placement, with the families that the
pack settles and with motor and controller: where that alone breaks a limit in every set of bays,
no bill keeps it. Only limits are counted to which no part adds less than nothing wherever it
stands, so that the families that are left out cannot make up for it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.assemble import place_x_mm
from bomplan.design.bill import RULES, Rule
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.bill_bound import bay_sets
from bomplan.planner.mass_bound import MassBound
from bomplan.planner.options import CORE, Group, Row

IntArray = npt.NDArray[np.int64]
OF_FAMILY = {rule.family: rule for rule in RULES}


class Heavy:
    """The mass limits of one project against its packs, each looked at once."""

    def __init__(self, context: Context) -> None:
        self._context, self._bound = context, MassBound(context)
        spots = [place_x_mm(context, rule) for rule in RULES]
        spots += [context.bay_centre_mm(bay) for bay in range(len(context.bays))]
        effects = [self._bound.effect(x_mm) for x_mm in spots]
        self._counts = np.all([effect >= 0 for effect in effects], axis=0)
        # (sets of bays, limits that count): what is left for motor and controller, by the pack.
        self._left: dict[int, IntArray] = {}
        self._drives: dict[tuple[str, str], IntArray] = {}

    def may_stand(self, pack: int, drive: Drive, capacity: tuple[int, ...], settled: Group) -> bool:
        """False if no bill of this core keeps every limit; ``settled``: its pack's own rows."""
        left = self._left.get(pack)
        if left is None:
            left = self._left[pack] = self._leaves(drive, capacity, settled)
        key = drive.motor.id, drive.controller.id
        adds = self._drives.get(key)
        if adds is None:
            adds = self._adds(drive.motor) + self._adds(drive.controller)
            adds = self._drives[key] = adds[self._counts]
        return bool((left >= adds).all(axis=1).any())

    def _leaves(self, drive: Drive, capacity: tuple[int, ...], settled: Group) -> IntArray:
        bound, series = self._bound, drive.core.series
        sets = bay_sets(capacity, series, self._context.project.choices.bays_max)
        if sets == ((),):  # too many to tell them apart
            return np.full((1, int(self._counts.sum())), np.iinfo(np.int64).max)
        modules = _alone(OF_FAMILY["module"], drive.module, series)
        found = []
        for bays in sets:
            adds = bound.least_of_modules(drive, modules, capacity, bays)
            for family, rows in settled.rows.items():
                if family not in CORE:
                    adds = adds + bound.by_row(rows, bays).min(axis=0)
            found.append((bound.left - adds)[self._counts])
        return np.array(found, dtype=np.int64)

    def _adds(self, part: Part) -> IntArray:
        x_mm = place_x_mm(self._context, OF_FAMILY[part.family])
        return part.mass_g * self._bound.effect(x_mm)


def _alone(rule: Rule, part: Part, series: int) -> Row:
    """The modules as a row of which nothing but the part is asked."""
    return Row(rule, part, (), 0, (), series, 0, 0, 0, 0)


__all__ = ["Heavy"]
