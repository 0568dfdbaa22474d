"""For one core: every family it needs, the rows that suit it, and the quantities possible."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import accumulate
from typing import cast

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from bomplan.buying.prices import Source
from bomplan.catalog.records import Part
from bomplan.design.assemble import needed_rules, owned
from bomplan.design.bill import RULES, DesignCurrents, Rule
from bomplan.design.bill.rule import Side
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check, Core
from bomplan.errors import InternalError
from bomplan.planner.judge import Judge, NotOfPackError, Tables
from bomplan.project.buying import SpareRule
from bomplan.requirements.own_rules import impossible

CORE = ("motor", "controller", "module")
# Where most packs fail: none that charges them in time, none that breaks their short circuit.
TELLING = ("charger", "branch_fuse")


@dataclass(frozen=True)
class Row:
    """A row of a family that suits the core: where it sells, and how many may be needed.

    ``tables[bay][rows]`` is the number of pieces in that bay (no tables: none in any);
    ``series`` how many places a placement shares out, 0 where no table reads it: so packs that
    differ in it alone share the row. ``quantities`` is every total that some placement leads
    to. The last three figures are those of one piece. Where a rule is dear to ask, ``tables``
    hold the fewest and ``most_tables`` the most pieces that it may come to, until
    :func:`counted` asks it.
    """

    rule: Rule
    part: Part
    sources: tuple[Source, ...]
    base: int
    tables: tuple[tuple[int, ...], ...]
    series: int
    at_hand: int
    external_uohm: int
    load_12v_w: int
    supply_12v_w: int
    spares: tuple[SpareRule, ...] = ()
    most_tables: tuple[tuple[int, ...], ...] = ()

    @cached_property
    def least(self) -> int:
        """The fewest pieces that any placement leads to."""
        return self.base + _least(self.tables, self.series)

    @cached_property
    def quantities(self) -> tuple[int, ...]:
        """Every total that some placement leads to, ascending."""
        return tuple(self.base + total for total in _totals(self.tables, self.series))

    @cached_property
    def most(self) -> int:
        """The most pieces that any placement leads to."""
        return self.base + _most(self.most_tables or self.tables, self.series)

    def fitted(self, rows: tuple[int, ...]) -> int:
        """Pieces fitted for this placement."""
        return self.base + sum(
            table[count] for table, count in zip(self.tables, rows, strict=False)
        )

    def needed(self, fitted: int) -> int:
        """Pieces to buy where so many are fitted: spares too, less those at hand."""
        spare = sum(rule.of(fitted) for rule in self.spares)
        return max(0, fitted + spare - self.at_hand)

    @cached_property
    def in_bays(self) -> bool:
        return any(any(table) for table in self.tables)


class Group:
    """Families that many cores share; what is found of them together is kept with them."""

    __slots__ = ("leasts", "mass", "most", "rows")

    def __init__(self, rows: dict[str, tuple[Row, ...]]) -> None:
        self.rows = rows
        # What they add at least to each mass limit and to each bay, by the bays that are used.
        self.mass: dict[tuple[int, ...], tuple[npt.NDArray[np.int64], tuple[int, ...]]] = {}
        self.leasts: tuple[int, int, int] | None = None  # g, microohm, W at least
        self.most: dict[str, int] | None = None  # the most that they come to at each supplier


@dataclass(frozen=True)
class Options:
    """All rows of a core by family, in the families' fixed order, and each bay's capacity.

    ``groups`` are the same families in groups; without them all are one.
    """

    rows: dict[str, tuple[Row, ...]]
    capacity: tuple[int, ...]
    groups: tuple[Group, ...] = ()

    @cached_property
    def parts(self) -> tuple[Group, ...]:
        """Every family in one group or another."""
        return self.groups or (Group(self.rows),)


@dataclass(frozen=True)
class NoOption:
    """No row of this family suits the core; ``reason`` is the check that most rows fail."""

    family: str
    reason: str
    nearest: Check | None = None

    @property
    def name(self) -> str:
        """What the core is counted under."""
        return f"part.{self.family} ({self.reason})"


def find_options(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    capacity: tuple[int, ...],
    known: dict[str, tuple[Row, ...]] | None = None,
    judge: Judge | None = None,
    unjudged: frozenset[str] = frozenset(),
) -> Options | NoOption:
    """Every family's suitable rows, or the first family that has none.

    ``known`` holds families that were judged before, from the pack or the drive alone;
    families ``unjudged`` come with every row that can be had.
    """
    judge = judge or Judge(context)
    found: dict[str, tuple[Row, ...]] = {}
    for rule in needed_rules(context, drive):
        rows = None if known is None else known.get(rule.family)
        if rows is None:
            judged = suitable(context, judge, drive, rule, currents, capacity, unjudged)
            if isinstance(judged, NoOption):
                return judged
            rows = judged
        found[rule.family] = rows
    return ruled_out(context, found) or Options(found, capacity)


def ruled_out(context: Context, rows: dict[str, tuple[Row, ...]]) -> NoOption | None:
    """The family that the builder's own rules leave without a row, if they leave one so."""
    if not context.project.choices.ruled:
        return None
    broken = impossible(
        context.project.choices,
        {family: [row.part.id for row in some] for family, some in rows.items()},
        [
            family
            for family, some in rows.items()
            if some[0].rule.may_be_none and any(row.least == 0 for row in some)
        ],
    )
    if broken is None:
        return None
    family, check = broken
    return NoOption(family, check.id, check)


