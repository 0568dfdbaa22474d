"""For one core: every family it needs, the rows that suit it, and the quantities possible."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import cast

from bomplan.buying.prices import Source
from bomplan.catalog.records import Part
from bomplan.design.assemble import needed_rules, owned
from bomplan.design.bill import DesignCurrents, Rule
from bomplan.design.bill.rule import Side
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.errors import InternalError


@dataclass(frozen=True)
class Row:
    """A row of a family that suits the core: where it sells, and how many may be needed.

    ``tables[bay][rows]`` is the number of pieces in that bay (no tables: none in any);
    ``quantities`` every total that some placement leads to. The last three figures are those
    of one piece.
    """

    rule: Rule
    part: Part
    sources: tuple[Source, ...]
    base: int
    tables: tuple[tuple[int, ...], ...]
    quantities: tuple[int, ...]
    at_hand: int
    external_uohm: int
    load_12v_w: int
    supply_12v_w: int

    @property
    def least(self) -> int:
        return self.quantities[0]

    def fitted(self, rows: tuple[int, ...]) -> int:
        """Pieces fitted for this placement."""
        return self.base + sum(
            table[count] for table, count in zip(self.tables, rows, strict=False)
        )

    def price(self, source: Source, fitted: int) -> int:
        """What ``fitted`` pieces cost from this source, after those at hand."""
        return source.buy(fitted - min(self.at_hand, fitted))[2]

    @cached_property
    def in_bays(self) -> bool:
        return any(any(table) for table in self.tables)


@dataclass(frozen=True)
class Options:
    """All rows of a core by family, in the families' fixed order, and each bay's capacity."""

    rows: dict[str, tuple[Row, ...]]
    capacity: tuple[int, ...]


@dataclass(frozen=True)
class NoOption:
    """No row of this family suits the core; ``reason`` is the check that most rows fail."""

    family: str
    reason: str


def find_options(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    capacity: tuple[int, ...],
    known: dict[str, tuple[Row, ...]] | None = None,
) -> Options | NoOption:
    """Every family's suitable rows, or the first family that has none.

    ``known`` holds families that were judged before, from the pack or the drive alone.
    """
    found: dict[str, tuple[Row, ...]] = {}
    for rule in needed_rules(context, drive):
        rows = None if known is None else known.get(rule.family)
        if rows is None:
            judged = suitable(context, drive, rule, currents, capacity)
            if isinstance(judged, NoOption):
                return judged
            rows = judged
        found[rule.family] = rows
    return Options(found, capacity)


def side_rows(
    context: Context, drive: Drive, side: Side, capacity: tuple[int, ...]
) -> dict[str, tuple[Row, ...]] | NoOption:
    """The suitable rows of every family that reads one side of the core only."""
    found: dict[str, tuple[Row, ...]] = {}
    for rule in needed_rules(context, drive):
        if rule.side != side:
            continue
        judged = suitable(context, drive, rule, cast(DesignCurrents, UNREAD), capacity)
        if isinstance(judged, NoOption):
            return judged
        found[rule.family] = judged
    return found


class _Unread:
    """Stands where a rule of one side must not look."""

    def __getattr__(self, name: str) -> object:
        raise InternalError(f"a rule of one side of the core reads {name} of the other")


UNREAD = _Unread()


def suitable(
    context: Context,
    drive: Drive,
    rule: Rule,
    currents: DesignCurrents,
    capacity: tuple[int, ...],
) -> tuple[Row, ...] | NoOption:
    """The rows of one family that suit the core, or why none does."""
    rows, reasons = [], Counter[str]()
    shared: tuple[tuple[int, ...], ...] | None = None
    for part in candidates(context, drive, rule):
        failed = next(
            (c.id for c in rule.suits(context, drive, currents, part) if not c.passed), None
        )
        if failed is not None:
            reasons[failed] += 1
            continue
        sources = context.prices.sources(part)
        if not sources:
            reasons["supplier"] += 1
            continue
        if shared is None or rule.table_by_part:
            shared = _tables(context, drive, rule, part, capacity)
        rows.append(_row(context, drive, rule, part, sources, shared))
    if not rows:
        most = max(sorted(reasons), key=lambda name: reasons[name], default="none listed")
        return NoOption(rule.family, most)
    return tuple(rows)


def candidates(context: Context, drive: Drive, rule: Rule) -> list[Part]:
    """The rows of a family that the core and the builder's choices leave, by id."""
    if rule.family == "motor":
        return [drive.motor]
    if rule.family == "controller":
        return [drive.controller]
    if rule.family == "module":
        return [drive.module]
    choices = context.project.choices
    rows = context.catalog.family(rule.family)
    locked = choices.parts.get(rule.family)
    if locked is not None:
        return [rows[locked]] if locked in rows else []
    return [rows[part_id] for part_id in sorted(rows) if part_id not in choices.excluded]


def _row(
    context: Context,
    drive: Drive,
    rule: Rule,
    part: Part,
    sources: tuple[Source, ...],
    tables: tuple[tuple[int, ...], ...],
) -> Row:
    base = rule.base(context, drive, part)
    return Row(
        rule=rule,
        part=part,
        sources=sources,
        base=base,
        tables=tables,
        quantities=_totals(base, tables, drive.core.series),
        at_hand=owned(context, part),
        external_uohm=rule.external_uohm(drive, part),
        load_12v_w=rule.mean_12v_w(part),
        supply_12v_w=rule.supply_12v_w(part),
    )


def _tables(
    context: Context, drive: Drive, rule: Rule, part: Part, capacity: tuple[int, ...]
) -> tuple[tuple[int, ...], ...]:
    return tuple(
        tuple(
            rule.in_bay(context, drive, part, bay, rows) if rows else 0 for rows in range(most + 1)
        )
        for bay, most in enumerate(capacity)
    )


@lru_cache(maxsize=65536)
def _totals(base: int, tables: tuple[tuple[int, ...], ...], series: int) -> tuple[int, ...]:
    """Every total over all placements of ``series`` places, ascending."""
    slope = _common_slope(tables)
    if slope is not None:
        return (base + slope * series,)
    reached: dict[int, set[int]] = {0: {base}}
    for table in tables:
        following: dict[int, set[int]] = {}
        for used, totals in reached.items():
            for rows, pieces in enumerate(table):
                if used + rows > series:
                    break
                following.setdefault(used + rows, set()).update(total + pieces for total in totals)
        reached = following
    return tuple(sorted(reached.get(series, set())))


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
