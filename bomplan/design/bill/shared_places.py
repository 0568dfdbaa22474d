"""Places in which parts of several families stand together: whether all of them go in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bomplan.catalog.records import Part
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.rule import at_most, same
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.packing import MOST_TOGETHER, best_together
from bomplan.project.chassis import PartPlace
from bomplan.source import given

SOURCE = given(
    "sizes of the place in the project, outer sizes in the catalogue; straight cuts only"
)


def shared_places(context: Context) -> tuple[PartPlace, ...]:
    """The places with inner sizes that several families share."""
    return tuple(
        place for place in context.project.places.parts if place.also and place.room_mm is not None
    )


def shared_checks(context: Context, drive: Drive, parts: Mapping[str, Part]) -> Iterator[Check]:
    """Every shared place against the parts that stand in it; ``parts`` by family.

    A part without outer sizes is left out here, and named where the plan tells what was not
    checked.
    """
    for place in shared_places(context):
        yield from place_checks(context, drive, place, parts)


def place_checks(
    context: Context, drive: Drive, place: PartPlace, parts: Mapping[str, Part]
) -> Iterator[Check]:
    """One shared place; nothing where fewer than two pieces are known to stand in it."""
    groups, names = [], []
    for family in place.families:
        part = parts.get(family)
        if part is None:
            continue
        pieces = RULE_OF[family].base(context, drive, part)
        if pieces == 0 or None in (part.length_mm, part.width_mm, part.height_mm):
            continue
        groups.append(((part.length_mm, part.width_mm, part.height_mm), pieces))
        names.append(part.id if pieces == 1 else f"{pieces} x {part.id}")
    room = place.room_mm
    if room is None or sum(count for _, count in groups) < 2:
        return
    words = f"{', '.join(names)} in one place"
    fit = best_together(tuple(groups), room, place.keep_clear_mm, place.any_way_up)
    if fit is None:
        yield same(
            f"place.shared.{place.family}",
            f"{words}: no more than {MOST_TOGETHER} pieces are looked at together",
            False,
            SOURCE,
        )
        return
    yield at_most(
        f"place.shared.{place.family}",
        f"{words}, where it is tightest, with {place.keep_clear_mm} mm clear around each",
        fit.needs_mm,
        fit.room_mm,
        "mm",
        SOURCE,
    )