def in_order(rows: dict[str, tuple[Row, ...]]) -> dict[str, tuple[Row, ...]]:
    """The same in the families' fixed order."""
    return {rule.family: rows[rule.family] for rule in RULES if rule.family in rows}


def counted(context: Context, drive: Drive, options: Options) -> Options:
    """The same rows with the exact pieces of those rules that are dear to ask."""
    rows = {
        family: _counted(context, drive, some, options.capacity) if some[0].rule.dear else some
        for family, some in options.rows.items()
    }
    return Options(rows, options.capacity)


def _counted(
    context: Context, drive: Drive, rows: tuple[Row, ...], capacity: tuple[int, ...]
) -> tuple[Row, ...]:
    rule, part = rows[0].rule, rows[0].part
    tables = tuple(
        (0, *(rule.in_bay(context, drive, part, bay, places) for places in range(1, most + 1)))
        for bay, most in enumerate(capacity)
    )
    return tuple(replace(row, tables=tables, most_tables=()) for row in rows)


def side_rows(
    context: Context, judge: Judge, drive: Drive, side: Side, capacity: tuple[int, ...]
) -> dict[str, tuple[Row, ...]] | NoOption:
    """The suitable rows of every family that reads one side of the core only.

    Families that turn most packs away are judged first; the answer is in the fixed order.
    """
    found: dict[str, tuple[Row, ...]] = {}
    rules = [rule for rule in needed_rules(context, drive) if rule.side == side]
    telling = {family: place - len(TELLING) for place, family in enumerate(TELLING)}
    for rule in sorted(rules, key=lambda rule: telling.get(rule.family, 0)):
        judged = suitable(context, judge, drive, rule, UNREAD, capacity)
        if isinstance(judged, NoOption):
            return judged
        found[rule.family] = judged
    return in_order(found)


def rows_of_pack_alone(
    context: Context, judge: Judge, drive: Drive, capacity: tuple[int, ...]
) -> dict[str, tuple[Row, ...]]:
    """Rows of the families that read the whole core, as far as the pack alone settles them.

    Every row that may suit some core with it, in the numbers that this pack needs: no bill buys
    less. A family whose need or number hangs on more than the pack is left out.
    """
    pack = cast(Drive, _PackAlone(drive))
    found: dict[str, tuple[Row, ...]] = {}
    for rule in RULES:
        if rule.side != "currents" or rule.family in CORE:
            continue
        parts = judge.may_suit(rule, pack, AT_LEAST).parts
        try:
            if parts and rule.needed(context, pack):
                found[rule.family] = _rows(context, judge, pack, rule, parts, capacity)
        except NotOfPackError:
            continue
    return found


