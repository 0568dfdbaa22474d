"""Which packs may go the distance with a drive, on arrays, before any pack is simulated.

Packs are asked about in price order and a block at a time, so that no table over all drives
and all packs is ever made, and dear packs that the search never comes to cost nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator, pack_in
from bomplan.design.context import Context
from bomplan.design.drive import Drive, pack_figures
from bomplan.physics.pack_table import PackTable, pack_table
from bomplan.planner.bounds import least_rest_g
from bomplan.planner.screen import DriveRow, Packs, core_of
from bomplan.project.records import RangeTarget
from bomplan.requirements.simulated import wanted_m

# Classes by strength and by mass, look after look: packs that turn out too weak widen the
# classes that they stand in, so what is left is looked at again.
LOOKS = ((3, 2), (6, 2), (10, 2))
AT_ONCE = 24  # packs looked at closely together


class EnergyScreen:
    """Every pack's figures per condition, and per drive the laps that packs are held against."""

    def __init__(self, context: Context, found: Packs) -> None:
        self._context = context
        self.found = found
        self._rest_g = least_rest_g(context)
        self._tables: dict[str, PackTable] = {}
        joint = context.project.house_rules.joint_uohm
        series = np.array([row[1] for row in found.rows], dtype=np.int64)
        parallel = np.array([row[2] for row in found.rows], dtype=np.int64)
        self._series, self._parallel = series, parallel
        # What bars and joints come to, as the bill counts them.
        uohm = -(-series * joint // np.maximum(parallel, 1))
        self._joints_ohm = uohm.astype(np.float64) * 1e-6
        self.targets = self._by_hardness()

    def _by_hardness(self) -> list[RangeTarget]:
        """The closed range targets, first the one that leaves the packs the least energy over.

        Usable energy over the distance wanted, summed over all packs: only an order.
        """
        margin = self._context.project.margins.range
        closed = [
            target
            for target in self._context.project.targets.range
            if self._context.profile(target.profile, target.speed_cap_m_s).mass_never_pays(
                target.distance_m
            )
        ]
        if not self.found.rows:
            return closed

        def left(target: RangeTarget) -> float:
            whole = float(self.table(target.condition).energy_j.sum())
            return whole / wanted_m(target, margin)

        return sorted(closed, key=left)

    def of(self, row: DriveRow, candidates: npt.NDArray[np.int64]) -> DriveEnergy:
        """This drive's screen."""
        return DriveEnergy(self, self._context, row, int(candidates[0]))

    def simulator(self, row: DriveRow, pack: int) -> Simulator:
        """A core of this drive with this pack."""
        module, series, parallel, _ = self.found.rows[pack]
        drive = Drive(
            core_of(row, self.found.rows[pack]),
            row.motor,
            row.controller,
            row.pair,
            module,
            pack_figures(module, series, parallel),
        )
        return Simulator(self._context, drive)

    def added_g(self, row: DriveRow, packs: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """Grams that no bill with this drive and each of these packs undercuts."""
        base = row.motor.mass_g + row.controller.mass_g + self._rest_g
        return base + self.found.mass_g[packs]

    def table(self, condition: str) -> PackTable:
        """Every pack in this condition."""
        known = self._tables.get(condition)
        if known is None:
            record = self._context.condition(condition)
            modules = list({row[0].id: row[0] for row in self.found.rows}.values())
            number = {module.id: index for index, module in enumerate(modules)}
            known = pack_table(
                [pack_in(self._context, module, 1, 1, record, 0.0, math.inf) for module in modules],
                np.array([number[row[0].id] for row in self.found.rows], dtype=np.int64),
                self._series.astype(np.float64),
                self._parallel.astype(np.float64),
                self._joints_ohm,
            )
            self._tables[condition] = known
        return known


class DriveEnergy:
    """One drive against its packs, block by block."""

    def __init__(self, screen: EnergyScreen, context: Context, row: DriveRow, pack: int) -> None:
        self._screen, self._row = screen, row
        self._margin = context.project.margins.range
        self._simulator = screen.simulator(row, pack)
        self._kept = np.zeros(0, dtype=np.int64)
        self._close: dict[int, bool] = {}
        self._targets = screen.targets

    def may_at_all(self, packs: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs that may have the energy by road and driveline alone, in their order."""
        for target in self._targets:
            if not len(packs):
                break
            may = self._simulator.may_have_energy(
                target,
                wanted_m(target, self._margin),
                self._screen.table(target.condition),
                packs,
                self._screen.added_g(self._row, packs),
            )
            packs = packs[may]
        return packs

    def keep(self, block: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs of ``block`` that may go every closed range target, in their order."""
        for number, classes in enumerate(LOOKS):
            # At first every target; later the hardest alone, for the others add little.
            for target in self._targets if number == 0 else self._targets[:1]:
                block = block[self._may_reach(target, block, classes)]
        self._kept = np.concatenate([self._kept, block])
        return block

    def may_reach(self, pack: int, wanted: Callable[[int], bool]) -> bool:
        """The same at close quarters, every pack a class of its own.

        Looks at the next packs of the list too, for they are cheaper together: those that
        were kept, are ``wanted`` and not looked at yet.
        """
        known = self._close.get(pack)
        if known is None:
            begin = int(np.flatnonzero(self._kept == pack)[0])
            some = [
                other
                for other in self._kept[begin:].tolist()
                if other not in self._close and (other == pack or wanted(other))
            ][:AT_ONCE]
            block = np.array(some, dtype=np.int64)
            for target in self._targets:
                block = block[self._may_reach(target, block, (len(block), 1))]
            reached = set(block.tolist())
            self._close.update((other, other in reached) for other in some)
            known = self._close[pack]
        return known

    def _may_reach(
        self, target: RangeTarget, block: npt.NDArray[np.int64], classes: tuple[int, int]
    ) -> npt.NDArray[np.bool_]:
        if not len(block):
            return np.zeros(0, dtype=np.bool_)
        return self._simulator.may_reach(
            target,
            wanted_m(target, self._margin),
            self._screen.table(target.condition),
            block,
            self._screen.found.nominal_v[block],
            self._screen.added_g(self._row, block),
            classes,
        )
