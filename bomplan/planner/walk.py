"""Cores in order of a lower bound on their whole bill, until the bound passes the best plan.

A lazy heap holds for every drive its next block of packs in the order of their keys, for packs
that may go the distance this key (drive and pack alone), and for cores whose other families are
known a refined one (the bound over supplier subsets). Cores are opened in key order, in chunks
sized by the work done so far: the number of workers changes nothing.
"""

from __future__ import annotations

import heapq
from bisect import insort
from collections import Counter, defaultdict
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator
from bomplan.design.bill import DesignCurrents
from bomplan.design.bill.rule import Side as SideName
from bomplan.design.bill.shared_places import shared_places
from bomplan.design.context import Context
from bomplan.design.currents import NO_CLIMBS, held_climbs, no_mean_current, worst_currents
from bomplan.design.drive import Drive, pack_figures
from bomplan.design.records import Core, Couplers
from bomplan.physics import RangeAnswer
from bomplan.planner.bill_bound import BEYOND, BillBound, Rows
from bomplan.planner.bounds import Leasts, Subsets, least_rest
from bomplan.planner.core_search import CoreResult, falls_short, least_couplers
from bomplan.planner.energy import DriveEnergy, EnergyScreen
from bomplan.planner.events import Event, Listener, Stop
from bomplan.planner.goals import arranged, goal_of
from bomplan.planner.judge import Judge
from bomplan.planner.options import CORE, UNREAD, NoOption, Options, counted, find_options
from bomplan.planner.overloads import nearest_overloads
from bomplan.planner.pack_keys import PackKeys
from bomplan.planner.pack_queue import PackQueue
from bomplan.planner.room import Wanting, room_for
from bomplan.planner.screen import Screened, core_of, first_failed, unbarred
from bomplan.planner.shares import Shares
from bomplan.planner.sides import LATE_JOINTS, Held, Side, Sides
from bomplan.planner.single import drives_and_packs
from bomplan.planner.walked import Best, Opened, Spread, Walked
from bomplan.planner.weighed_bound import WeighedBound
from bomplan.requirements.sustained import sustained_checks

CHUNK = 4
SIDES: tuple[SideName, ...] = ("pack", "drive", "currents")
UNSEEN, BLOCKS, COARSE, PRICED, SIZED, REFINED = range(6)
# (key, stage, drive, pack or place in the drive's order, the core once it is refined)
Entry = tuple[int, int, int, int, "Opened | None"]


