"""Which packs may go the distance with a drive, on arrays, before any pack is simulated.

Packs are asked about in price order and a block at a time, so that no table over all drives
and all packs is ever made, and dear packs that the search never comes to cost nothing.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, islice
from typing import cast

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator, pack_in
from bomplan.design.context import Context
from bomplan.design.drive import Drive, pack_figures
from bomplan.design.records import Couplers
from bomplan.physics.battery import Pack
from bomplan.physics.pack_table import PackTable, pack_table
from bomplan.physics.powertrain import TableAsked, prepare_tables
from bomplan.physics.screen import Classes
from bomplan.planner.bounds import least_rest_g
from bomplan.planner.floors import Asking, Floors
from bomplan.planner.kinds_of_drives import Kinds
from bomplan.planner.screen import DriveRow, Packs, Screened, core_of, matching, set_a
from bomplan.planner.steady import Steady
from bomplan.project.records import Condition, RangeTarget
from bomplan.requirements.simulated import wanted_m

# Classes by strength and by mass. They are made for so many packs of a drive at once.
STRENGTHS, MASSES = 8, 16
WINDOW = 2048
MADE_MOST = 128  # classes remembered: half a megabyte each
LAPS_MOST = 96  # of all searches together
FEW = 24  # packs for which no classes are made
AT_ONCE = 24  # packs looked at closely together
READY_AT_ONCE = 8  # and those made ready to be driven: of these many are never come to
UNASKED, KEPT, FELL = range(3)  # what is known of a pack held against its class
Waiting = tuple[int, Couplers]  # a pack, and couplers that no bill with it undercuts


class EnergyScreen:
    """Every pack's figures per condition, and per drive the laps that packs are held against."""

    def __init__(self, context: Context, found: Packs, drives: Sequence[DriveRow] = ()) -> None:
        """``drives`` that will be asked about share what their motors ask of any pack."""
        self._context = context
        self.found = found
        self.rest_g = least_rest_g(context)
        self._kinds = Kinds()
        self.floors = Floors(context, found, self.rest_g, drives, self.simulator, self._kinds)
        self._alike: defaultdict[tuple[object, ...], list[DriveRow]] = defaultdict(list)
        for row in drives:
            self._alike[self._kinds.of_drive(row)].append(row)
        self._kin: dict[tuple[object, ...], Kin] = {}
        self.steady = Steady(context, self)
        self._tables: dict[tuple[str, bool], PackTable] = {}
        # Classes by drive, target and window, longest unused first.
        self.made: dict[tuple[DriveEnergy, str, int], Classes] = {}
        joint = context.project.house_rules.joint_uohm
        series = np.array([row[1] for row in found.rows], dtype=np.int64)
        parallel = np.array([row[2] for row in found.rows], dtype=np.int64)
        self._series, self._parallel = series, parallel
        self.modules = list({row[0].id: row[0] for row in found.rows}.values())
        number = {module.id: index for index, module in enumerate(self.modules)}
        self._module = np.array([number[row[0].id] for row in found.rows], dtype=np.int64)
        # What bars and joints come to, as the bill counts them.
        uohm = -(-series * joint // np.maximum(parallel, 1))
        self._joints_ohm = uohm.astype(np.float64) * 1e-6
        self.targets = self._by_hardness()
        # How many packs each target turned away at close quarters: what fells most is asked first.
        self.felled = Counter[str]()

    def _by_hardness(self) -> list[RangeTarget]:
        """The range targets, first the one that leaves the packs the least energy over.

        Usable energy over the distance wanted, summed over all packs: only an order. Those last
        on which more mass may pay: all masses up to the heaviest are asked there.
        """
        every = list(self._context.project.targets.range)
        if not self.found.rows:
            return every

        def left(target: RangeTarget) -> tuple[bool, float]:
            whole = float(self.table(target.condition).energy_j.sum())
            may_pay = self.floors.heaviest_kg(target) is not None
            return may_pay, whole / wanted_m(self._context, target)

        return sorted(every, key=left)

    def of(
        self,
        row: DriveRow,
        candidates: npt.NDArray[np.int64],
        targets: Sequence[RangeTarget] | None = None,
    ) -> DriveEnergy:
        """This drive's screen; of ``targets`` only these, if given."""
        some = self.targets if targets is None else list(targets)
        return DriveEnergy(self, self._context, row, int(candidates[0]), some)

    def beside(self, row: DriveRow) -> Kin:
        """What this drive, one of those that were named, shares with all that drive alike.

        Asked for the lightest of them: what falls with that falls with every other.
        """
        kind = self._kinds.of_drive(row)
        known = self._kin.get(kind)
        if known is None:
            fits = matching(row, self.found, 1 + self._context.project.margins.voltage)
            may, energy = np.zeros(len(self.found.rows), dtype=np.bool_), None
            if len(fits):
                alike = self._alike[kind]
                energy = self.of(min(alike, key=lambda one: one.own_g), fits)
                may[energy.may_at_all(fits)] = True
            known = self._kin[kind] = Kin(fits, may, energy)
        return known

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
        base = row.own_g + self.rest_g
        return base + self.found.mass_g[packs]

    def set_a(self, row: DriveRow, packs: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
        """What this drive's controller is set to with each of these packs, in A."""
        return set_a(row, self.found.limit_a[packs]).astype(np.float64)

    def single_packs(self, condition: Condition) -> list[Pack]:
        """A pack of each single module that the packs are built of, see :attr:`modules`."""
        return [
            pack_in(self._context, module, 1, 1, condition, 0.0, math.inf)
            for module in self.modules
        ]

    def table(self, condition: str, new: bool = False) -> PackTable:
        """Every pack in this condition, worn or not as it says; ``new``: as bought."""
        key = (condition, new)
        known = self._tables.get(key)
        if known is None:
            record = self._context.condition(condition)
            if new:
                record = record.model_copy(update={"aged": False})
            known = pack_table(
                self.single_packs(record),
                self._module,
                self._series.astype(np.float64),
                self._parallel.astype(np.float64),
                self._joints_ohm,
            )
            self._tables[key] = known
        return known


@dataclass(frozen=True, eq=False)
class Kin:
    """Drives that nothing tells apart but masses, prices and names, see :class:`Kinds`.

    ``fits`` are the packs whose voltages suit them, cheapest first; of every pack ``may``
    whether it has strength and energy enough with the lightest of them, whose ``energy`` it is.
    """

    fits: npt.NDArray[np.int64]
    may: npt.NDArray[np.bool_]
    energy: DriveEnergy | None

    def of(self, row: DriveRow) -> DriveEnergy:
        """The screen of one of these drives; classes of packs are those of the lightest."""
        assert self.energy is not None
        return self.energy.beside(row)


def hour_limit(context: Context, row: DriveRow) -> tuple[str, float]:
    """What the motor may carry for an hour with its margin, A, and the check that says so."""
    margin = 1 + context.project.margins.continuous
    limit_a, check = row.controller.number("motor_a_hour"), "current.controller-hour"
    if row.motor.text("kind") == "series_dc" and row.motor.number("hour_a") <= limit_a:
        limit_a, check = row.motor.number("hour_a"), "current.motor-hour"
    return check, limit_a / margin


class DriveEnergy:
    """One drive against its packs, block by block."""

    def __init__(
        self,
        screen: EnergyScreen,
        context: Context,
        row: DriveRow,
        pack: int,
        targets: list[RangeTarget],
        lightest: DriveEnergy | None = None,
    ) -> None:
        """``lightest``: of drives that drive alike the one of which the classes are asked."""
        self._screen, self._context, self._row = screen, context, row
        self._lightest = lightest or self
        if lightest is None:
            self._simulator = screen.simulator(row, pack)
            self._asking = Asking(row, pack, self._simulator)
        else:
            self._simulator, self._asking = lightest._simulator, lightest._asking
        self._order = self._places = np.zeros(0, dtype=np.int64)
        self._answers = np.zeros(0, dtype=np.int8)  # by the pack, of those in the order
        # By the pack, for the look with what pack and drive tell and for that at every family.
        self._early: dict[int, bool] = {}
        self._close: dict[int, bool] = {}
        self._slow: dict[int, str] = {}  # packs that surely hold some climb or speed not
        self._ready: dict[int, Simulator] = {}
        self._targets = targets
        # Classes by mass hold for all heavier bills, so for these alone.
        floors = screen.floors
        self._closed = [one for one in targets if floors.heaviest_kg(one) is None]
        # The check that an hour at full load fails, and by how much which packs surely do.
        self.overload, self._hour_limit_a = hour_limit(context, row)
        self.overloads: dict[int, float] = {}

    def may_at_all(self, packs: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs with strength and energy enough by the motor alone, in their order."""
        screen, row = self._screen, self._row
        # Beside the lightest these are packs that may at all with that: it has been asked.
        asked = self._lightest is not self and self._lightest._row is row
        for target in () if asked else self._targets:
            if not len(packs):
                break
            may = screen.floors.may_reach(
                self._asking,
                target,
                screen.table(target.condition),
                packs,
                screen.added_g(row, packs),
                screen.set_a(row, packs),
            )
            packs = packs[may]
        self.arrange(packs)
        return packs

    def standing(
        self, packs: npt.NDArray[np.int64], of: int, seen: Screened
    ) -> npt.NDArray[np.int64]:
        """Those that may at all and may hold every climb and speed; the others are counted.

        ``of`` so many packs these are what others that drive alike left.
        """
        enough = self.may_at_all(packs)
        seen.count("range.energy", of - len(enough))
        return self.holding(enough, seen)

    def holding(self, packs: npt.NDArray[np.int64], seen: Screened) -> npt.NDArray[np.int64]:
        """Those of the packs that may hold every climb and speed; the others are counted."""
        screen = self._screen
        for target in screen.steady.targets:
            may = screen.steady.may_hold(
                target, self._row, self._simulator, packs, screen.added_g(self._row, packs)
            )
            seen.count(screen.steady.name(target), len(packs) - int(may.sum()))
            packs = packs[may]
        return packs

    def arrange(self, packs: npt.NDArray[np.int64]) -> None:
        """Ask about those that may at all in another order."""
        self._order = packs
        if self._lightest is self:
            self._places = np.full(len(self._screen.found.rows), -1, dtype=np.int64)
            self._places[packs] = np.arange(len(packs))
            self._answers = np.zeros(len(self._places), dtype=np.int8)

    def beside(self, row: DriveRow) -> DriveEnergy:
        """The screen of a drive that drives alike and is no lighter.

        It may be asked about packs that may at all with this one.
        """
        pack = self._asking.pack
        return DriveEnergy(self._screen, self._context, row, pack, self._targets, self)

    def keep(self, first: int, last: int) -> npt.NDArray[np.int64]:
        """Of the packs that may at all, from ``first`` to ``last``: those that may go far enough.

        Every range on which mass never pays is asked; ``last`` is not among them. Those that surely
        overload the drive are left out too, see :meth:`left_out_for`.
        """
        return self.keep_at(np.arange(first, min(last, len(self._order)), dtype=np.int64))

    def keep_at(self, asked: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The same for these places in the order, ascending.

        A pack is asked once for all that drive alike.
        """
        packs, lightest = self._order[asked], self._lightest
        lightest._answer(packs[lightest._answers[packs] == UNASKED])
        kept = lightest._answers[packs] == KEPT
        if lightest is not self:
            fell = packs[~kept].tolist()
            known = lightest.overloads
            self.overloads.update((pack, known[pack]) for pack in fell if pack in known)
        found: npt.NDArray[np.int64] = packs[kept]
        return found

    def _answer(self, packs: npt.NDArray[np.int64]) -> None:
        """Hold packs against the classes; from then on it is known which are kept."""
        self._answers[packs] = FELL
        by_window = self._places[packs]
        for begin in np.unique(by_window // WINDOW * WINDOW).tolist():
            here = (by_window >= begin) & (by_window < begin + WINDOW)
            some, places = packs[here], by_window[here] - begin
            for target in self._closed:
                if not len(places):
                    break
                classes = self._of_window(target, begin)
                may = classes.may_reach(places)
                some, places = some[may], places[may]
                over = classes.overloads[places]
                self._note(some.tolist(), over.tolist())
                some, places = some[over == 0.0], places[over == 0.0]
            self._answers[some] = KEPT

    def ask(self, places: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The same as :meth:`keep_at`, where classes tell more than the floor of the motor did.

        They do where many packs may overload the drive; a close look tells the rest.
        """
        if len(places) > FEW and any(
            self._screen.floors.may_overload(
                self._asking, target, self._screen.table(target.condition), self._hour_limit_a
            )
            for target in self._closed
        ):
            return self.keep_at(places)
        return self._order[places]

    def _note(self, packs: list[int], over: list[float]) -> None:
        self.overloads.update((pack, by) for pack, by in zip(packs, over, strict=True) if by)

    def left_out_for(self, pack: int) -> str:
        """What a pack is counted under that was not kept or may not reach."""
        known = self._slow.get(pack)
        if known is not None:
            return known
        return self.overload if pack in self.overloads else "range.energy"

    def may_reach(self, pack: int, couplers: Couplers, others: Iterable[Waiting]) -> bool:
        """The same at close quarters, every pack a class of its own, at least these couplers.

        Nor does it surely overload the drive. Looks at some of the ``others`` too, for they are
        cheaper together.
        """
        known = self._close.get(pack)
        if known is None:
            unseen = (other for other in others if other[0] not in self._close)
            some = [(pack, couplers), *islice(unseen, READY_AT_ONCE - 1)]
            reached = self._look_closely(some, early=False)
            self._close.update((other, other in reached) for other, _ in some)
            self._make_ready([one for one in some if one[0] in reached])
            known = self._close[pack]
        return known

    def may_reach_early(
        self, pack: int, told: Callable[[int], Couplers], others: Iterable[int]
    ) -> bool:
        """A look that asks less, at what pack and drive tell by themselves.

        A later one with greater couplers may follow.
        """
        known = self._early.get(pack)
        if known is None:
            unseen = (other for other in others if other not in self._early)
            some = [(one, told(one)) for one in (pack, *islice(unseen, AT_ONCE - 1))]
            reached = self._look_closely(some, early=True)
            self._early.update((other, other in reached) for other, _ in some)
            known = self._early[pack]
        return known

    def _make_ready(self, some: list[Waiting]) -> None:
        """Simulators of packs likely to be driven: their torque tables are found together."""
        house = self._context.project.house_rules
        donor_w = self._context.project.donor.load_12v_w / house.dcdc_efficiency
        asked: list[TableAsked] = []
        for pack, least in some:
            made = self._ready[pack] = self._screen.simulator(self._row, pack)
            asked += made.tables_asked(least)
            asked += made.climbs_asked(house.reference_circuit_ohm, donor_w)
        prepare_tables(asked)

    def simulator(self, pack: int) -> Simulator:
        """The core with this pack, handed out once."""
        made = self._ready.pop(pack, None)
        return self._screen.simulator(self._row, pack) if made is None else made

    def _look_closely(self, some: list[Waiting], early: bool) -> set[int]:
        """Those of the packs that may reach every target at their own least couplers."""
        efficiency = self._context.project.house_rules.dcdc_efficiency
        lightest = self._lightest
        place_of = {pack: int(lightest._places[pack]) for pack, _ in some}
        left = sorted(self._climbing(some), key=lambda one: place_of[one[0]])
        felled = self._screen.felled
        targets = sorted(self._targets, key=lambda one: -felled[one.name])
        for target in targets[:1] if early else targets:
            some = self._above_floor(target, left)
            felled[target.name] += len(left) - len(some)
            left = some
            if target not in self._closed:
                continue
            context = self._context
            load_g = context.base.mass_g + context.load(target.load_case).mass_g
            heater_w = context.condition(target.condition).heater_w
            still: list[Waiting] = []
            for begin, group in groupby(left, lambda one: place_of[one[0]] // WINDOW * WINDOW):
                here = list(group)
                couplers = [least for _, least in here]
                may, over = lightest._of_window(target, begin).may_reach_at(
                    np.array([place_of[pack] - begin for pack, _ in here], dtype=np.int64),
                    np.array([(load_g + one.added_g) / 1000 for one in couplers]),
                    np.array([one.external_uohm * 1e-6 for one in couplers]),
                    np.array([one.mean_12v_w / efficiency + heater_w for one in couplers]),
                    early,
                )
                self._note([pack for pack, _ in here], over.tolist())
                passed = (may & (over == 0.0)).tolist()
                still += [one for one, stays in zip(here, passed, strict=True) if stays]
            felled[target.name] += len(left) - len(still)
            left = still
        return {pack for pack, _ in left}

    def _climbing(self, some: list[Waiting]) -> list[Waiting]:
        """Those that may hold every climb and speed at their couplers."""
        steady = self._screen.steady
        for target in steady.targets:
            may = steady.may_hold(
                target,
                self._row,
                self._simulator,
                np.array([pack for pack, _ in some], dtype=np.int64),
                np.array([least.added_g for _, least in some], dtype=np.int64),
                np.array([least.external_uohm * 1e-6 for _, least in some]),
                np.array([least.mean_12v_w for _, least in some], dtype=np.int64),
            ).tolist()
            for (pack, _), holds in zip(some, may, strict=True):
                if not holds:
                    self._slow[pack] = steady.name(target)
            some = [one for one, holds in zip(some, may, strict=True) if holds]
        return some

    def _above_floor(self, target: RangeTarget, some: list[Waiting]) -> list[Waiting]:
        """Those with the strength and the energy at their couplers by the motor alone."""
        screen = self._screen
        packs = np.array([pack for pack, _ in some], dtype=np.int64)
        table = screen.table(target.condition)
        own = table.external_ohm.copy()
        own[packs] = [least.external_uohm * 1e-6 for _, least in some]
        may = screen.floors.may_reach(
            self._asking,
            target,
            replace(table, external_ohm=own),
            packs,
            np.array([least.added_g for _, least in some], dtype=np.int64),
            screen.set_a(self._row, packs),
            np.array([least.mean_12v_w for _, least in some], dtype=np.int64),
        )
        return [one for one, stays in zip(some, may.tolist(), strict=True) if stays]

    def _of_window(self, target: RangeTarget, begin: int) -> Classes:
        made, key = self._screen.made, (self, target.name, begin)
        known = made.pop(key, None)
        if known is None:
            known = self._classes(target, self._order[begin : begin + WINDOW])
            if len(made) >= MADE_MOST:
                del made[next(iter(made))]
        made[key] = known  # last used, last to go
        return known

    def _classes(self, target: RangeTarget, which: npt.NDArray[np.int64]) -> Classes:
        """Packs ready to be asked; made once for all searches that ask the same of them."""
        found, row, context = self._screen.found, self._row, self._context
        wanted, battery_a = wanted_m(context, target), self._screen.set_a(row, which)
        table, added_g = self._screen.table(target.condition), self._screen.added_g(row, which)
        mean_12v_w = round(context.project.donor.load_12v_w)
        key: tuple[object, ...] | None = None
        if context.laps is not None:
            key = (
                row.motor.id, row.controller.id, row.ratio, row.named_a, target.profile,
                target.speed_cap_m_s, target.condition, target.load_case, target.reserve, wanted,
                mean_12v_w, self._hour_limit_a, added_g.tobytes(), battery_a.tobytes(),
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
            (STRENGTHS, MASSES),
            self._hour_limit_a,
        )
        if key is not None and context.laps is not None:
            context.laps[key] = made
            if len(context.laps) > LAPS_MOST:
                del context.laps[next(iter(context.laps))]
        return made
