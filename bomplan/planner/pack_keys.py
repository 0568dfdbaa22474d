"""What a pack brings at least beside its modules, told without laying it out or judging it whole.

Two things tell most of it. The number in series with the module says every voltage, and with it
which rows of most families may suit; it is the same for every number in parallel. The number in
parallel with the module says how many pieces the boxes want at least. Each is found once and
shared, so that thousands of packs stand in an order close to that of their bills before a single
one of them is judged. Where no row of a family may suit these voltages, the packs fall together.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import accumulate
from typing import Literal, cast

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.bill import JOINTS, RULE_OF, RULES, Rule
from bomplan.design.bill.links import LINK_FAMILIES, ways_to_link
from bomplan.design.bill.rule import Side
from bomplan.design.context import Context
from bomplan.design.drive import Drive, PackFigures, pack_figures
from bomplan.design.records import Core
from bomplan.planner.bill_bound import BEYOND, BillBound, all_branches, trees
from bomplan.planner.goals import Goal
from bomplan.planner.judge import Judge, Known, NotOfPackError, Suiting, recalled
from bomplan.planner.options import (
    AT_LEAST,
    CORE,
    TELLING,
    UNREAD,
    NoOption,
    Row,
    row_of,
    spares_of,
)
from bomplan.planner.screen import Packs
from bomplan.planner.sides import LATE_JOINTS
from bomplan.requirements.evaluate import gas_gathers
from bomplan.requirements.mounting import crush_forbids

IntArray = npt.NDArray[np.int64]
# Figures of a pack that its modules and their number in series settle.
OF_STRING = frozenset({"cells_series", "nominal_v", "charge_v", "least_v"})
SIDES: tuple[Side, ...] = ("pack", "currents")


@dataclass(frozen=True, eq=False)
class _Brought:
    """What the voltages tell: by sets of suppliers the least that some families come to.

    ``open`` are the rows of those among them that stand beside a family of which a pack tells
    more, by the rules that are ``asked`` of their parts; ``price`` is without these. Their own
    is kept by the parts that are left. ``by_part``: families of the bays, and which may suit.
    """

    price: IntArray
    families: frozenset[str]
    open: dict[str, tuple[Row, ...]]
    asked: tuple[tuple[Rule, Suiting], ...]
    unjoined: frozenset[tuple[str, str]]
    by_part: tuple[tuple[Rule, tuple[Part, ...]], ...]
    open_prices: dict[tuple[int, ...], IntArray] = field(default_factory=dict)


class PackKeys:
    """Lower bounds by the goal for the packs of one search, found as they are asked for."""

    def __init__(
        self, context: Context, judge: Judge, goal: Goal, bill: BillBound, found: Packs
    ) -> None:
        self._context, self._judge, self._goal, self._bill = context, judge, goal, bill
        self._found = found
        self._strings: dict[tuple[str, int], _Brought | NoOption] = {}
        self._boxes: dict[tuple[str, int, str], tuple[IntArray, frozenset[str]]] = {}
        self._rests: dict[frozenset[str], int] = {}
        self._known: Known = {}
        self._by_pack: dict[int, tuple[int, IntArray]] = {}
        self.fallen: dict[int, NoOption] = {}
        self._nothing = np.zeros_like(bill.shipped(np.int64(0)))
        # By the identity of lists of rows, which are kept here so that no others take it.
        self._each_of: dict[int, tuple[tuple[Part, ...], IntArray]] = {}

    def known(self, pack: int) -> int:
        """What a pack brings beside its modules at least; ``BEYOND`` if it is ``fallen``.

        Everything that every conversion needs is counted, but the families of the drive.
        """
        return self._found_once(pack)[0]

    def by_set(self, pack: int) -> IntArray:
        """(sets of suppliers): the same in each of them, with the shipping that it pays."""
        return self._found_once(pack)[1]

    def _found_once(self, pack: int) -> tuple[int, IntArray]:
        known = self._by_pack.get(pack)
        if known is None:
            found = self.of(pack)
            if isinstance(found, NoOption):
                self.fallen[pack], found = found, np.full_like(self._nothing, BEYOND)
            known = self._by_pack[pack] = int(found.min()), found
        return known

    def of(self, pack: int) -> IntArray | NoOption:
        """The same as :meth:`by_set`, or the family that has no row for the pack."""
        string = self._string(pack)
        if isinstance(string, NoOption):
            return string
        drive = cast(Drive, _PackAlone(*self._found.rows[pack]))
        open_price = self._open_price(drive, string)
        if isinstance(open_price, NoOption):
            return open_price
        least = self._bill.shipped(string.price + open_price)
        if least.min() >= BEYOND:
            return self._nothing  # why it falls is told when it is judged
        beside = self._beside(pack, string.families)
        for rule, parts in string.by_part:
            beside += self._in_all(drive, rule, parts)
        return least + beside

    def _open_price(self, drive: Drive, string: _Brought) -> IntArray | NoOption:
        """The families that the voltages leave open, with the rows that may suit this pack."""
        context, left = self._context, []
        for rule, suiting in string.asked:
            parts = suiting.parts
            some = [part for part in parts if rule.may_suit(context, drive, part)]
            if not some:
                told = self._judge.none_left(rule, drive, UNREAD, suiting)
                return NoOption(rule.family, told.most_failed, told.nearest)
            left.append(parts if len(some) == len(parts) else self._judge.listed(some))
        key = tuple(map(id, left))
        known = string.open_prices.get(key)
        if known is None:
            rows = dict(string.open)
            for (rule, _), parts in zip(string.asked, left, strict=True):
                made = self._rows(drive, rule, parts) if rule.family in rows else None
                if made is not None:
                    rows[rule.family] = made
            found = self._bill.by_set(drive, UNREAD, rows, NOWHERE, string.unjoined)
            known = string.open_prices[key] = found[0]
        return known

    def _in_all(self, drive: Drive, rule: Rule, parts: tuple[Part, ...]) -> int:
        """What a family of the bays of which rows differ in their pieces comes to at least."""
        context = self._context

        def pieces(part: Part) -> int:
            return rule.base(context, drive, part) + rule.least_in_all(context, drive, part)

        kinds, told = self._judge.by_kind(rule, parts, pieces, "pieces")
        return int((self._each_row(rule, parts) * np.array(told)[kinds.of]).min())

    def _string(self, pack: int) -> _Brought | NoOption:
        module, series, _, _ = self._found.rows[pack]
        string = self._strings.get((module.id, series))
        if string is None:
            string = self._of_string(module, series)
            self._strings[module.id, series] = string
        return string

    def _beside(self, pack: int, counted: frozenset[str]) -> int:
        """What the boxes ask for, and what every core brings of what is not ``counted``."""
        module, series, parallel, topology = self._found.rows[pack]
        boxes = self._boxes.get((module.id, parallel, topology))
        if boxes is None:
            boxes = self._of_boxes(module, parallel, topology)
            self._boxes[module.id, parallel, topology] = boxes
        in_boxes, families = boxes
        if series >= len(in_boxes):
            return self._rest(counted)
        return int(in_boxes[series]) + self._rest(counted | families)

    def _rest(self, counted: frozenset[str]) -> int:
        """What every core brings of the families that are not counted."""
        known = self._rests.get(counted)
        if known is None:
            others = frozenset(rule.family for rule in RULES).difference(counted)
            known = sum(self._goal.rest(side, others) for side in SIDES)
            self._rests[counted] = known
        return known

    # -- what the voltages tell --------------------------------------------------------

    def _of_string(self, module: Part, series: int) -> _Brought | NoOption:
        drive = cast(Drive, _StringAlone(module, series))
        return cast(
            "_Brought | NoOption",
            recalled(self._known, {"drive": drive}, lambda noted: self._brought(noted["drive"])),
        )

    def _brought(self, drive: Drive) -> _Brought | NoOption:
        """The families that stand in no bay, each with the rows that may suit."""
        rows: dict[str, tuple[Row, ...]] = {}
        alone: dict[str, tuple[Row, ...]] = {}
        asked, by_part = [], []
        for rule in IN_TURN:
            try:
                if not rule.needed(self._context, drive):
                    continue
            except NotOfPackError:
                continue
            parts: tuple[Part, ...]
            if rule.side == "pack":
                suiting = self._judge.may_suit(rule, drive, UNREAD)
                if not suiting.parts:
                    return NoOption(rule.family, suiting.most_failed, suiting.nearest)
                parts = suiting.parts
                if type(rule).may_suit is not Rule.may_suit:
                    asked.append((rule, suiting))
                if rule.table_by_part:
                    by_part.append((rule, parts))
                    continue
            else:
                parts = self._judge.may_suit(rule, drive, AT_LEAST).parts
            made = self._rows(drive, rule, parts) if parts else None
            if made is None:
                continue
            (rows if rule.side == "pack" else alone)[rule.family] = made
        unjoined = self._unjoined(drive, rows)
        beside: set[str] = set()
        for root, joined in trees(tuple(rows), unjoined):
            together = {root, *[branch.family for branch in all_branches(joined)]}
            if any(rule.family in together for rule, _ in asked):
                beside |= together
        left = {family: some for family, some in rows.items() if family in beside}
        settled = {family: some for family, some in rows.items() if family not in beside}
        price = self._bill.by_set(drive, UNREAD, settled, NOWHERE, unjoined)
        price = price + self._bill.by_set(drive, UNREAD, alone, NOWHERE, ALL)
        families = frozenset(rows) | frozenset(alone) | {rule.family for rule, _ in by_part}
        return _Brought(price[0], families, left, tuple(asked), unjoined, tuple(by_part))

    def _rows(self, drive: Drive, rule: Rule, parts: tuple[Part, ...]) -> tuple[Row, ...] | None:
        """Rows that hold the pieces of every placement; None: that hangs on more than is told."""
        context = self._context

        def make(noted: Drive) -> tuple[Row, ...] | None:
            try:
                kinds, bases = self._judge.by_kind(
                    rule, parts, lambda part: rule.base(context, noted, part), "base"
                )
            except NotOfPackError:
                return None
            numbers = [bases[kind] for kind in kinds.of.tolist()]
            spares = spares_of(context, rule)
            return tuple(
                [
                    row_of(context, rule, part, (), 0, (number, 0, 0, 0), spares)
                    for part, number in zip(parts, numbers, strict=True)
                ]
            )

        return self._judge.remembered(("string", rule.family, id(parts)), drive, make)

    def _unjoined(
        self, drive: Drive, rows: dict[str, tuple[Row, ...]]
    ) -> frozenset[tuple[str, str]]:
        """The joints that ask for more than the voltages tell: taken as if they held for all."""
        found = set(LATE_JOINTS)
        for joint in JOINTS:
            pair = (joint.first, joint.second)
            if pair in found or not rows.keys() >= set(pair):
                continue
            try:
                self._judge.beside(joint, drive, UNREAD, rows[joint.first], rows[joint.second])
            except NotOfPackError:
                found.add(pair)
        return frozenset(found)

    # -- what the boxes ask for --------------------------------------------------------

    def _of_boxes(
        self, module: Part, parallel: int, topology: str
    ) -> tuple[IntArray, frozenset[str]]:
        """By the number in series, from 0 on: what the families in the bays come to at least.

        For packs of more places than the bays can take nothing is told.
        """
        drive = cast(Drive, _BoxAlone(module, parallel, topology))
        room = self._room(module, parallel)
        most = sum(room)
        total = np.zeros(most + 1, dtype=np.int64)
        counted = set()
        bays = _bays(room)
        total += _least_of_tables(self._links(drive, room), bays)
        for rule in RULES:
            if rule.side == "drive" or rule.family in CORE or not _in_bays(rule):
                continue
            if rule.table_by_part or rule.placed:
                continue
            parts = self._judge.may_suit(
                rule, drive, UNREAD if rule.side == "pack" else AT_LEAST
            ).parts
            # 0 where what a piece comes to hangs on their number.
            each = int(self._each_row(rule, parts).min(initial=BEYOND) % BEYOND)
            if not each:
                continue
            try:
                if not rule.needed(self._context, drive):
                    continue
                part = parts[0]
                tables = self._judge.tables(rule, drive, part, room)
                base = rule.base(self._context, drive, part)
            except NotOfPackError:
                continue
            total += each * (base + _least_of_tables(tables, bays))
            counted.add(rule.family)
        return total, frozenset(counted)

    def _links(self, drive: Drive, room: tuple[int, ...]) -> tuple[tuple[int, ...], ...]:
        """By bay and places in it: what the links of a box come to at least.

        Which way they go is told by the layout alone: here it is the cheapest.
        """
        each = {}
        for family in ("link", *LINK_FAMILIES):
            rule = RULE_OF[family]
            parts = self._judge.may_suit(rule, drive, AT_LEAST).parts
            each[family] = int(self._each_row(rule, parts).min(initial=BEYOND) % BEYOND)
        least = [0]
        for rows in range(1, max(room) + 1):
            ways = ways_to_link(self._context, drive, rows)
            least.append(
                min(sum(each[family] * some for family, some in way.items()) for way in ways)
            )
        return tuple([tuple(least[: places + 1]) for places in room])

    def _each_row(self, rule: Rule, parts: tuple[Part, ...]) -> IntArray:
        """What a piece of each of these rows, a list that the judge keeps, comes to at least.

        0 where that hangs on their number.
        """
        known = self._each_of.get(id(parts))
        if known is None:
            context, spares = self._context, spares_of(self._context, rule)
            rows = [row_of(context, rule, part, (), 0, (0, 0, 0, 0), spares) for part in parts]
            each = np.array([max(0, self._bill.each(row)) for row in rows], dtype=np.int64)
            known = self._each_of[id(parts)] = parts, each
        return known[1]

    def _room(self, module: Part, parallel: int) -> tuple[int, ...]:
        """No more series places than this go into each bay."""
        context, room = self._context, []
        for bay, record in enumerate(context.bays):
            places = context.rows_at_most(bay, module, parallel)
            if record.mass_limit_g is not None:
                places = min(places, record.mass_limit_g // (parallel * module.mass_g))
            if gas_gathers(record, module) or crush_forbids(context, record):
                places = 0
            room.append(places)
        return tuple(room)


def _in_bays(rule: Rule) -> bool:
    return type(rule).in_bay is not Rule.in_bay


NOWHERE = ((),)
ALL = frozenset((joint.first, joint.second) for joint in JOINTS)
# The families that a pack may settle, first those where most packs fail. Of those in bays only
# the ones of which rows differ in their pieces: the others are counted by the boxes.
IN_TURN = tuple(
    sorted(
        [
            rule
            for rule in RULES
            if rule.side != "drive"
            and rule.family not in CORE
            and (not _in_bays(rule) or (rule.table_by_part and rule.side == "pack"))
        ],
        key=lambda rule: (*TELLING, rule.family).index(rule.family),
    )
)


def _bays(room: tuple[int, ...]) -> tuple[IntArray, IntArray]:
    """By the number of series places, from 0 on: the fewest bays that take so many, the most."""
    places = np.arange(sum(room) + 1)
    ends = np.array(list(accumulate(sorted(room, reverse=True))), dtype=np.int64)
    fewest = np.searchsorted(ends, places) + 1
    fewest[0] = 0
    return fewest, np.minimum(places, sum(1 for some in room if some))


def _least_of_tables(
    tables: tuple[tuple[int, ...], ...], bays: tuple[IntArray, IntArray]
) -> IntArray:
    """By the number of series places, from 0 on: no placement of so many has fewer pieces.

    Each place is counted at the least share that one of any bay has, and each bay that is used
    at the least that one comes to. Or a line stands below all tables, and a placement comes to
    no less than its slope for each place and its height for each bay. ``bays``: the fewest that
    are used and the most.
    """
    fewest, most = bays
    pieces = np.array([one for table in tables for one in table[1:]], dtype=np.int64)
    places = np.array([at for table in tables for at in range(1, len(table))], dtype=np.int64)
    if not len(pieces):
        return np.zeros(len(fewest), dtype=np.int64)
    least = np.flatnonzero(pieces / places <= (pieces / places).min() * (1 + 1e-9) + 1e-12)
    series = np.arange(len(fewest), dtype=np.int64)
    shared: IntArray = (-(-series[:, None] * pieces[least] // places[least])).min(axis=1)
    found = np.maximum(shared, fewest * int(pieces.min()))
    for slope in sorted(
        {(table[-1] - table[1]) // (len(table) - 2) for table in tables if len(table) > 2}
    ):
        height = int((pieces - slope * places).min())
        found = np.maximum(found, slope * series + height * (most if height < 0 else fewest))
    return found


class _Alone:
    """Stands for a core of which only a part is known."""

    def __getattr__(self, name: str) -> object:
        raise NotOfPackError(name)


class _StringAlone(_Alone):
    """Stands for a core of which the modules and their number in series are known."""

    def __init__(self, module: Part, series: int) -> None:
        whole = _whole(module, series, 1, "groups")
        self.module = module
        self.lithium_or_sodium, self.touchable = whole.lithium_or_sodium, whole.touchable
        self.core = _Some(whole.core, frozenset({"module", "series"}))
        self.figures = _Some(whole.figures, OF_STRING)


class _PackAlone(_Alone):
    """Stands for a core of which the pack is known."""

    def __init__(self, module: Part, series: int, parallel: int, topology: str) -> None:
        whole = _whole(module, series, parallel, topology)
        self.module, self.figures = module, whole.figures
        self.lithium_or_sodium, self.touchable = whole.lithium_or_sodium, whole.touchable
        self.strings = whole.strings
        self.core = _Some(whole.core, frozenset({"module", "series", "parallel", "topology"}))


class _BoxAlone(_Alone):
    """Stands for a core of which the modules and their number in parallel are known."""

    def __init__(self, module: Part, parallel: int, topology: str) -> None:
        whole = _whole(module, 1, parallel, topology)
        self.module = module
        self.lithium_or_sodium, self.strings = whole.lithium_or_sodium, whole.strings
        self.core = _Some(whole.core, frozenset({"module", "parallel", "topology"}))


class _Some(_Alone):
    """A record of which only some figures are known."""

    def __init__(self, record: Core | PackFigures, known: frozenset[str]) -> None:
        for name in known:
            setattr(self, name, getattr(record, name))


def _whole(module: Part, series: int, parallel: int, topology: str) -> Drive:
    """A core of which the drive is never asked for."""
    core = Core(
        motor="",
        controller="",
        final_ratio=1.0,
        module=module.id,
        series=series,
        parallel=parallel,
        topology=cast(Literal["groups", "strings"], topology),
    )
    return Drive(core, module, module, None, module, pack_figures(module, series, parallel))


__all__ = ["PackKeys"]
