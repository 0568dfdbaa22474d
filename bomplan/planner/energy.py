"""Which packs hold enough energy for a drive, on arrays, before any pack is simulated.

A pack gives at most its open-circuit energy over its usable window, in the target's
condition; a metre takes at least what the drive draws at the least mass there can be. The
least mass grows with the lightest pack that is left, so the two are settled in turn.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator, pack_in
from bomplan.design.context import Context
from bomplan.design.drive import Drive, pack_figures
from bomplan.physics import most_usable_energy
from bomplan.planner.screen import DriveRow, Packs, core_of
from bomplan.requirements.simulated import wanted_m

ROUNDS = 4


class EnergyScreen:
    """The packs' usable energy per condition, kept over the drives that ask."""

    def __init__(self, context: Context, found: Packs) -> None:
        self._context = context
        self._found = found
        self._usable: dict[str, npt.NDArray[np.float64]] = {}

    def keep(self, row: DriveRow, order: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs of ``order`` that may hold enough for every closed range target."""
        if not len(order):
            return order
        simulator = self._simulator(row, int(order[0]))
        found, targets = self._found, self._context.project.targets
        for target in targets.range:
            if not simulator.profile(target).closed:
                continue
            wanted = wanted_m(target, self._context.project.margins.range)
            usable = self._usable_j(target.condition) * (1 - target.reserve)
            for _ in range(ROUNDS):
                if not len(order):
                    return order
                added = row.motor.mass_g + row.controller.mass_g + int(found.mass_g[order].min())
                needed = simulator.least_energy_j_m(target, added) * wanted
                kept = order[usable[order] >= needed]
                if len(kept) == len(order):
                    break
                order = kept
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

    def _usable_j(self, condition: str) -> npt.NDArray[np.float64]:
        """Most usable energy of every pack in this condition, J."""
        known = self._usable.get(condition)
        if known is None:
            record = self._context.condition(condition)
            one = {
                module.id: most_usable_energy(
                    pack_in(self._context, module, 1, 1, record, 0.0, math.inf)
                )
                for module in {row[0].id: row[0] for row in self._found.rows}.values()
            }
            known = np.array(
                [
                    one[module.id] * series * parallel
                    for module, series, parallel, _ in self._found.rows
                ]
            )
            self._usable[condition] = known
        return known
