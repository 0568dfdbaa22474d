"""Lugs against the studs that they are screwed to.

The bill has one row of lugs for all ends of the traction cable: the one that fits the junction box,
where most of them are. An end on a stud of another size takes a lug of the same section with
another hole, which must be to be had; a sentence of the plan and the sheets say how many of which.
A stud that the catalogue does not give is no check: it is told, to be measured.

How many ends go on studs of one size follows from the placement and from other rows of the bill.
Where stock is known or nobody may sell, a row counts as to be had if pieces at hand and stock
suffice for every end outside the junction box, in as many boxes as there may be.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import cast

from bomplan.catalog.records import Part
from bomplan.design.bill.lug_ends import lug_ends, most_ends_elsewhere
from bomplan.design.bill.rule import DesignCurrents, same
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.source import COMMON

STUD = "stud_mm"
HOME = "junction_box"
"""The family whose studs the bill's own row of lugs fits."""
STUDDED = ("fuse_holder", "service_disconnect", "contactor", HOME)
"""Families beside which a row of lugs is judged; module, controller and motor are of the core."""
DRILLED = (
    "a lug that is drilled out, or clamped by a washer over too small a stud, has half its copper"
    " left, runs hot and burns"
)


def hole_sold(context: Context, drive: Drive, area_mm2: float, stud_mm: float) -> Part | None:
    """The cheapest lug of this section with a hole for this stud that can be had."""
    key = ("lug hole", (area_mm2, stud_mm))
    if key not in context.remembered:
        context.remembered[key] = sorted(
            (
                row
                for row in context.catalog.family("lug").values()
                if (row.number("area_mm2"), row.number(STUD)) == (area_mm2, stud_mm)
                and row.id not in context.project.choices.excluded
                and context.prices.sources(row)
            ),
            key=lambda row: (row.price, row.id),
        )
    rows = cast("list[Part]", context.remembered[key])
    return next((row for row in rows if _enough(context, drive, row)), None)


def _enough(context: Context, drive: Drive, row: Part) -> bool:
    """Whether this row can be had for every end outside the junction box.

    Where a seller's stock has no known end, nothing is read of the core.
    """
    if any(source.steps and source.stock is None for source in context.prices.sources(row)):
        return True
    wanted = most_ends_elsewhere(context, drive) - context.project.choices.owned.get(row.id, 0)
    return context.envelope.least(row, wanted) is not None


def stud_checks(context: Context, drive: Drive, lug: Part, part: Part) -> Iterator[Check]:
    """Whether the ends at this part find a lug with its hole; nothing where its stud is unknown."""
    if not part.has(STUD):
        return
    stud, own = part.number(STUD), lug.number(STUD)
    called = part.family.replace("_", " ")
    if part.family == HOME:
        words, fits = f"the lug's hole (M{own:g}) fits the studs of the {called}", own == stud
    else:
        fits = own == stud or hole_sold(context, drive, lug.number("area_mm2"), stud) is not None
        words = f"the lug, or one of its section that is sold, fits the M{stud:g} of the {called}"
    yield same(f"lug.stud.{part.family}", words, fits, COMMON, DRILLED)


def lug_and_stud(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    lug: Part,
    part: Part,
) -> Iterator[Check]:
    """The row of lugs beside a part of the bill that traction cable is screwed to."""
    yield from stud_checks(context, drive, lug, part)


def core_stud_checks(context: Context, drive: Drive, lug: Part) -> Iterator[Check]:
    """The same beside module, controller and motor."""
    for part in (drive.module, drive.controller, drive.motor):
        yield from stud_checks(context, drive, lug, part)


def other_holes(context: Context, drive: Drive, parts: Iterable[Part]) -> list[Part]:
    """Rows of lugs beside the bill's own that its studs ask for, each once."""
    held = {part.family: part for part in parts}
    lug = held.get("lug")
    if lug is None:
        return []
    area, own = lug.number("area_mm2"), lug.number(STUD)
    studs = {part.number(STUD) for part in held.values() if _joined(part)} - {own}
    rows = [hole_sold(context, drive, area, stud) for stud in sorted(studs)]
    return [row for row in rows if row is not None and row.id != lug.id]


def _joined(part: Part) -> bool:
    joined = part.family in (*STUDDED, "module", "controller", "motor")
    return joined and part.has(STUD)


def holes_words(
    context: Context, drive: Drive, rows: tuple[int, ...], parts: Mapping[str, Part]
) -> tuple[str, ...]:
    """Sentences where not every end takes the bill's own lug, or nobody knows what it takes."""
    lug, ends = parts["lug"], lug_ends(drive, rows)
    told = []
    for stud, families in sorted(_by_stud(parts, ends).items(), key=lambda one: one[0] or 0):
        places = ", ".join(f"{family.replace('_', ' ')} {ends[family]}" for family in families)
        number = sum(ends[family] for family in families)
        if stud is None:
            told.append(
                f"Not checked: what stud {number} of the {sum(ends.values())} lugs of the traction"
                f" cable go on ({places}); the catalogue does not say (stud_mm). Measure before"
                " lugs are ordered."
            )
        elif stud != lug.number(STUD):
            sold = hole_sold(context, drive, lug.number("area_mm2"), stud)
            which = f"as {sold.id}" if sold is not None else "which nobody here sells"
            at_hand = 0 if sold is None else context.project.choices.owned.get(sold.id, 0)
            which += f", of which {at_hand} are at hand" if at_hand else ""
            told.append(
                f"To order: of the {sum(ends.values())} lugs of the traction cable {number} with a"
                f" hole for M{stud:g} ({places}), {which}. The bill counts and prices all of them"
                f" as {lug.id}."
            )
    return tuple(told)


def _by_stud(parts: Mapping[str, Part], ends: Mapping[str, int]) -> dict[float | None, list[str]]:
    found: dict[float | None, list[str]] = {}
    for family in ends:
        part = parts.get(family)
        stud = part.number(STUD) if part is not None and part.has(STUD) else None
        found.setdefault(stud, []).append(family)
    return found
