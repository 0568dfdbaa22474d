"""Whether there is any plan at all: a search that goes by no price and leaves off at the first.

The walk in order of price comes, where hardly anything is asked, to thousands of cores that just
fail, cheapest first. Here the strongest drives are asked first, with packs from the middle of those
that may do: of what is possible those have most to spare. A core that a simulation turns back is
solved to its end before the next. Where there is no plan every core must fall all the same: those
that fell in an earlier search, for a reason that still holds, are down at once
(:mod:`bomplan.planner.fallen`).
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.records import Core, Couplers
from bomplan.planner.core_search import (
    CoreResult,
    falls_short,
    first_failure,
    least_couplers,
)
from bomplan.planner.cuts import Point
from bomplan.planner.energy import AT_ONCE
from bomplan.planner.events import Listener, Stop
from bomplan.planner.fallen import (
    NEVER,
    Amount,
    Fallen,
    amounts,
    bury,
    core_key,
    drive_key,
    is_down,
    needs,
    of_limits,
)
from bomplan.planner.heavy import Heavy
from bomplan.planner.judge import Judge
from bomplan.planner.lacking import Lacking
from bomplan.planner.options import NoOption
from bomplan.planner.screen import DriveRow, core_of, first_failed, matching
from bomplan.planner.shared import driven_key, judged_key, modelled_key
from bomplan.planner.spread import open_here
from bomplan.planner.unpriced import prices_matter, unpriced
from bomplan.planner.walk import REFINED, Entry, Walk
from bomplan.planner.walked import Opened, Spread, Walked
from bomplan.project.records import RangeTarget
from bomplan.requirements.shown import floored
from bomplan.requirements.simulated import Simulated, mass_never_pays, wanted_m

IntArray = npt.NDArray[np.int64]
EASIER = 0.95
FIRST = 4  # packs of a drive that are fitted together before more of them are
DEEPER = 4  # so many drives are asked for a first pack before one is for its second


class Seek(Walk):
    """One search for any plan."""

    def __init__(
        self,
        context: Context,
        listener: Listener | None = None,
        stop: Stop | None = None,
        judge: Judge | None = None,
        fallen: Fallen | None = None,
        only: Core | None = None,
    ) -> None:
        super().__init__(context, listener, stop, frozenset(), judge)
        self._only = only
        self._fallen = fallen or Fallen()
        self._asked = amounts(context)
        self._driven = driven_key(context)
        # Cores that a simulation turned back, with the key of their model.
        self._again: dict[tuple[int, int], tuple[Opened | None, tuple[object, ...] | None]] = {}
        self._ground = self._fallen.ground(judged_key(context))
        self._models = self._fallen.ground(modelled_key(context))
        self._heavy = Heavy(context)
        # Looks whatever a bill costs; cores with all their rows, and those that need them.
        self._unpriced = (
            None if prices_matter(context) else open_here(context.without_budget(), self.judge)
        )
        self._whole: dict[tuple[int, int], Opened] = {}
        self._untold: set[tuple[int, int]] = set()
        # Of the range that turned the core away that is looked at: the metres that it goes.
        self._goes: dict[str, int] = {}

    def run(self, spread: Spread) -> Walked:
        """The first plan that is come to (then not complete), or the proof that there is none."""
        self._spread = spread
        walked = super().run(spread)
        if walked.best is not None or self._stop.requested:
            # Nothing is known of what others cost.
            return replace(walked, bound=None, complete=False)
        return walked

    def _start(self) -> list[Entry]:
        """The whole search, in an order of its own: nothing is left for the walk by price."""
        self._orders = {}
        if not len(self._packs.rows):
            return []
        self.seen.cores = len(self._packs.rows) * len(self._drives)
        self._numbers = self._fallen.numbers(self._packs)
        self._lacking = Lacking(self.context, self.judge, len(self._packs.rows))
        if self._only is not None:
            self._look_at_one(self._only)
            return []
        if self._stands_again():
            return []
        ready = [self._ready(number) for number in range(len(self._drives))]
        # Drives that worked in an earlier search come first, then the strongest.
        stood = {(motor, controller) for motor, controller, _ in self._fallen.stood}
        strongest = sorted(
            range(len(ready)),
            key=lambda one: (_pair(self._drives[one]) not in stood, -_strength(self._drives[one])),
        )
        # (place in the queue, drive, pack that is looked into again or -1)
        queue = [(place, number, -1) for place, number in enumerate(strongest)]
        while queue:
            if self._stop.requested:
                break
            place, number, pack = heapq.heappop(queue)
            if pack < 0:
                pack = next(ready[number], -1)
                if pack < 0:
                    continue
                heapq.heappush(queue, (place + DEEPER, number, -1))
            # What just failed stands back: there may be one that does not.
            if self._look(number, pack):
                heapq.heappush(queue, (place + DEEPER, number, pack))
            if self._best is not None:
                self._fallen.remember(self._key(number, pack), self._drive(number, pack).core)
                break
        return []

    def _stands_again(self) -> bool:
        """Whether one of the cores that stood in the last searches stands in this one too."""
        places = {drive_key(row): number for number, row in enumerate(self._drives)}
        wanted = {key[-4:] for key in self._fallen.cores}
        found = {
            (module.id, *others): pack
            for pack, (module, *others) in enumerate(self._packs.rows)
            if (module.id, *others) in wanted
        }
        for key in reversed(self._fallen.cores):
            number, pack = places.get(key[:-4]), found.get(key[-4:])
            if number is None or pack is None:
                continue
            seen = replace(self.seen, rejected=Counter(self.seen.rejected))
            if self._stands(number, pack):
                self._fallen.remember(key, self._drive(number, pack).core)
                return True
            # It falls once more, and is counted, when its turn comes.
            self.seen.rejected = seen.rejected
            if self._stop.requested or self._best is not None:
                break
        return False

    def _look_at_one(self, core: Core) -> None:
        """No core but this one."""
        pack = core.module, core.series, core.parallel, core.topology
        places = [at for at, (module, *others) in enumerate(self._packs.rows)
                  if (module.id, *others) == pack]  # fmt: skip
        drive = core.motor, core.controller, core.final_ratio
        for number, row in enumerate(self._drives):
            if (*_pair(row), row.ratio) != drive:
                continue
            for at in places:
                if core_of(row, self._packs, at) == core and self._stands(number, at):
                    self._fallen.remember(self._key(number, at), core)
                    return

    def _stands(self, number: int, pack: int) -> bool:
        """Look into one core at once, out of all order."""
        row, order = self._drives[number], np.array([pack], dtype=np.int64)
        fits = matching(row, self._packs, 1 + self.context.project.margins.voltage)
        order = self._affordable(number, order[np.isin(order, fits)])
        if not len(order) or not self._judge_drive(number, pack):
            return False
        energy = self._energy.of(row, order)
        energy.arrange(order)
        self._orders[number] = order, energy
        if not self._suits(number, pack):
            return False
        while self._look(number, pack):
            if self._stop.requested:
                break
        return self._best is not None

    def _ready(self, number: int) -> Iterator[int]:
        """The packs of a drive that have to be opened, the most promising first."""
        row = self._drives[number]
        order = matching(row, self._packs, 1 + self.context.project.margins.voltage)
        self.seen.count("voltage.window", len(self._packs.rows) - len(order))
        order = self._having_rows(number, self._affordable(number, order))
        if not len(order) or not self._judge_drive(number, int(order[0])):
            return
        some, over = order, dict[int, float]()
        for target in self._energy.targets:
            some = self._reaching(row, target, some, over)
        energy = self._energy.of(row, order)
        some = energy.holding(some, self.seen)
        some = some[_middle_first(self._packs.energy_wh[some])]
        known = [(*_pair(row), self._packs.rows[pack][0].id) in self._fallen.stood for pack in some]
        some = some[np.argsort(~np.array(known, dtype=bool), kind="stable")]
        energy.overloads.update(over)
        energy.arrange(some)
        self._orders[number] = some, energy
        # A few at first: where much is possible one of them will do.
        begin, after = 0, FIRST
        while begin < len(some):
            here = [pack for pack in some[begin:after].tolist() if self._suits(number, pack)]
            begin, after = after, after + AT_ONCE
            waiting = [(pack, self._options[number, pack][1]) for pack in here]
            for pack, least in waiting:
                if energy.may_reach(pack, least, waiting):
                    yield pack
                    continue
                name = energy.left_out_for(pack)
                self.seen.count(name)
                key = self._key(number, pack)
                bury(self._ground, key, name, self._hangs_on(name))
                del self._options[number, pack]

    def _having_rows(self, number: int, order: IntArray) -> IntArray:
        """The packs for which no family is known to lack a row whatever drives them."""
        kept, missing = self._lacking.having(order, lambda pack: self._drive(number, pack))
        for one, count in missing.items():
            super()._count_missing(one)
            self.seen.count(one.name, count - 1)
        return kept

    def _count_missing(self, missing: NoOption) -> None:
        super()._count_missing(missing)
        self._lacking.suspect(missing.family)

    def _reaching(
        self, row: DriveRow, target: RangeTarget, order: IntArray, over: dict[int, float]
    ) -> IntArray:
        """The packs that may go one distance asked; ``over`` gathers those that overload."""
        if not len(order):
            return order
        wanted = wanted_m(self.context, target)
        # Most fall to somewhat less already, and then for all amounts near by.
        easier = target.model_copy(update={"distance_m": int(target.distance_m * EASIER)})
        gross = self.context.limits.gross_g
        up_to = [gross for one in (easier, target) if not mass_never_pays(self.context, one)][:1]
        more = self._energy.rest_g, *up_to
        known = self._fallen.reach(self._driven, row, target, more)
        numbers = self._numbers[order]
        unknown = order[(known.falls[numbers] > wanted) & (known.passes[numbers] < wanted)]
        # Asked once more at other metres it may be asked again: somewhat less first.
        again = bool((known.falls[numbers] < NEVER).any())
        for one in (easier, target) if again else (target,):
            if not len(unknown):
                break
            energy = self._energy.of(row, unknown, [one])
            may = energy.may_at_all(unknown)
            kept = energy.keep(0, len(may))
            metres = wanted_m(self.context, one)
            known.falls[self._numbers[np.setdiff1d(unknown, kept)]] = metres
            known.passes[self._numbers[kept]] = metres
            for pack, by in energy.overloads.items():
                known.worn[int(self._numbers[pack])] = energy.overload
                known.falls[self._numbers[pack]] = 0
                over[pack] = by
            unknown = kept
        fell = known.falls[numbers] <= wanted
        names = Counter(known.worn.get(one, "range.energy") for one in numbers[fell].tolist())
        for name, number in names.items():
            self.seen.count(name, number)
        return order[~fell]

    def _suits(self, number: int, pack: int) -> bool:
        """Whether the rows of every family, the bays and the closed forms leave a core standing."""
        name = is_down(self._ground, self._key(number, pack), self._asked)
        if name is not None:
            self.seen.count(name)
            return False
        missing = self._lacking.of(pack, lambda pack: self._drive(number, pack))
        if missing is not None:
            super()._count_missing(missing)
            return False
        if self._priced(number, pack) is None or self._too_heavy(number, pack):
            return False
        if self._sized(number, pack) is None:
            return False
        failed = first_failed(self.context, self._drive(number, pack), self.seen)
        if failed is None:
            return True
        self.seen.count(failed.id)
        del self._options[number, pack]
        return False

    def _too_heavy(self, number: int, pack: int) -> bool:
        """Whether pack and drive alone break an axle or a plate; counted and remembered if so."""
        drive, sides = self._drive(number, pack), self._sides_of(number, pack)
        capacity = self._capacity(drive, 0)
        assert sides is not None
        assert not isinstance(capacity, str)
        if self._heavy.may_stand(pack, drive, capacity, sides[0].group):
            return False
        name = "mass, axle, budget or bay limits"
        self.seen.count(name)
        bury(self._ground, self._key(number, pack), name, of_limits(self._asked))
        return True

    def _look(self, number: int, pack: int) -> bool:
        """Look into a core once; whether it has to be looked into again."""
        before, unproven = Counter(self.seen.rejected), len(self._unproven)
        self._goes.clear()
        key, limits = self._key(number, pack), of_limits(self._asked)
        opened, model = self._again.pop((number, pack), (None, None))
        first = opened is None
        if opened is not None and (number, pack) in self._whole:
            opened = self._with_all_rows(number, pack, opened)
        if opened is None:
            opened = self._refine(number, pack, 0)
            if opened is not None:
                opened = self._with_fewer_rows(number, pack, opened)
                model = self._model_key(opened)
                name = is_down(self._models, model, self._asked)
                if name is not None:
                    self.seen.count(name)
                    opened = None
        if opened is not None:
            again = list(
                self._open([(0, REFINED, number, pack, opened)], self._spread_of(number, pack))
            )
            if again:
                name = None
                if len(self._unproven) == unproven:
                    name = self._spent(again[0][-1])
                if name is None:
                    self._again[number, pack] = again[0][-1], model
                    return True
                self.seen.count(name)
                bury(self._ground, key, name, {**limits, **self._hangs_on(name)} if first
                     else self._asked)  # fmt: skip
                return False
        if self._best is not None or len(self._unproven) != unproven:
            return False
        for name in self.seen.rejected - before:
            if first and model is not None and name.startswith("mass"):
                # No simulation had a say in it.
                bury(self._models, model, name, limits)
                bury(self._ground, key, name, limits)
                continue
            if opened is not None:
                least = least_couplers(self.context, opened.drive, opened.options)
                self._note_range(name, opened.simulator, least)
            bury(self._ground, key, name, self._hangs_on(name))
        return False

    def _with_fewer_rows(self, number: int, pack: int, opened: Opened) -> Opened:
        """The core with those of its rows alone that matter where no price does; its bounds too."""
        if self._unpriced is not None:
            self._whole[number, pack] = opened
            few = unpriced(self.context, self.judge, opened.drive, opened.currents, opened.options)
            opened = replace(opened, options=few)
        return self._weighed.dearer(opened, False) or opened

    def _with_all_rows(self, number: int, pack: int, opened: Opened) -> Opened:
        """The core as it stands; with all its rows from when the few did not tell."""
        if (number, pack) not in self._untold:
            return opened
        whole = replace(self._whole.pop((number, pack)), key=opened.key, cuts=opened.cuts)
        return self._weighed.dearer(whole, False) or whole

    def _spread_of(self, number: int, pack: int) -> Spread:
        """How a core is looked into: first whatever its bill costs, where prices do not matter.

        All its rows are looked at where a bill is found that the budget does not bear, or one
        that fails a requirement without a direction. All that was learnt before holds for them
        too: without a budget and such requirements there are no fewer bills.
        """
        core = number, pack
        if self._unpriced is None or core in self._untold:
            return self._spread
        ask, budget = self._unpriced, self._budget

        def spread(cores: list[Opened], incumbent: int | None) -> list[CoreResult]:
            (opened,), (found,) = cores, ask(cores, incumbent)
            price = 0 if found.solution is None else found.solution.price
            too_dear = budget is not None and price > budget
            if not too_dear and not any(isinstance(cut, Point) for cut in found.cuts):
                return [found]
            self._untold.add(core)
            return [
                replace(
                    found, proven=True, solution=None, bill=None, bound=opened.key,
                    floor=opened.floor, tried=opened.tried,
                )
            ]  # fmt: skip

        return spread

    def _spent(self, opened: Opened | None) -> str | None:
        """The requirement that no bill of the core meets, since its lightest is too heavy.

        Its key is the mass that no bill of it undercuts; with the least resistance and load that
        is the best that may be.
        """
        if opened is None or self.context.project.goal.aim != "least-mass":
            return None
        least = least_couplers(self.context, opened.drive, opened.options)
        best = least.model_copy(update={"added_g": opened.key})
        failed = first_failure(opened.simulator, best)
        if failed is None or not failed.fails_beyond(opened.simulator, best):
            return None
        self._note_range(failed.id, opened.simulator, best)
        return failed.id

    def _falls_short(self, simulator: Simulator, least: Couplers, quick: bool) -> bool:
        short, runs = falls_short(simulator, least, self._short, quick)
        self._simulated += runs
        if short is not None:
            self.seen.count(short)
            self._note_range(short, simulator, least)
        return short is not None

    def _note_range(self, name: str, simulator: Simulator, least: Couplers) -> None:
        """How far a core goes that falls short even at ``least``: whatever is asked beyond, it
        falls again."""
        for target in self.context.project.targets.range:
            if name != f"range.{target.name}":
                continue
            if simulator.profile(target).mass_never_pays_from(0.0) and Simulated(
                target
            ).fails_beyond(simulator, least):
                answer = simulator.range(target, least)
                self._goes[name] = floored(answer.distance_m) if answer.followed else 0

    def _model_key(self, opened: Opened) -> tuple[object, ...]:
        """All that the model of a core is made of, the project's own part of it aside."""
        rows = tuple(
            (family, *[(row.part.id, row.base, row.tables, row.most_tables) for row in some])
            for family, some in opened.options.rows.items()
        )
        return (opened.core, opened.currents, opened.options.capacity, rows)

    def _hangs_on(self, name: str) -> dict[Amount, int]:
        """The amounts that a fall under this name hung on."""
        asked = self._asked
        if name in self._goes:
            what = "range", name.removeprefix("range.")
            asked = {**asked, what: min(asked[what], self._goes[name] + 1)}
        hung_on = dict(needs(name, asked))
        targets = self.context.project.targets.range
        if name == "range.energy" and not all(
            mass_never_pays(self.context, one) for one in targets
        ):
            hung_on["gross", ""] = asked["gross", ""]  # more mass may pay, up to the heaviest car
        return hung_on

    def _key(self, number: int, pack: int) -> tuple[object, ...]:
        return core_key(self._drives[number], self._packs.rows[pack])


