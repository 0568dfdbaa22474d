"""Whether a part fits the place that the project keeps for its family, in millimetres.

Only where a place has inner sizes and the part's row gives its outer ones; the others are
named by :func:`unchecked`, never passed in silence as if they had been looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bomplan.catalog.records import Part
from bomplan.design.bill.people import enclosure_checks
from bomplan.design.bill.rule import DesignCurrents, Rule, at_least, at_most, same
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.packing import Fit, best_fit, pieces_at_most
from bomplan.project.chassis import PartPlace
from bomplan.sizing.enclosure import WATER_CAUTION, keeps_out
from bomplan.source import computed, given, recalled

SOURCE = given("sizes of the place in the project, outer sizes in the catalogue")
CORE_FAMILIES = ("motor", "controller")


def row_checks(
    context: Context, drive: Drive, currents: DesignCurrents, rule: Rule, part: Part
) -> Iterator[Check]:
    """Everything that a row must pass alone: its family's rule, its covers and its place."""
    yield from rule.suits(context, drive, currents, part)
    yield from enclosure_checks(context, drive, part)
    if rule.family in CORE_FAMILIES:
        return  # a check of the core
    yield from surroundings(context, part)
    if rule.family == "adapter_plate":
        yield from _adapter(context, drive, part)
    place = place_of(context, rule.family)
    if place is not None:
        pieces = rule.base(context, drive, part)
        if pieces > 0:
            yield from _pieces(place, part, pieces)


def core_fits(context: Context, motor: Part, controller: Part) -> Iterator[Check]:
    """Whether motor and controller fit their places; the adapter plate is judged with its row."""
    yield from motor_fits(context, motor)
    yield from surroundings(context, controller)
    place = place_of(context, "controller")
    if place is not None:
        yield from _pieces(place, controller, 1)


def motor_fits(context: Context, motor: Part) -> Iterator[Check]:
    """Whether the motor alone fits its place and stands its heat and water."""
    yield from surroundings(context, motor)
    place = place_of(context, "motor")
    if place is not None:
        yield from _motor(place, motor)


def surroundings(context: Context, part: Part) -> Iterator[Check]:
    """Heat and water of the place of its family, where the row tells what it stands."""
    place = own_place(context, part.family)
    if place is None:
        return
    if place.ambient_c is not None and part.has("ambient_max_c"):
        yield at_least(
            f"place.{part.family}.heat",
            f"hottest air that {part.id} stands, against the air in its place",
            part.number("ambient_max_c"),
            place.ambient_c,
            "°C",
            given("air of the place in the project, the part's own figure in the catalogue"),
            "electronics that are too hot cut back, and age twice as fast for every 10 °C",
        )
    if place.water is not None and part.has("protection"):
        yield same(
            f"place.{part.family}.water",
            f"protection of {part.id} ({part.text('protection')}) suits its place ({place.water})",
            keeps_out(part.text("protection"), place.water),
            recalled(
                "second digit of IEC 60529: 4 for splash, 5 or 6 for jets, 7 or 8 for immersion"
                " (from memory); which place is which: common practice"
            ),
            WATER_CAUTION,
        )


def unchecked(context: Context, parts: Mapping[str, Part]) -> tuple[str, ...]:
    """A sentence for everything that a place asks for and the row of its part does not tell."""
    found = []
    for family, part in parts.items():
        place = own_place(context, family)
        if place is None:
            continue
        if place.room_mm is not None and _sides(part) is None:
            found.append(
                f"Not checked: whether {part.id} fits the place of the family {family};"
                " its catalogue row gives no outer sizes. Measure it before you buy."
            )
        missing = [
            words
            for asked, column, words in (
                (place.ambient_c is not None, "ambient_max_c", "the heat"),
                (place.water not in (None, "dry"), "protection", "the water"),
            )
            if asked and not part.has(column)
        ]
        if missing:
            found.append(
                f"Not checked: whether {part.id} stands {' and '.join(missing)} of its place;"
                " its catalogue row does not say. Read its maker's sheet before you buy."
            )
    return tuple(found)


def own_place(context: Context, family: str) -> PartPlace | None:
    """The place that the project gives the family for itself."""
    return context.project.places.own(family)


def place_of(context: Context, family: str) -> PartPlace | None:
    """The family's place if the project gives its inner sizes."""
    place = own_place(context, family)
    return place if place is not None and place.room_mm is not None else None


def _sides(part: Part) -> tuple[int, int, int] | None:
    if part.length_mm is None or part.width_mm is None or part.height_mm is None:
        return None
    return part.length_mm, part.width_mm, part.height_mm


def _pieces(place: PartPlace, part: Part, pieces: int) -> Iterator[Check]:
    sides, room = _sides(part), place.room_mm
    if sides is None or room is None:
        return
    clear = place.keep_clear_mm
    fit = best_fit(sides, room, clear, place.any_way_up)
    yield at_most(
        f"place.{part.family}",
        f"what {part.id} takes of its place where it is tightest, with {clear} mm clear all round",
        fit.needs_mm,
        fit.room_mm,
        "mm",
        SOURCE,
    )
    if pieces > 1:
        yield at_least(
            f"place.{part.family}.pieces",
            f"how many of {part.id} go into the place of their family",
            pieces_at_most(sides, room, clear, place.any_way_up),
            pieces,
            "pieces",
            computed("layout with the clearance between them"),
        )


def _motor(place: PartPlace, motor: Part) -> Iterator[Check]:
    """Length along the shaft, the round of it, and the half-shaft that runs beside it."""
    sides, room = _sides(motor), place.room_mm
    if sides is None or room is None:
        return
    clear = place.keep_clear_mm
    yield at_most(
        "place.motor.length",
        f"{motor.id} along its shaft with {clear} mm clear at both ends, without adapter plate",
        sides[0] + 2 * clear,
        room[0],
        "mm",
        SOURCE,
    )
    # turned about its shaft as its feet or ports allow
    fit = max(
        (
            min(
                (Fit(side + 2 * clear, there) for side, there in zip(way, room[1:], strict=True)),
                key=lambda one: one.spare_mm,
            )
            for way in (sides[1:], sides[:0:-1])
        ),
        key=lambda one: one.spare_mm,
    )
    yield at_most(
        "place.motor.round",
        f"{motor.id} across its shaft where it is tightest, with {clear} mm clear all round",
        fit.needs_mm,
        fit.room_mm,
        "mm",
        SOURCE,
    )
    if place.half_shaft_mm is not None:
        widest = motor.number_or("diameter_mm", max(sides[1], sides[2]))
        yield at_most(
            "place.motor.half-shaft",
            f"half the width of {motor.id} with {clear} mm clear, against the half-shaft beside it",
            widest / 2 + clear,
            place.half_shaft_mm,
            "mm",
            SOURCE,
        )


def _adapter(context: Context, drive: Drive, plate: Part) -> Iterator[Check]:
    place = place_of(context, "motor")
    length = drive.motor.length_mm
    if place is None or place.room_mm is None or length is None:
        return
    clear = place.keep_clear_mm
    yield at_most(
        "place.motor.with-adapter",
        f"motor and {plate.id} along the shaft with {clear} mm clear at both ends",
        length + plate.number("thickness_mm") + 2 * clear,
        place.room_mm[0],
        "mm",
        SOURCE,
    )