def lacking_by_pack(context: Context, judge: Judge, drive: Drive, rule: Rule) -> NoOption | None:
    """Why a family that reads the whole core has no row for this pack, whatever drives it.

    None where some row may suit some core with it, as far as its pack alone tells.
    """
    pack = cast(Drive, _PackAlone(drive))
    try:
        if not rule.needed(context, pack):
            return None
        suiting = judge.suiting(rule, pack, UNKNOWN)
    except NotOfPackError:
        return None
    return None if suiting.parts else NoOption(rule.family, suiting.most_failed, suiting.nearest)


def rows_without_motor(
    context: Context,
    judge: Judge,
    drive: Drive,
    currents: DesignCurrents,
    capacity: tuple[int, ...],
    known: frozenset[str],
    unjudged: frozenset[str],
) -> tuple[dict[str, tuple[Row, ...]], tuple[Rule, ...]] | NoOption:
    """Rows of the families that read the whole core, where the motor does not matter.

    Also the rules of those that do read the motor or what hangs on it, which are left. Families
    ``known`` are passed over, those ``unjudged`` come with every row that can be had.
    """
    held = cast(Drive, _WithoutMotor(drive))
    found: dict[str, tuple[Row, ...]] = {}
    left = []
    for rule in RULES:
        if rule.side != "currents" or rule.family in known:
            continue
        if rule.family in context.unknown_families:
            continue
        try:
            if not rule.needed(context, held):
                continue
            judged = suitable(context, judge, held, rule, currents, capacity, unjudged)
        except NotOfPackError:
            left.append(rule)
            continue
        if isinstance(judged, NoOption):
            return judged
        found[rule.family] = judged
    return found, tuple(left)


class _PackAlone:
    """Stands for a core of which only the pack is known."""

    __slots__ = ("core", "figures", "lithium_or_sodium", "module", "strings", "touchable")

    def __init__(self, drive: Drive) -> None:
        self.module, self.figures = drive.module, drive.figures
        self.lithium_or_sodium, self.touchable = drive.lithium_or_sodium, drive.touchable
        self.strings = drive.strings
        self.core = _CoreAlone(drive.core)

    def __getattr__(self, name: str) -> object:
        raise NotOfPackError(name)


class _WithoutMotor:
    """Stands for a core of which pack and controller are known."""

    __slots__ = (
        "battery_limit_a",
        "controller",
        "core",
        "figures",
        "lithium_or_sodium",
        "module",
        "strings",
        "touchable",
    )

    def __init__(self, drive: Drive) -> None:
        self.module, self.figures, self.controller = drive.module, drive.figures, drive.controller
        self.lithium_or_sodium, self.touchable = drive.lithium_or_sodium, drive.touchable
        self.strings, self.battery_limit_a = drive.strings, drive.battery_limit_a
        self.core = _CoreAlone(drive.core)

    def __getattr__(self, name: str) -> object:
        raise NotOfPackError(name)


class _CoreAlone:
    __slots__ = ("module", "parallel", "series", "topology")

    def __init__(self, core: Core) -> None:
        self.module, self.topology = core.module, core.topology
        self.series, self.parallel = core.series, core.parallel

    def __getattr__(self, name: str) -> object:
        raise NotOfPackError(name)


class _Unread:
    """Stands where a rule of one side must not look."""

    def __getattr__(self, name: str) -> object:
        raise InternalError(f"a rule of one side of the core reads {name} of the other")


UNREAD = cast(DesignCurrents, _Unread())


class _Unknown:
    """Stands for currents where the pack alone is known."""

    def __getattr__(self, name: str) -> object:
        raise NotOfPackError(name)


UNKNOWN = cast(DesignCurrents, _Unknown())


class _AtLeast(_Unknown):
    """Stands for currents of which no more is known than that no mean is less than nothing."""

    rms_a = motor_rms_a = motor_rms_kw = stall_a = 0.0
    at_mass_g = 0  # only written into words
    profile, rolling = "", ()


AT_LEAST = cast(DesignCurrents, _AtLeast())