class Remaining(Walk):
    """The walk by price, without the cores that fell in earlier searches."""

    def __init__(
        self,
        context: Context,
        fallen: Fallen,
        listener: Listener | None = None,
        stop: Stop | None = None,
        barred: frozenset[tuple[str, str]] = frozenset(),
        judge: Judge | None = None,
    ) -> None:
        super().__init__(context, listener, stop, barred, judge)
        self._fallen = fallen
        self._asked = amounts(context)
        self._driven = driven_key(context)
        self._ground = fallen.ground(judged_key(context))
        self._numbers: IntArray | None = None

    def _allowed(self, number: int, order: IntArray) -> IntArray:
        order, row, packs = super()._allowed(number, order), self._drives[number], self._packs
        if self._numbers is None:
            self._numbers = self._fallen.numbers(packs)
        for target in self.context.project.targets.range:
            known = self._fallen.reach(self._driven, row, target, (self._energy.rest_g,))
            order = order[known.falls[self._numbers[order]] > wanted_m(self.context, target)]
        cores = [core_key(row, packs.rows[pack]) for pack in order.tolist()]
        stand = [is_down(self._ground, core, self._asked) is None for core in cores]
        left: IntArray = order[np.array(stand, dtype=bool)]
        return left


def _pair(row: DriveRow) -> tuple[str, str]:
    return row.motor.id, row.controller.id


def _strength(row: DriveRow) -> float:
    """What the motor bears for an hour, for an order alone."""
    motor = row.motor
    return motor.number_or("hour_kw", motor.number_or("continuous_kw", 0.0))


def _middle_first(figures: npt.NDArray[np.float64]) -> IntArray:
    """Places from the middle of the order of size outwards."""
    order = np.argsort(figures, kind="stable")
    away = np.abs(np.arange(len(order)) - len(order) // 2)
    return np.asarray(order[np.argsort(away, kind="stable")], dtype=np.int64)


__all__ = ["Remaining", "Seek"]