class Walk:
    """One search over all cores of a context."""

    def __init__(
        self,
        context: Context,
        listener: Listener | None = None,
        stop: Stop | None = None,
        barred: frozenset[tuple[str, str]] = frozenset(),
        judge: Judge | None = None,
    ) -> None:
        self.context = context
        self.seen = Screened()
        self._listener = listener
        self._stop = stop or Stop()
        self._only: Core | None = None  # the one core that is looked at, if it is one
        self._barred = barred
        self._solved = self._simulated = self._cut = 0
        self._best: Best | None = None
        self._unproven: list[int] = []
        self._short: Counter[str] = Counter()  # cores that a target turned away
        self._worn: Counter[str] = Counter()  # and that wore out on a target's drive
        self._rows = self.judge = judge or Judge(context)
        self._leasts = Leasts()
        self.goal = goal_of(context)
        subsets = Subsets(context)
        self._bill = self.goal.measure(subsets, self._rows)
        self._weighed = WeighedBound(context, self._bill, self._rows, self.goal)
        # What a budget is held against: the same bounds where the goal goes by money anyway.
        self._budget = context.project.targets.budget
        self._spending = (
            self._bill if self.goal.by_price else BillBound(context, subsets, self._rows)
        )
        self._lift: dict[tuple[int, int], int] = {}  # by core, beside its bill
        self._run: set[tuple[int, int]] = set()
        self._options: dict[tuple[int, int], tuple[Options, Couplers]] = {}
        self._sides = Sides(context, self._rows, self.goal, self._bill, self._leasts)
        self._pack_sides: dict[int, Side | str] = {}
        self._drive_sides: dict[int, Side] = {}
        # Packs under a controller that is set to so many ampere.
        self._holds: dict[tuple[str, int | None, int], Held | NoOption] = {}
        # Cores of each drive, priced and sized ones, that wait for a close look; their bounds.
        self._early: defaultdict[int, list[tuple[int, int]]] = defaultdict(list)
        self._waiting: defaultdict[int, list[tuple[int, int]]] = defaultdict(list)
        self._opened: list[tuple[Opened, CoreResult]] = []

    def run(self, spread: Spread) -> Walked:
        """Walk until the least key exceeds the best price; ``spread`` opens a chunk of cores."""
        self._drives, found = drives_and_packs(self.context, self.seen, self._only)
        self._packs, self._pack_keys = arranged(found, self.goal.of_packs(found))
        self._drive_keys = [self.goal.of_drive(row) for row in self._drives]
        self._energy = EnergyScreen(self.context, self._packs, self._drives)
        self._keys = PackKeys(self.context, self._rows, self.goal, self._bill, self._packs)
        self._queues: dict[int, PackQueue] = {}
        # What every core pays beside its own parts: the families of each side, by their least.
        self._rest = {side: self.goal.rest(side) for side in SIDES}
        self._rest_price = sum(least_rest(self.context, side) for side in SIDES)
        self._shares = Shares(self._keys, self._pack_keys, self._rest)
        heap = self._heap = self._start()
        self._say("screened", "")
        chunk: list[Entry] = []
        while heap or chunk:
            if self._stop.requested:
                keys = [entry[0] for entry in (*heap[:1], *chunk[:1])]
                return self._walked(min(keys), False)
            done = not heap or (self._best is not None and heap[0][0] > self._best.figure)
            # A chunk is full (few at first: one found spares others), or no cheaper key joins it.
            full = len(chunk) == min(CHUNK, 1 + self._solved // (2 * CHUNK))
            if chunk and (done or full or self._beyond(heap[0][0], chunk)):
                for again in self._open(chunk, spread):
                    heapq.heappush(heap, again)
                chunk = []
                continue
            if done:
                break
            entry = heapq.heappop(heap)
            if entry[-1] is None:
                for new in self._expand(entry):
                    heapq.heappush(heap, new)
            elif dearer := self._weighed.dearer(entry[-1], self._best is not None):
                heapq.heappush(heap, (dearer.key, *entry[1:4], dearer))
            else:
                chunk.append(entry)
        return self._walked(None, True)

    # -- the heap ----------------------------------------------------------------------

    def _start(self) -> list[Entry]:
        """Every drive at the price of the cheapest pack of all; nothing else is looked at."""
        self._orders: dict[int, tuple[npt.NDArray[np.int64], DriveEnergy]] = {}
        if not len(self._packs.rows):
            return []
        self.seen.cores = len(self._packs.rows) * len(self._drives)
        some = range(len(self._drives))
        return sorted((self._coarse(one, 0), UNSEEN, one, 0, None) for one in some)

    def _coarse(self, number: int, pack: int) -> int:
        """A bound by the goal from the core's own parts and what every core needs."""
        own = self._drive_keys[number] + int(self._pack_keys[pack])
        return own + sum(self._rest.values())

    def _beyond(self, key: int, chunk: list[Entry]) -> bool:
        """Whether waiting for the next key cannot pay: it lies above the chunk by a tenth."""
        return key > chunk[0][0] + chunk[0][0] // 10

    def _expand(self, entry: Entry) -> Iterator[Entry]:
        """What becomes of an entry: the next that may work, each under its own bound."""
        _, stage, number, at, _ = entry
        if stage == UNSEEN:
            kin = self._energy.beside(self._drives[number])
            if not at and (first := self._shares.least(kin)) is not None:
                lifted = self._drive_keys[number] + first
                if lifted > entry[0]:
                    yield (lifted, UNSEEN, number, 1, None)
                    return
            self.seen.count("voltage.window", len(self._packs.rows) - len(kin.fits))
            order = self._affordable(number, self._allowed(number, kin.fits))
            if len(order) and self._judge_drive(number, int(order[0])):
                energy = kin.of(self._drives[number])
                enough = energy.standing(order[kin.may[order]], len(order), self.seen)
                if not len(enough):
                    return
                queue = self._queue(number, enough)
                energy.arrange(queue.order)
                self._orders[number] = queue.order, energy
                first = queue.next_key(self.seen)
                if first is not None:
                    yield (first, BLOCKS, number, 0, None)
        elif stage == BLOCKS:
            queue, energy = self._queues[number], self._orders[number][1]
            best = None if self._best is None else self._best.figure
            block = sorted([(place, key) for key, place in queue.take(self.seen, best)])
            places = np.array([place for place, _ in block], dtype=np.int64)
            kept = set(energy.ask(places).tolist())
            for place, key in block:
                pack = int(queue.order[place])
                if queue.lifts is not None:
                    self._lift[number, pack] = int(queue.lifts[place])
                if pack not in kept:
                    self.seen.count(energy.left_out_for(pack))
                elif pack in self._pack_sides:  # judged beside another drive
                    yield from self._told_price(number, pack)
                else:
                    yield (key, COARSE, number, pack, None)
            after = queue.next_key(self.seen)
            if after is not None:
                yield (after, BLOCKS, number, at + len(block), None)
        elif stage == COARSE:
            yield from self._told_price(number, at)
        elif stage == PRICED:
            early, energy = self._early[number], self._orders[number][1]
            early.remove((entry[0], at))
            waits = (pack for _, pack in early)
            if not energy.may_reach_early(at, lambda pack: self._told(number, pack), waits):
                self.seen.count(energy.left_out_for(at))
                return
            price = self._sized(number, at)
            if price is not None:
                key = max(price + self._lift.get((number, at), 0), entry[0])
                insort(self._waiting[number], (key, at))
                yield (key, SIZED, number, at, None)
        else:
            waiting = self._waiting[number]
            waiting.remove((entry[0], at))
            failed = first_failed(self.context, self._drive(number, at), self.seen)
            if failed is not None:
                self.seen.count(failed.id)
                del self._options[number, at]
                return
            if self.goal.runs and (number, at) not in self._run:
                self._run.add((number, at))
                running = self._running(number, at)
                if running is None:
                    return
                lifted = entry[0] + running - self._lift.get((number, at), 0)
                if lifted > entry[0]:
                    insort(waiting, (lifted, at))
                    yield (lifted, SIZED, number, at, None)
                    return
            others = ((pack, self._options[number, pack][1]) for _, pack in waiting)
            least = self._options[number, at][1]
            energy = self._orders[number][1]
            if not energy.may_reach(at, least, others):
                self.seen.count(energy.left_out_for(at))
                del self._options[number, at]
                return
            opened = self._refine(number, at, entry[0])
            if opened is not None and (self._best is None or opened.key <= self._best.figure):
                yield (opened.key, REFINED, number, at, opened)

    def _told_price(self, number: int, pack: int) -> Iterator[Entry]:
        """The core under what pack and drive tell by themselves, if they leave it possible."""
        price = self._priced(number, pack)
        if price is not None:
            key = price + self._lift.get((number, pack), 0)
            insort(self._early[number], (key, pack))
            yield (key, PRICED, number, pack, None)

    def _queue(self, number: int, order: npt.NDArray[np.int64]) -> PackQueue:
        """A drive's packs in the order of their keys."""
        own = self._drive_keys[number] + self._pack_keys[order]
        lifts = self.goal.lifts(self._energy, self._drives[number], order)
        if lifts is not None:
            places = np.argsort(own + lifts, kind="stable")
            order, own, lifts = order[places], own[places] + lifts[places], lifts[places]
        coarse, beside = own + sum(self._rest.values()), own - self._drive_keys[number]
        drive = self._drive_sides[number].by_suppliers
        queue = PackQueue(order, coarse, beside, lifts, self._keys, drive)
        return self._queues.setdefault(number, queue)

    def _running(self, number: int, pack: int) -> int | None:
        """What this core comes to beside its bill; None, counted, if it is none for the goal."""
        found = self.goal.running(self._drive(number, pack), self._options[number, pack][0])
        if found is None:
            self.seen.count("goal.everyday")
            del self._options[number, pack]
        return found

    def _allowed(self, number: int, order: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs of an order whose modules are not barred beside this drive's motor."""
        return unbarred(self._barred, self._drives[number], self._packs, order)

    def _affordable(self, number: int, order: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """The packs of an order with which the budget is not spent already."""
        if self._budget is None:
            return order
        left = self._budget - self._drives[number].price - self._rest_price
        kept = order[self._packs.price[order] <= left]
        self.seen.count("money.budget", len(order) - len(kept))
        return kept

    def _priced(self, number: int, pack: int) -> int | None:
        """The bound with the families that pack and drive settle by themselves."""
        sides = self._sides_of(number, pack)
        if sides is None:
            return None
        if not self._bill.mass.may_weigh(sides[0].least[0] + sides[1].least[0]):
            self.seen.count("mass.gross")
            return None
        least = self._sides.least(*sides)
        if least >= BEYOND:
            rows = sides[0].group.rows
            self._count_undelivered(self._drive(number, pack), UNREAD, rows)
            return None
        if self._spending is self._bill and self._too_dear(least):
            return None
        return least

    def _sides_of(self, number: int, pack: int) -> tuple[Side, Side] | None:
        """What pack and drive settle, a pack judged once; None if a family has no row."""
        of_pack = self._pack_sides.get(pack)
        if of_pack is None:
            of_pack = self._pack_sides[pack] = self._judge_pack(number, pack)
        if isinstance(of_pack, str):
            self.seen.count(of_pack)
            return None
        return of_pack, self._drive_sides[number]

    def _told(self, number: int, pack: int) -> Couplers:
        return self._sides.told(self._drive(number, pack), self._sides_of(number, pack))

    def _judge_drive(self, number: int, pack: int) -> bool:
        """Whether every family that reads the drive alone has a row; any pack will do."""
        found = self._sides.of_drive(self._drive(number, pack))
        if isinstance(found, NoOption):
            self._count_missing(found)
            return False
        self._drive_sides[number] = found
        # From now on its keys count what the drive settles in place of what every core needs.
        own = int(found.by_suppliers.min()) - self._rest["drive"]
        self._drive_keys[number] = max(self._drive_keys[number], own)
        return True

    def _judge_pack(self, number: int, pack: int) -> Side | str:
        drive = self._drive(number, pack)
        capacity = self._capacity(drive, self._coarse(number, pack))
        if isinstance(capacity, str):
            return capacity
        found = self._sides.of_pack(drive, capacity)
        if isinstance(found, NoOption):
            self.seen.keep(found.nearest, found.name)
            return found.name
        return found

    def _drive(self, number: int, pack: int) -> Drive:
        row = self._drives[number]
        module, series, parallel, _ = self._packs.rows[pack]
        return Drive(
            core_of(row, self._packs, pack),
            row.motor,
            row.controller,
            row.pair,
            module,
            pack_figures(module, series, parallel),
        )

    def _sized(self, number: int, pack: int) -> int | None:
        """The bound with every family, conductors as if the mean current were nothing."""
        drive = self._drive(number, pack)
        sides = self._sides_of(number, pack)
        assert sides is not None
        capacity = self._capacity(drive, 0)
        assert not isinstance(capacity, str)
        held = self._held(drive, pack, capacity, sides[0])
        whole = (
            held if isinstance(held, NoOption) else self._sides.whole(drive, capacity, sides, held)
        )
        if isinstance(whole, NoOption):
            self._count_missing(whole)
            return None
        options, by_set = whole
        currents = no_mean_current(self.context, drive)
        price = self._bounded(drive, currents, options, by_set, LATE_JOINTS)
        if price is None:
            return None
        least = least_couplers(self.context, drive, options, self._leasts)
        self._options[number, pack] = options, least
        return price

    def _held(
        self, drive: Drive, pack: int, capacity: tuple[int, ...], of_pack: Side
    ) -> Held | NoOption:
        key = (drive.controller.id, drive.core.battery_a, pack)
        known = self._holds.get(key)
        if known is None:
            known = self._holds[key] = self._sides.held(drive, capacity, of_pack)
        return known

    def _refine(self, number: int, pack: int, key: int) -> Opened | None:
        context = self.context
        sized, least = self._options.pop((number, pack))
        simulator = self._orders[number][1].simulator(pack)
        drive = simulator.drive
        if self._falls_short(simulator, least, quick=True):
            return None
        currents = self._sustained(drive, simulator)
        if currents is None:
            return None
        if self._falls_short(simulator, least, quick=False):
            return None
        # The rows that follow from pack or drive alone stay; the others at the true currents.
        known = {
            family: rows
            for family, rows in sized.rows.items()
            if rows[0].rule.side != "currents" or family in CORE
        }
        found = find_options(context, drive, currents, sized.capacity, known, self._rows)
        if isinstance(found, NoOption):
            self._count_missing(found)
            return None
        options = counted(context, drive, found)  # few come here, and its bounds are closer
        sets = self._bill.bay_sets(drive, options.capacity)
        by_set = self._bill.by_set(drive, currents, options.rows, sets)
        price = self._bounded(drive, currents, options, by_set)
        if price is None:
            return None
        price += self.goal.running(drive, options) or 0
        return Opened(drive.core, drive, currents, options, simulator, max(price, key))

    def _sustained(self, drive: Drive, simulator: Simulator) -> DesignCurrents | None:
        """The design currents; None, counted, if a rating does not bear them.

        Drives are simulated one by one, first those that wore out most cores so far: what one
        of them overloads no other makes good.
        """
        context, worn = self.context, self._worn
        answers: dict[str, RangeAnswer] = {}
        for target in sorted(context.project.targets.range, key=lambda one: -worn[one.name]):
            answers[target.name] = simulator.at_reference_mass(target)
            self._simulated += 1
            if self._overloads(drive, worst_currents(context, drive, answers, NO_CLIMBS)):
                worn[target.name] += 1
                return None
        currents = worst_currents(context, drive, answers, held_climbs(context, simulator))
        return None if self._overloads(drive, currents) else currents

    def _overloads(self, drive: Drive, currents: DesignCurrents) -> bool:
        for check in sustained_checks(self.context, drive, currents):
            if not check.passed:
                self.seen.keep(check)
                self.seen.count(check.id)
                return True
        return False

    def _falls_short(self, simulator: Simulator, least: Couplers, quick: bool) -> bool:
        short, runs = falls_short(simulator, least, self._short, quick)
        self._simulated += runs
        if short is not None:
            self.seen.count(short)
        return short is not None

    def _count_missing(self, missing: NoOption) -> None:
        """A family has no row that suits."""
        self.seen.keep(missing.nearest, missing.name)
        self.seen.count(missing.name)

    def _count_undelivered(
        self,
        drive: Drive,
        currents: DesignCurrents,
        rows: Rows,
        without: frozenset[tuple[str, str]] = LATE_JOINTS,
    ) -> None:
        """Why these rows make no bill: two families that clash, or nobody who sells them all."""
        clash = self._rows.none_beside(drive, currents, rows, without)
        if clash is not None:
            self.seen.keep(clash[1], clash[0])
        self.seen.count("supplier" if clash is None else clash[0])

    def _bounded(
        self,
        drive: Drive,
        currents: DesignCurrents,
        options: Options,
        by_set: npt.NDArray[np.int64],
        without: frozenset[tuple[str, str]] = frozenset(),
    ) -> int | None:
        """The least that a core with these rows costs; ``by_set``: what their lines come to.

        None, with the reason counted, if no choice of suppliers delivers every family, or no
        set of bays keeps the mass limits.
        """
        if not self._bill.mass.may_weigh(self._leasts.of(options)[0]):
            self.seen.count("mass.gross")
            return None
        price, too_heavy = self._bill.least(drive, options, by_set)
        if price is None:
            if too_heavy:
                self.seen.count("mass, axle, budget or bay limits")
            else:
                self._count_undelivered(drive, currents, options.rows, without)
            return None
        if self._budget is not None:
            spent: int | None = price
            if self._spending is not self._bill:
                sets = self._bill.bay_sets(drive, options.capacity)
                by_set = self._spending.by_set(drive, currents, options.rows, sets, without)
                spent, _ = self._spending.least(drive, options, by_set)
            if spent is None or self._too_dear(spent):
                return None
        return price

    def _too_dear(self, price: int) -> bool:
        """Whether a bill of at least this price is beyond the budget; counted if so."""
        if self._budget is None or price <= self._budget:
            return False
        self.seen.count("money.budget")
        return True

    def _capacity(self, drive: Drive, key: int) -> tuple[int, ...] | str:
        """The series places of each bay, or what is too little if they do not suffice.

        ``key`` bounds the core's price: if a denser layout is not excluded, the core stays
        open and nothing dearer is proven.
        """
        found = room_for(self.context, drive, self.seen)
        if not isinstance(found, Wanting):
            return found
        if found.may_be_denser:
            self._unproven.append(key)
        return found.reason

    # -- opening -----------------------------------------------------------------------

    def _open(self, chunk: list[Entry], spread: Spread) -> Iterator[Entry]:
        """Look into a chunk of cores; those to be looked into again come back, dearer."""
        incumbent = None if self._best is None else self._best.figure
        cores = [entry[-1] for entry in chunk if entry[-1] is not None]
        for entry, opened, result in zip(chunk, cores, spread(cores, incumbent), strict=True):
            self._solved += result.solved
            self._simulated += result.simulated
            if result.rejected is not None:
                self.seen.count(result.rejected)
            elif result.bound is not None:
                self._cut += 1
                if not result.proven:
                    # The solver gave up before its best: the failed bill bounds nothing.
                    self._unproven.append(opened.key)
                again = opened.again(result)
                yield (again.key, REFINED, entry[2], entry[3], again)
                continue
            elif result.solution is None and result.proven and incumbent is None:
                own = ", parts in one place" if shared_places(self.context) else ""
                own += " or rules of your own" if self.context.project.choices.ruled else ""
                self.seen.count(f"mass, axle, budget or bay limits{own}")
            self._opened.append((opened, result))
            if not result.proven:
                self._unproven.append(opened.key)
            if result.solution is not None:
                self._take(opened, result)
            self._say("opened", f"{opened.core.motor} with {opened.core.module}")

    def _take(self, opened: Opened, result: CoreResult) -> None:
        assert result.solution is not None
        solution = result.solution
        found = (solution.figure, solution.price, solution.added_g)
        best = self._best
        if best is None or found < (best.figure, best.price, best.added_g):
            self._best = best = Best(*found)
            self._say("better", f"{opened.core.motor} with {opened.core.module}")
        if found == (best.figure, best.price, best.added_g):
            best.cores.append((opened, result))

    def _walked(self, bound: int | None, complete: bool) -> Walked:
        best = self._best
        proven = complete and not [
            key for key in self._unproven if best is None or key <= best.figure
        ]
        least = [key for key in self._unproven if best is None or key < best.figure]
        if bound is not None:
            least.append(bound)
        if best is not None:
            least.append(best.figure)
        else:
            for check in nearest_overloads(self.context, [one for _, one in self._orders.values()]):
                self.seen.keep(check)
        return Walked(
            best,
            best.figure if best is not None and proven else min(least, default=None),
            proven,
            self.seen,
            self._solved,
            self._simulated,
            self._cut,
            self._opened,
            [one for *_, one in self._heap if one is not None],
        )

    def _say(self, kind: str, words: str) -> None:
        if self._listener is None:
            return
        self._listener(
            Event(
                kind=kind,  # type: ignore[arg-type]
                screened=self.seen.cores,
                solved=self._solved,
                simulated=self._simulated,
                cut=self._cut,
                bound=None,
                best=None if self._best is None else self._best.price,
                words=words,
            )
        )


__all__ = ["Best", "Opened", "Spread", "Walk", "Walked"]