def suitable(
    context: Context,
    judge: Judge,
    drive: Drive,
    rule: Rule,
    currents: DesignCurrents,
    capacity: tuple[int, ...],
    unjudged: frozenset[str] = frozenset(),
) -> tuple[Row, ...] | NoOption:
    """The rows of one family that suit the core, or why none does; all if ``unjudged``."""
    if rule.family in unjudged:
        sold = judge.sold(rule)
        if not sold:
            return NoOption(rule.family, "supplier" if judge.candidates(rule) else "none listed")
        return _rows(context, judge, drive, rule, sold, capacity)
    if rule.family in CORE:
        part: Part = getattr(drive, rule.family)
        sources = context.prices.sources(part)
        if not sources:
            return NoOption(rule.family, "supplier")
        tables = judge.tables(rule, drive, part, capacity)
        figures = _figures(context, drive, rule, part)
        series = drive.core.series if tables else 0
        return (row_of(context, rule, part, tables, series, figures, spares_of(context, rule)),)
    suiting = judge.suiting(rule, drive, currents)
    if not suiting.parts:
        return NoOption(rule.family, suiting.most_failed, suiting.nearest)
    return _rows(context, judge, drive, rule, suiting.parts, capacity)


def _rows(
    context: Context,
    judge: Judge,
    drive: Drive,
    rule: Rule,
    parts: tuple[Part, ...],
    capacity: tuple[int, ...],
) -> tuple[Row, ...]:
    """The rows of these parts, a list that the judge keeps."""
    tables = judge.tables_of(rule, drive, parts, capacity)
    most = judge.tables(rule, drive, parts[0], capacity, most=True) if rule.dear else ()
    series = drive.core.series if tables[0] else 0

    def make(noted: Drive) -> tuple[Row, ...]:
        kinds, figures = judge.by_kind(
            rule, parts, lambda part: _figures(context, noted, rule, part)
        )
        spares = spares_of(context, rule)
        return tuple(
            [
                row_of(context, rule, part, table, series, figures[kind], spares, most)
                for part, table, kind in zip(parts, tables, kinds.of.tolist(), strict=True)
            ]
        )

    key = (rule.family, id(parts), tuple(map(id, tables)), id(most), series)
    return judge.remembered(key, drive, make)


# Pieces of a row that every placement asks for; its resistance, 12 V load and 12 V supply.
Figures = tuple[int, int, int, int]


def _figures(context: Context, drive: Drive, rule: Rule, part: Part) -> Figures:
    return (
        rule.base(context, drive, part),
        rule.external_uohm(drive, part),
        rule.mean_12v_w(part),
        rule.supply_12v_w(part),
    )


def spares_of(context: Context, rule: Rule) -> tuple[SpareRule, ...]:
    """What the project keeps of a family beside what is fitted."""
    return tuple(spare for spare in context.project.buying.spares if spare.family == rule.family)


def row_of(
    context: Context,
    rule: Rule,
    part: Part,
    tables: Tables,
    series: int,
    figures: Figures,
    spares: tuple[SpareRule, ...],
    most: Tables = (),
) -> Row:
    """One row of a family with its pieces and its figures."""
    base, external_uohm, load_w, supply_w = figures
    return Row(
        rule, part, context.prices.sources(part), base, tables, series, owned(context, part),
        external_uohm, load_w, supply_w, spares, most,
    )  # fmt: skip


@lru_cache(maxsize=65536)
def _totals(tables: tuple[tuple[int, ...], ...], series: int) -> tuple[int, ...]:
    """Every total over all placements of ``series`` places, ascending."""
    slope = _common_slope(tables)
    if slope is not None:
        return (slope * series,)
    # Bit ``t`` of ``reached[used]``: some placement of so many places comes to ``t`` pieces.
    reached = [1]
    for table in tables:
        following = [0] * (min(series, len(reached) + len(table) - 2) + 1)
        for used, totals in enumerate(reached):
            if totals:
                for rows, pieces in enumerate(table[: series + 1 - used]):
                    following[used + rows] |= totals << pieces
        reached = following
    bits = bin(reached[series])[:1:-1] if series < len(reached) else ""
    return tuple([total for total, bit in enumerate(bits) if bit == "1"])


