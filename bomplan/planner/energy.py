"""Which packs hold enough energy for a drive, on arrays, before any pack is simulated.

A pack gives at most its open-circuit energy over its usable window, in the target's
condition, less what its own resistance eats; a metre takes at least what the drive draws at
the least mass there can be. That mass grows with the lightest pack that is left, so the two
are settled in turn.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator, pack_in
from bomplan.design.context import Context
from bomplan.design.drive import Drive, pack_figures
from bomplan.physics.screen import PackTable, pack_table
from bomplan.planner.screen import DriveRow, Packs, core_of
from bomplan.requirements.simulated import wanted_m

THIRDS = 3


class EnergyScreen:
    """The packs' usable energy per condition, kept over the drives that ask."""

    def __init__(self, context: Context, found: Packs) -> None:
        self._context = context
        self._found = found
        self._tables: dict[str, PackTable] = {}

    def keep(self, row: DriveRow, order: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs of ``order`` that may hold enough for every closed range target."""
        if not len(order):
            return order
        simulator = self._simulator(row, int(order[0]))
        targets = self._context.project.targets
        closed = [t for t in targets.range if simulator.profile(t).closed]
        base = row.motor.mass_g + row.controller.mass_g
        for target in closed:
            wanted = wanted_m(target, self._context.project.margins.range)
            table = self._table(target.condition)
            # Once for all at the lightest, then each third of the rest by mass at its lightest.
            for parts in (1, THIRDS):
                if not len(order):
                    return order
                mass = self._found.mass_g[order]
                kept = np.ones(len(order), dtype=np.bool_)
                edges = np.quantile(mass, np.linspace(0, 1, parts + 1)[:-1])
                group = np.searchsorted(edges, mass, side="right") - 1
                for index in range(parts):
                    here = group == index
                    if here.any():
                        added = base + int(mass[here].min())
                        kept[here] = simulator.may_reach(target, added, wanted, table, order[here])
                order = order[kept]
        return order

    def _simulator(self, row: DriveRow, pack: int) -> Simulator:
        """A core of this drive with any pack: the energy asked of it reads no pack figure."""
        module, series, parallel, _ = self._found.rows[pack]
        drive = Drive(
            core_of(row, self._found.rows[pack]),
            row.motor,
            row.controller,
            row.pair,
            module,
            pack_figures(module, series, parallel),
        )
        return Simulator(self._context, drive)

    def _table(self, condition: str) -> PackTable:
        known = self._tables.get(condition)
        if known is None:
            record = self._context.condition(condition)
            modules = list({row[0].id: row[0] for row in self._found.rows}.values())
            number = {module.id: index for index, module in enumerate(modules)}
            known = pack_table(
                [pack_in(self._context, module, 1, 1, record, 0.0, math.inf) for module in modules],
                np.array([number[row[0].id] for row in self._found.rows], dtype=np.int64),
                np.array([float(row[1]) for row in self._found.rows]),
                np.array([float(row[2]) for row in self._found.rows]),
            )
            self._tables[condition] = known
        return known
