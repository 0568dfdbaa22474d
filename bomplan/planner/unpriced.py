"""Rows that some bill of a core needs where no price is asked: far fewer than with prices.

Whether a core has any bill at all hangs on grams, resistance, 12 V load, places and joints; on
prices only where a budget or a seller's least order holds. So a row falls to one that is no worse
in all of these, may stand beside all that it may stand beside and can be had wherever it can,
however dear that one is. A bill with the row stays one with the other in its place, and the least
grams, resistance and load of each family stay what they are.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bomplan.design.bill import DesignCurrents
from bomplan.design.bill.body import box_holds_g
from bomplan.design.bill.shared_places import shared_places
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.dominance import lighter_keeps_limits, partners_of
from bomplan.planner.judge import Beside, BoolArray, Judge
from bomplan.planner.options import Options, Row, counted
from bomplan.planner.purchases import splits


def prices_matter(context: Context) -> bool:
    """Whether a dearer row may break more than a budget: a least order or a number of sellers."""
    return context.project.buying.suppliers_max is not None or any(
        one.minimum_order > 0 for one in context.prices.terms.values()
    )


def unpriced(
    context: Context,
    judge: Judge,
    drive: Drive,
    currents: DesignCurrents,
    options: Options,
) -> Options:
    """The core's rows of which some bill is made if any is, whatever it costs.

    As far as limits tell, and simulated requirements that worsen with mass, resistance and load;
    not to be asked where :func:`prices_matter`.
    """
    options = counted(context, drive, options)
    beside = judge.neighbours(drive, currents, options.rows)
    shared = {family for place in shared_places(context) for family in place.families}
    rows = {
        family: some
        if len(some) == 1 or family in shared
        else _left(context, some, partners_of(family, beside), options.capacity)
        for family, some in options.rows.items()
    }
    return Options(rows, options.capacity)


def _left(
    context: Context,
    rows: tuple[Row, ...],
    partners: Sequence[Beside],
    capacity: tuple[int, ...],
) -> tuple[Row, ...]:
    may = falls(context, rows, partners, capacity)
    # Of rows that fall to each other the first stays.
    before = np.tri(len(rows), k=-1, dtype=np.bool_)
    fallen: BoolArray = np.any(may & (~may.T | before), axis=1)
    return tuple([row for row, gone in zip(rows, fallen.tolist(), strict=True) if not gone])


def falls(
    context: Context,
    rows: tuple[Row, ...],
    partners: Sequence[Beside],
    capacity: tuple[int, ...],
) -> BoolArray:
    """(rows, rows): whether the second may stand in the first one's place in any bill."""
    lighter_helps = lighter_keeps_limits(context, rows[0], capacity)
    numbers: dict[object, int] = {}
    tables = [
        numbers.setdefault((row.base, row.tables, row.series, row.spares), len(numbers))
        for row in rows
    ]
    figures: tuple[tuple[list[int], bool], ...] = (
        ([row.part.mass_g for row in rows], lighter_helps),
        ([row.external_uohm for row in rows], True),
        ([row.load_12v_w for row in rows], True),
        ([-row.supply_12v_w for row in rows], True),
        ([-_holds_g(row) for row in rows], True),
        (tables, False),
    )
    free = np.array([_plain(context, row) for row in rows], dtype=np.bool_)
    may: BoolArray = free[:, None] & free & ~np.eye(len(rows), dtype=np.bool_)
    for values, less_helps in figures:
        one = np.array(values)
        may &= one[:, None] >= one if less_helps else one[:, None] == one
    for beside in partners:
        allowed = beside.allowed
        covered = np.array([(allowed >= one).all(axis=1) for one in allowed], dtype=np.bool_)
        may &= covered[beside.first][:, beside.first]
    sold = [_sold(row) for row in rows]
    for name in sorted(frozenset().union(*sold)):
        here = np.array([name in some for some in sold])
        may &= ~here[:, None] | here
    return may


def _plain(context: Context, row: Row) -> bool:
    """Whether a row may stand for another or fall to it: no rule names it, none is at hand."""
    ruled = row.part.id in context.project.choices.ruled
    return not ruled and not row.at_hand and not splits(context, row)


def _sold(row: Row) -> frozenset[tuple[str, int]]:
    """Where it is sold, and in which of the numbers that may be fitted."""
    return frozenset(
        (source.supplier, fitted)
        for source in row.sources
        for fitted in row.quantities
        if row.needed(fitted) == 0 or source.lots(row.needed(fitted))
    )


def _holds_g(row: Row) -> int:
    return box_holds_g(row.part) if row.rule.family == "box" else 0


__all__ = ["falls", "prices_matter", "unpriced"]
