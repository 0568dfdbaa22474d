"""Which packs may go the distance with a drive, on arrays, before any pack is simulated.

Packs are asked about in price order and a block at a time, so that no table over all drives
and all packs is ever made, and dear packs that the search never comes to cost nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import islice
from typing import cast

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator, pack_in
from bomplan.design.context import Context
from bomplan.design.drive import Drive, pack_figures
from bomplan.design.records import Couplers
from bomplan.physics.pack_table import PackTable, pack_table
from bomplan.physics.screen import Classes
from bomplan.planner.bounds import least_rest_g
from bomplan.planner.screen import DriveRow, Packs, core_of, set_a
from bomplan.project.records import RangeTarget
from bomplan.requirements.simulated import wanted_m

# Classes by strength and by mass. They are made for so many packs of a drive at once.
STRENGTHS, MASSES = 8, 16
WINDOW = 2048
MADE_MOST = 64  # classes remembered: a megabyte each
LAPS_MOST = 96  # of all searches together
AT_ONCE = 24  # packs looked at closely together
Waiting = tuple[int, Couplers]  # a pack, and couplers that no bill with it undercuts


class EnergyScreen:
    """Every pack's figures per condition, and per drive the laps that packs are held against."""

    def __init__(self, context: Context, found: Packs) -> None:
        self._context = context
        self.found = found
        self._rest_g = least_rest_g(context)
        self._tables: dict[tuple[str, bool], PackTable] = {}
        # Classes by drive, target and window, longest unused first.
        self.made: dict[tuple[int, str, int], Classes] = {}
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
            return whole / wanted_m(self._context, target)

        return sorted(closed, key=left)

    def of(self, row: DriveRow, candidates: npt.NDArray[np.int64]) -> DriveEnergy:
        """This drive's screen."""
        return DriveEnergy(self, self._context, row, int(candidates[0]))

    def simulator(self, row: DriveRow, pack: int) -> Simulator:
        """A core of this drive with this pack."""
        module, series, parallel, _ = self.found.rows[pack]
        drive = Drive(
            core_of(row, self.found, pack),
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

    def set_a(self, row: DriveRow, packs: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
        """What this drive's controller is set to with each of these packs, in A."""
        return set_a(row, self.found.limit_a[packs]).astype(np.float64)

    def table(self, condition: str, new: bool = False) -> PackTable:
        """Every pack in this condition, worn or not as it says; ``new``: as bought."""
        key = (condition, new)
        known = self._tables.get(key)
        if known is None:
            record = self._context.condition(condition)
            if new:
                record = record.model_copy(update={"aged": False})
            modules = list({row[0].id: row[0] for row in self.found.rows}.values())
            number = {module.id: index for index, module in enumerate(modules)}
            known = pack_table(
                [pack_in(self._context, module, 1, 1, record, 0.0, math.inf) for module in modules],
                np.array([number[row[0].id] for row in self.found.rows], dtype=np.int64),
                self._series.astype(np.float64),
                self._parallel.astype(np.float64),
                self._joints_ohm,
            )
            self._tables[key] = known
        return known


class DriveEnergy:
    """One drive against its packs, block by block."""

    def __init__(self, screen: EnergyScreen, context: Context, row: DriveRow, pack: int) -> None:
        self._screen, self._context, self._row = screen, context, row
        self._simulator = screen.simulator(row, pack)
        self._order = np.zeros(0, dtype=np.int64)
        self._close: dict[int, bool] = {}
        self._targets = screen.targets

    def may_at_all(self, packs: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs that may have the energy by road and driveline alone, in their order."""
        for target in self._targets:
            if not len(packs):
                break
            may = self._simulator.may_have_energy(
                target,
                wanted_m(self._context, target),
                self._screen.table(target.condition),
                packs,
                self._screen.added_g(self._row, packs),
            )
            packs = packs[may]
        self._order = packs
        return packs

    def arrange(self, packs: npt.NDArray[np.int64]) -> None:
        """Ask about those that may at all in another order."""
        self._order = packs

    def keep(self, first: int, last: int) -> npt.NDArray[np.int64]:
        """Of the packs that may at all, from ``first`` to ``last``: those that may go far enough.

        Every closed range target is asked; ``last`` is not among them.
        """
        kept = []
        for begin in range(first - first % WINDOW, min(last, len(self._order)), WINDOW):
            places = np.arange(max(first, begin), min(last, begin + WINDOW, len(self._order)))
            for target in self._targets:
                if not len(places):
                    break
                classes = self._of_window(target, begin)
                places = places[classes.may_reach(places - begin)]
            kept.append(self._order[places])
        return np.concatenate([np.zeros(0, dtype=np.int64), *kept])

    def may_reach(self, pack: int, couplers: Couplers, others: Iterable[Waiting]) -> bool:
        """The same at close quarters, every pack a class of its own, at least these couplers.

        Looks at some of the ``others`` too, for they are cheaper together.
        """
        known = self._close.get(pack)
        if known is None:
            unseen = (other for other in others if other[0] not in self._close)
            some = [(pack, couplers), *islice(unseen, AT_ONCE - 1)]
            reached = self._look_closely(some)
            self._close.update((other, other in reached) for other, _ in some)
            known = self._close[pack]
        return known

    def _look_closely(self, some: list[Waiting]) -> set[int]:
        """Those of the packs that may reach every target at their own least couplers."""
        least = dict(some)
        block = np.array(list(least), dtype=np.int64)
        for target in self._targets:
            if not len(block):
                break
            here = [least[pack] for pack in block.tolist()]
            table = self._screen.table(target.condition)
            external_ohm = table.external_ohm.copy()
            external_ohm[block] = [couplers.external_uohm * 1e-6 for couplers in here]
            classes = self._classes(
                target,
                replace(table, external_ohm=external_ohm),
                block,
                np.array([couplers.added_g for couplers in here], dtype=np.int64),
                min(couplers.mean_12v_w for couplers in here),
                (len(block), len(block)),
            )
            block = block[classes.may_reach(np.arange(len(block)))]
        return set(block.tolist())

    def _of_window(self, target: RangeTarget, begin: int) -> Classes:
        made, key = self._screen.made, (id(self), target.name, begin)
        known = made.pop(key, None)
        if known is None:
            packs = self._order[begin : begin + WINDOW]
            known = self._classes(
                target,
                self._screen.table(target.condition),
                packs,
                self._screen.added_g(self._row, packs),
                round(self._context.project.donor.load_12v_w),
                (STRENGTHS, MASSES),
            )
            if len(made) >= MADE_MOST:
                del made[next(iter(made))]
        made[key] = known  # last used, last to go
        return known

    def _classes(
        self,
        target: RangeTarget,
        table: PackTable,
        which: npt.NDArray[np.int64],
        added_g: npt.NDArray[np.int64],
        mean_12v_w: int,
        number: tuple[int, int],
    ) -> Classes:
        """Packs ready to be asked; made once for all searches that ask the same of them."""
        found, row, context = self._screen.found, self._row, self._context
        wanted, battery_a = wanted_m(context, target), self._screen.set_a(row, which)
        key: tuple[object, ...] | None = None
        if context.laps is not None:
            key = (
                row.motor.id, row.controller.id, row.ratio, row.named_a, target.profile,
                target.speed_cap_m_s, target.condition, target.load_case, target.reserve, wanted,
                mean_12v_w, number, added_g.tobytes(), battery_a.tobytes(),
                table.external_ohm[which].tobytes(),
                tuple([(one[0].id, *one[1:]) for one in map(found.rows.__getitem__, which)]),
            )  # fmt: skip
            known = context.laps.pop(key, None)
            if known is not None:
                context.laps[key] = known
                return cast(Classes, known)
        made = self._simulator.classes(
            target,
            wanted,
            table,
            which,
            found.nominal_v[which],
            added_g,
            battery_a,
            mean_12v_w,
            number,
        )
        if key is not None and context.laps is not None:
            context.laps[key] = made
            if len(context.laps) > LAPS_MOST:
                del context.laps[next(iter(context.laps))]
        return made