@lru_cache(maxsize=65536)
def _least(tables: Tables, series: int) -> int:
    """The least total over all placements of ``series`` places."""
    line = _line(tables)
    bays = _bays_used(tables, series)
    if line is None or bays is None:
        slope = _common_slope(tables)
        return slope * series if slope is not None else least_total(tables, series)
    once, each = line
    return once * bays[once < 0] + each * series


@lru_cache(maxsize=65536)
def _most(tables: Tables, series: int) -> int:
    """The greatest total over all placements of ``series`` places; 0 if there is none."""
    line = _line(tables)
    bays = _bays_used(tables, series)
    if line is None or bays is None:
        slope = _common_slope(tables)
        if slope is not None:
            return slope * series
        turned = tuple(tuple(-pieces for pieces in table) for table in tables)
        return max(0, -least_total(turned, series))
    once, each = line
    return max(0, once * bays[once > 0] + each * series)


def _bays_used(tables: Tables, series: int) -> tuple[int, int] | None:
    """The fewest and the most bays that share ``series`` places out; None if they do not fit."""
    rooms = sorted([len(table) - 1 for table in tables if len(table) > 1], reverse=True)
    for fewest, room in enumerate(accumulate(rooms), start=1):
        if room >= series:
            return fewest, min(series, len(rooms))
    return None


def _line(tables: Tables) -> tuple[int, int] | None:
    """Pieces for each bay that is used and for each place in it, if every bay counts so.

    A bay of one place tells only their sum, and must come to the same.
    """
    found: tuple[int, int] | None = None
    single: int | None = None
    for table in tables:
        if len(table) == 2:
            if single not in (None, table[1]):
                return None
            single = table[1]
        elif len(table) > 2:
            each = table[2] - table[1]
            line = table[1] - each, each
            if found not in (None, line) or table[1:] != _points(*line, len(table)):
                return None
            found = line
    if found is None:
        return None if single is None else (single, 0)
    return found if single in (None, sum(found)) else None


def _points(once: int, each: int, places: int) -> tuple[int, ...]:
    if not each:
        return (once,) * (places - 1)
    return tuple(range(once + each, once + each * places, each))


def least_total(tables: tuple[tuple[int, ...], ...], series: int) -> int:
    """The least of ``table[rows]`` summed, over all ways to share ``series`` places out."""
    beyond = 1 << 60

    def by_places(table: tuple[int, ...]) -> npt.NDArray[np.int64]:
        found = np.full(series + 1, beyond, dtype=np.int64)
        found[: len(table)] = table[: series + 1]
        return found

    least = by_places(tables[0]) if tables else by_places((0,))
    for table in tables[1:-1]:
        here = np.array(table[: series + 1], dtype=np.int64)
        # Row by row the places that are left where this bay takes none, one, two.
        before = np.concatenate([np.full(len(here) - 1, beyond, dtype=np.int64), least])
        left = sliding_window_view(before, series + 1)[::-1]
        least = (left + here[:, None]).min(axis=0)
    if len(tables) < 2:
        return int(least[series])
    # Of the last table only the places that are left matter.
    return min(beyond, int((least + by_places(tables[-1])[::-1]).min()))


@lru_cache(maxsize=65536)
def least_in_bays(tables: Tables, series: int, bays: tuple[int, ...]) -> int:
    """The least total over all ways to share places out over these bays, at least one in each."""
    used = tuple([tables[bay] for bay in bays])
    line = _line(used)
    if line is not None:
        return line[0] * len(used) + line[1] * series
    if all(table[1:] == (table[1],) * (len(table) - 1) for table in used):
        return sum(table[1] for table in used)
    return least_total(tuple([table[1:] for table in used]), series - len(used))


@lru_cache(maxsize=65536)
def _common_slope(tables: tuple[tuple[int, ...], ...]) -> int | None:
    """The pieces per series place, if every bay counts them strictly in proportion."""
    slope: int | None = None
    for table in tables:
        if len(table) < 2:
            continue
        if slope is None:
            slope = table[1]
        if any(pieces != slope * rows for rows, pieces in enumerate(table)):
            return None
    return 0 if slope is None else slope
