"""Rows that no best bill can hold, dropped before the model is built.

Row B of a family falls to row A if putting A in B's place keeps every bill sound and makes it
better in the order that the planner goes by (price, mass, then the order of part and supplier).
Sound: A stands beside every partner that B may stand beside, needs as many pieces, is no
heavier, puts no more resistance or 12 V load into the car and gives no less 12 V power. Being
lighter helps only where no mass limit is eased by weight (ahead of the front axle it unloads the
rear one, and shares read both sides), and, like resistance and load, only where every simulated
requirement worsens with it; elsewhere the two must be equal. Better: every supplier of B sells
A no dearer; at a supplier whose shipping is free above some sum the price must be the same, for
a cheaper row might miss that sum.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import numpy.typing as npt

from bomplan.buying.prices import Lot, Source
from bomplan.buying.terms import Terms
from bomplan.design.bill.shared_places import shared_places
from bomplan.design.context import Context
from bomplan.design.spots import bay_spot, spot_of
from bomplan.planner.judge import Beside, BoolArray
from bomplan.planner.options import Row
from bomplan.planner.purchases import plain_price, splits
from bomplan.requirements.loads import mass_rows


def undominated(
    context: Context,
    rows: tuple[Row, ...],
    partners: Sequence[Beside],
    capacity: tuple[int, ...],
    monotone: bool,
) -> tuple[Row, ...]:
    """The rows of one family that some best bill may hold, in their order.

    ``partners`` tell, with this family first, what each row may stand beside; ``monotone`` that
    every simulated requirement worsens with mass, resistance and load.
    """
    if len(rows) == 1:
        return rows
    # Nor need another one fit beside the parts that share its place.
    if any(rows[0].part.family in place.families for place in shared_places(context)):
        return rows
    lighter_helps = monotone and lighter_keeps_limits(context, rows[0], capacity)
    left = _swept(context, rows, partners, lighter_helps)
    if len(left) == 1:
        return (rows[left[0]],)
    # Another row in its place might break a rule of the builder's own.
    ruled = context.project.choices.ruled
    may = _may_fall(context, rows, left, partners, lighter_helps, monotone)
    kept: list[Row] = []
    for number, place in enumerate(left):
        row = rows[place]
        others = (rows[left[other]] for other in np.flatnonzero(may[number]).tolist())
        if any(
            _falls(context, row, other, lighter_helps, monotone)
            for other in others
            if other is not row and not {row.part.id, other.part.id} & ruled
        ):
            continue
        kept.append(row)
    return tuple(kept)


def partners_of(family: str, beside: Mapping[tuple[str, str], Beside]) -> tuple[Beside, ...]:
    """Those of the joints that this family takes part in, itself first."""
    return tuple(
        found if first == family else found.turned
        for (first, second), found in beside.items()
        if family in (first, second)
    )


def _swept(
    context: Context, rows: tuple[Row, ...], partners: Sequence[Beside], lighter_helps: bool
) -> list[int]:
    """The places of the rows that are left once those of one kind are held against each other.

    Rows that are alike in all but mass and one plain price fall in the order of the two, without
    looking at pairs: falling is transitive, so what falls here falls to a row that is left.
    """
    ruled = context.project.choices.ruled
    alike: defaultdict[tuple[object, ...], list[tuple[int, int, str, int]]] = defaultdict(list)
    left: list[int] = []
    kinds = list(zip(*[beside.first.tolist() for beside in partners], strict=True))
    for place, row in enumerate(rows):
        part = row.part
        price = context.prices.list_price(part)
        # Where none may be bought at all, a lower price is no gain.
        if price is None or row.at_hand or part.id in ruled or not (row.base or row.least):
            left.append(place)
            continue
        key = (
            row.base, id(row.tables), row.external_uohm, row.load_12v_w, row.supply_12v_w,
            _box_holds(row), _efficiency(context, row), kinds[place] if kinds else (),
            None if lighter_helps else part.mass_g,
        )  # fmt: skip
        alike[key].append((part.mass_g, price, part.id, place))
    for some in alike.values():
        some.sort()
        least: int | None = None
        for _, price, _, place in some:
            if least is None or price < least:
                least = price
                left.append(place)
    return sorted(left)


def _may_fall(
    context: Context,
    rows: tuple[Row, ...],
    places: list[int],
    partners: Sequence[Beside],
    lighter_helps: bool,
    monotone: bool,
) -> BoolArray:
    """(places, places): what must hold, as far as arrays tell it, for a row to fall to another."""
    some = [rows[place] for place in places]
    may = ~np.eye(len(some), dtype=np.bool_)
    figures: tuple[tuple[list[int] | list[float], bool], ...] = (
        ([row.part.mass_g for row in some], lighter_helps),
        ([row.external_uohm for row in some], monotone),
        ([row.load_12v_w for row in some], monotone),
        ([-row.supply_12v_w for row in some], True),
        ([row.base for row in some], False),
        ([-_box_holds(row) for row in some], True),
        ([-_efficiency(context, row) for row in some], True),
    )
    for values, less_helps in figures:
        one = np.array(values)
        may &= one[:, None] >= one if less_helps else one[:, None] == one
    for prices in _first_prices(some):
        may &= prices[:, None] >= prices
    for beside in partners:
        # A kind may be replaced by one that stands beside everything that it may stand beside.
        allowed = beside.allowed
        covered = np.array([(allowed >= one).all(axis=1) for one in allowed], dtype=np.bool_)
        kinds = beside.first[places]
        may &= covered[kinds][:, kinds]
    return may


def _first_prices(rows: list[Row]) -> Iterator[npt.NDArray[np.float64]]:
    """What the fewest pieces of each row cost at least, supplier by supplier.

    More than anything where the supplier sells none, or no lot is wanted: such a row may fall to
    any, as far as this supplier goes.
    """
    suppliers = sorted({source.supplier for row in rows for source in row.sources})
    for supplier in suppliers:
        found = np.full(len(rows), np.inf)
        for number, row in enumerate(rows):
            for source in row.sources:
                if source.supplier == supplier:
                    for lot in _lots(row, source, row.least)[:1]:
                        found[number] = lot.price
        yield found


def lighter_keeps_limits(context: Context, row: Row, capacity: tuple[int, ...]) -> bool:
    """Whether fewer grams where this family stands make no mass limit harder to keep."""
    spots = [spot_of(context, row.rule)] if row.base else []
    if row.in_bays:
        spots += [bay_spot(context, bay) for bay, most in enumerate(capacity) if most]
    limits = mass_rows(context)
    return all(limit.worsens_at(spot.x_mm, spot.y_mm or 0) for spot in spots for limit in limits)


def _falls(
    context: Context,
    row: Row,
    other: Row,
    lighter_helps: bool,
    monotone: bool,
) -> bool:
    """Whether ``row`` falls to ``other``, which may stand beside all that it may stand beside."""
    if (row.base, row.tables) != (other.base, other.tables):
        return False  # else they are needed in the same numbers
    if not _no_worse(row.part.mass_g, other.part.mass_g, lighter_helps):
        return False
    if not _no_worse(row.external_uohm, other.external_uohm, monotone):
        return False
    if not _no_worse(row.load_12v_w, other.load_12v_w, monotone):
        return False
    if other.supply_12v_w < row.supply_12v_w or _box_holds(other) < _box_holds(row):
        return False
    if _efficiency(context, other) < _efficiency(context, row):
        return False
    cheaper = True
    for source in row.sources:
        better = _better_source(context, row, source, other)
        if better is None:
            return False
        cheaper = cheaper and better < 0
    if cheaper or other.part.mass_g < row.part.mass_g:
        return True
    return other.part.id < row.part.id


def _no_worse(mine: int, others: int, less_helps: bool) -> bool:
    return others <= mine if less_helps else others == mine


def _box_holds(row: Row) -> float:
    """A box that holds less is no substitute; every other family is level here."""
    return row.part.number("max_mass_kg") if row.rule.family == "box" else 0.0


def _efficiency(context: Context, row: Row) -> float:
    """What a charger loses is paid for over the years, where the goal counts them."""
    if context.project.goal.aim != "least-lifetime-cost" or row.rule.family != "charger":
        return 1.0
    return row.part.number("efficiency")


def _better_source(context: Context, row: Row, source: Source, other: Row) -> int | None:
    """-1 if the other row is cheaper at this supplier for every quantity, 0 if never dearer.

    None if it is dearer for some quantity or not sold there.
    """
    match = next((s for s in other.sources if s.supplier == source.supplier), None)
    if match is None:
        return None
    terms = context.prices.terms_of(source)
    if terms.per_kg and other.part.mass_g > row.part.mass_g:
        return None
    if splits(context, row) and not _sold_as_well(row, source, other, match, terms):
        return None
    each, others = plain_price(context, row), plain_price(context, other)
    if each is not None and others is not None and row.least:
        return None if others > each else -1 if others < each else 0
    cheaper = True
    for fitted in row.quantities:
        if row.needed(fitted) < other.needed(fitted):
            return None  # pieces at hand cost nothing: no lot of the other is as good
        mine, theirs = _lots(row, source, fitted), _lots(other, match, fitted)
        if not all(any(_as_good(terms, lot, one) for one in theirs) for lot in mine):
            return None
        # Less than a whole unit may vanish in the rounding of the invoice.
        saved = mine[0].price - theirs[0].price if mine and theirs else 0
        cheaper = cheaper and terms.on_goods * saved >= 1
    return -1 if cheaper else 0


def _lots(row: Row, source: Source, fitted: int) -> tuple[Lot, ...]:
    return source.lots(row.needed(fitted))


def _as_good(terms: Terms, lot: Lot, other: Lot) -> bool:
    """Whether ``other`` can stand in for ``lot`` on any order."""
    if other.price > lot.price or (terms.has_threshold and other.price != lot.price):
        return False
    return not terms.per_kg or other.bought <= lot.bought


def _sold_as_well(row: Row, source: Source, other: Row, match: Source, terms: Terms) -> bool:
    """Whether any share of ``row`` could be one of the other row, step by step."""
    if row.at_hand != other.at_hand or len(source.steps) != len(match.steps):
        return False
    if match.stock is not None and (source.stock is None or match.stock < source.stock):
        return False
    return all(
        (theirs.quantity_from, theirs.pack_size) == (mine.quantity_from, mine.pack_size)
        and theirs.unit_price <= mine.unit_price
        and not (terms.has_threshold and theirs.unit_price != mine.unit_price)
        for mine, theirs in zip(source.steps, match.steps, strict=True)
    )
