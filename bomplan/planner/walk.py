"""Cores in order of a lower bound on their whole bill, until the bound passes the best plan.

A lazy heap holds for every drive its next pack (a coarse key: drive and pack alone), and
cores whose other families are known (a refined key: the bound over supplier subsets). Cores
are opened in key order in chunks of a fixed size, so that neither the number of workers nor
the order in which they finish changes anything.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator
from bomplan.design.assemble import joints_uohm
from bomplan.design.bill import DesignCurrents
from bomplan.design.bill.rule import Side
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive, pack_figures
from bomplan.design.records import Core, Couplers
from bomplan.planner.bounds import least_mass_g, least_of, least_price, least_rest
from bomplan.planner.core_search import CoreResult, Cuts, look_into
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.events import Event, Listener, Stop
from bomplan.planner.options import NoOption, Options, Row, find_options, side_rows
from bomplan.planner.screen import (
    Screened,
    core_of,
    drives,
    first_failed,
    matching,
    packs,
)
from bomplan.requirements.loads import mass_rows
from bomplan.requirements.simulated import falls_short
from bomplan.requirements.sustained import sustained_checks

CHUNK = 4
UNSEEN, COARSE, PRICED, REFINED = range(4)
# (key, stage, drive, place in the drive's list of packs, the core once it is refined)
Entry = tuple[int, int, int, int, "Opened | None"]


@dataclass(frozen=True)
class Opened:
    """A core with all that its model needs, and the bound that it is walked by."""

    core: Core
    drive: Drive
    currents: DesignCurrents
    options: Options
    simulator: Simulator
    key: int
    cuts: Cuts = ()


# The rows of one side's families, and the least that they cost.
SideRows = tuple[dict[str, tuple[Row, ...]], int]
Spread = Callable[[list[Opened], int | None], list[CoreResult]]


@dataclass
class Best:
    """The best bill so far, and every core that reaches the same price and mass."""

    price: int
    added_g: int
    cores: list[tuple[Opened, CoreResult]] = field(default_factory=list)


@dataclass
class Walked:
    """What the walk came to. ``bound`` is proven: no plan costs less."""

    best: Best | None
    bound: int | None
    complete: bool
    screened: Screened
    solved: int = 0
    simulated: int = 0
    cut: int = 0
    opened: list[tuple[Opened, CoreResult]] = field(default_factory=list)


class Walk:
    """One search over all cores of a context."""

    def __init__(
        self, context: Context, listener: Listener | None = None, stop: Stop | None = None
    ) -> None:
        self.context = context
        self.seen = Screened()
        self._listener = listener
        self._stop = stop or Stop()
        self._solved = self._simulated = self._cut = 0
        self._best: Best | None = None
        self._unproven: list[int] = []
        self._pack_sides: dict[int, SideRows | str] = {}
        self._drive_sides: dict[int, SideRows | str] = {}
        self._opened: list[tuple[Opened, CoreResult]] = []

    def run(self, spread: Spread) -> Walked:
        """Walk until the least key exceeds the best price; ``spread`` opens a chunk of cores."""
        self._drives = drives(self.context, self.seen)
        self._packs = packs(self.context, self.seen)
        self._energy = EnergyScreen(self.context, self._packs)
        self._rest = least_rest(self.context)
        heap = self._start()
        self._say("screened", "")
        chunk: list[Entry] = []
        while heap or chunk:
            if self._stop.requested:
                keys = [entry[0] for entry in (*heap[:1], *chunk[:1])]
                return self._walked(min(keys), False)
            done = not heap or (self._best is not None and heap[0][0] > self._best.price)
            # A chunk is full, or no cheaper key can still join it.
            if chunk and (done or len(chunk) == CHUNK or self._beyond(heap[0][0], chunk)):
                for again in self._open(chunk, spread):
                    heapq.heappush(heap, again)
                chunk = []
                continue
            if done:
                break
            entry = heapq.heappop(heap)
            if entry[-1] is not None:
                chunk.append(entry)
            else:
                for new in self._expand(entry):
                    heapq.heappush(heap, new)
        return self._walked(None, True)

    # -- the heap ----------------------------------------------------------------------

    def _start(self) -> list[Entry]:
        """For every drive its cheapest pack by price alone; energy is looked at when popped."""
        heap: list[Entry] = []
        self._lists: list[npt.NDArray[np.int64]] = []
        margin = 1 + self.context.project.margins.voltage
        for number, row in enumerate(self._drives):
            order = matching(row, self._packs, margin)
            self.seen.cores += len(self._packs.rows)
            self.seen.count("voltage.window", len(self._packs.rows) - len(order))
            self._lists.append(order)
            if len(order):
                heap.append(self._coarse(number, 0, UNSEEN))
        heapq.heapify(heap)
        return heap

    def _coarse(self, number: int, place: int, stage: int) -> Entry:
        pack = int(self._lists[number][place])
        price = self._rest + self._drives[number].price + int(self._packs.price[pack])
        return (price, stage, number, place, None)

    def _beyond(self, key: int, chunk: list[Entry]) -> bool:
        """Whether waiting for the next key cannot pay: it lies above the chunk by a tenth."""
        return key > chunk[0][0] + chunk[0][0] // 10

    def _expand(self, entry: Entry) -> Iterator[Entry]:
        """The drive's next pack, and this core under its refined key if it may work."""
        _, stage, number, place, _ = entry
        if stage == UNSEEN:
            order = self._lists[number]
            enough = self._energy.keep(self._drives[number], order)
            self.seen.count("range.energy", len(order) - len(enough))
            self._lists[number] = enough
            if len(enough):
                yield self._coarse(number, 0, COARSE)
            return
        if stage == COARSE:
            if place + 1 < len(self._lists[number]):
                yield self._coarse(number, place + 1, COARSE)
            price = self._priced(number, place)
            if price is not None:
                yield (price, PRICED, number, place, None)
            return
        opened = self._refine(number, int(self._lists[number][place]))
        if opened is not None and (self._best is None or opened.key <= self._best.price):
            yield (opened.key, REFINED, number, place, opened)

    def _priced(self, number: int, place: int) -> int | None:
        """The bound with the families that pack and drive settle by themselves."""
        pack = int(self._lists[number][place])
        sides = self._sides(number, pack)
        if sides is None:
            return None
        coarse, _, _, _, _ = self._coarse(number, place, COARSE)
        return coarse + sum(least for _, least in sides)

    def _sides(self, number: int, pack: int) -> tuple[SideRows, SideRows] | None:
        """The judged rows of both sides, each judged once; None if a family has no row."""
        of_pack = self._pack_sides.get(pack)
        if of_pack is None:
            of_pack = self._judge_pack(number, pack)
            self._pack_sides[pack] = of_pack
        of_drive = self._drive_sides.get(number)
        if of_drive is None:
            of_drive = self._judge(self._drive(number, pack), "drive", ())
            self._drive_sides[number] = of_drive
        for side in (of_pack, of_drive):
            if isinstance(side, str):
                self.seen.count(side)
                return None
        assert not isinstance(of_pack, str)
        assert not isinstance(of_drive, str)
        return of_pack, of_drive

    def _judge_pack(self, number: int, pack: int) -> SideRows | str:
        drive = self._drive(number, pack)
        capacity = self._capacity(drive)
        if capacity is None:
            return "bay.room"
        return self._judge(drive, "pack", capacity)

    def _judge(self, drive: Drive, side: Side, capacity: tuple[int, ...]) -> SideRows | str:
        rows = side_rows(self.context, drive, side, capacity)
        if isinstance(rows, NoOption):
            return f"part.{rows.family} ({rows.reason})"
        return rows, least_of(rows)

    def _drive(self, number: int, pack: int) -> Drive:
        row = self._drives[number]
        module, series, parallel, _ = self._packs.rows[pack]
        return Drive(
            core_of(row, self._packs.rows[pack]),
            row.motor,
            row.controller,
            row.pair,
            module,
            pack_figures(module, series, parallel),
        )

    def _refine(self, number: int, pack: int) -> Opened | None:
        context, row = self.context, self._drives[number]
        drive = self._drive(number, pack)
        sides = self._sides(number, pack)
        if sides is None:
            return None
        failed = first_failed(context, drive, self.seen)
        if failed is not None:
            self.seen.count(failed.id)
            return None
        simulator = Simulator(context, drive)
        least = Couplers(
            added_g=row.motor.mass_g + row.controller.mass_g + int(self._packs.mass_g[pack]),
            external_uohm=joints_uohm(context, drive),
            mean_12v_w=round(context.project.donor.load_12v_w),
        )
        short, runs = falls_short(simulator, least)
        self._simulated += runs
        if short is not None:
            self.seen.count(short)
            return None
        capacity = self._capacity(drive)
        assert capacity is not None
        currents = design_currents(context, drive, simulator)
        self._simulated += len(context.project.targets.range)
        for check in sustained_checks(context, drive, currents):
            if not check.passed:
                self.seen.keep(check)
                self.seen.count(check.id)
                return None
        options = find_options(context, drive, currents, capacity, {**sides[0][0], **sides[1][0]})
        if isinstance(options, NoOption):
            self.seen.count(f"part.{options.family} ({options.reason})")
            return None
        price = least_price(context, options)
        if price is None:
            self.seen.count("supplier")
            return None
        if not self._may_weigh(least_mass_g(options)):
            self.seen.count("mass.gross")
            return None
        return Opened(drive.core, drive, currents, options, simulator, price)

    def _capacity(self, drive: Drive) -> tuple[int, ...] | None:
        """Series places that each bay takes; None if they do not suffice."""
        context, core = self.context, drive.core
        capacity: list[int] = []
        exact = True
        at_most = 0
        for bay in range(len(context.bays)):
            found = context.layout(bay, drive.module)
            exact = exact and found.exact
            capacity.append(min(core.series, found.count // core.parallel))
            at_most += context.rows_at_most(bay, drive.module, core.parallel)
        if sum(capacity) >= core.series:
            return tuple(capacity)
        if not exact and at_most >= core.series:
            # A denser layout is not excluded: the core stays open, below which no proof goes.
            self._unproven.append(0)
        return None

    def _may_weigh(self, added_g: int) -> bool:
        """Whether the gross limits leave room for the least that this core adds."""
        return all(
            limit.value(added_g, 0) <= limit.limit
            for limit in mass_rows(self.context)
            if limit.per_gmm == 0 and limit.per_gram > 0
        )

    # -- opening -----------------------------------------------------------------------

    def _open(self, chunk: list[Entry], spread: Spread) -> Iterator[Entry]:
        """Look into a chunk of cores; those to be looked into again come back, dearer."""
        incumbent = None if self._best is None else self._best.price
        cores = [entry[-1] for entry in chunk if entry[-1] is not None]
        for entry, opened, result in zip(chunk, cores, spread(cores, incumbent), strict=True):
            self._solved += result.solved
            self._simulated += result.simulated
            if result.rejected is not None:
                self.seen.count(result.rejected)
            elif result.bound is not None:
                self._cut += 1
                again = replace(opened, key=result.bound, cuts=result.cuts)
                yield (result.bound, REFINED, entry[2], entry[3], again)
                continue
            elif result.solution is None and result.proven and incumbent is None:
                self.seen.count("mass, axle, budget or bay limits")
            self._opened.append((opened, result))
            if not result.proven:
                self._unproven.append(opened.key)
            if result.solution is not None:
                self._take(opened, result)
            self._say("opened", f"{opened.core.motor} with {opened.core.module}")

    def _take(self, opened: Opened, result: CoreResult) -> None:
        assert result.solution is not None
        found = (result.solution.price, result.solution.added_g)
        if self._best is None or found < (self._best.price, self._best.added_g):
            self._best = Best(*found)
            self._say("better", f"{opened.core.motor} with {opened.core.module}")
        if found == (self._best.price, self._best.added_g):
            self._best.cores.append((opened, result))

    def _walked(self, bound: int | None, complete: bool) -> Walked:
        best = self._best
        proven = complete and not [
            key for key in self._unproven if best is None or key <= best.price
        ]
        least = [key for key in self._unproven if best is None or key < best.price]
        if bound is not None:
            least.append(bound)
        if best is not None:
            least.append(best.price)
        return Walked(
            best,
            best.price if best is not None and proven else min(least, default=None),
            proven,
            self.seen,
            self._solved,
            self._simulated,
            self._cut,
            self._opened,
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


def open_here(context: Context) -> Spread:
    """Look into a chunk's cores one after the other in this process."""

    def spread(chunk: list[Opened], incumbent: int | None) -> list[CoreResult]:
        return [
            look_into(
                context,
                opened.drive,
                opened.currents,
                opened.options,
                opened.simulator,
                incumbent,
                opened.cuts,
            )
            for opened in chunk
        ]

    return spread


__all__ = ["Best", "Opened", "Spread", "Walk", "Walked", "open_here"]
