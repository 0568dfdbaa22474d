"""Where in the car each piece of the bill stands, and the moments that follow from it.

A place whose ``y`` is not known counts in the middle of the car, which adds no lateral moment;
:func:`bomplan.design.weights.weights_record` names every such place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.packing import height_table, lateral_table, moment_table

if TYPE_CHECKING:
    from bomplan.design.bill import Rule
    from bomplan.design.drive import Drive


@dataclass(frozen=True)
class Spot:
    """A point of the car in mm; None where nobody measured it."""

    x_mm: int
    y_mm: int | None
    z_mm: int | None


def spot_of(context: Context, rule: Rule) -> Spot:
    """Where the pieces of a family stand that are in no bay: its own place, or the common one."""
    return place_spot(context, rule.family, rule.place)


def place_spot(context: Context, family: str, place: str) -> Spot:
    """The family's own place in the project, or the common one of this name."""
    places = context.project.places
    own = places.own(family)
    if own is not None:
        return Spot(own.x_mm, own.y_mm, own.z_mm)
    return Spot(*(getattr(places, f"{place}_{axis}_mm") for axis in "xyz"))


def bay_spot(context: Context, index: int) -> Spot:
    """The middle of a bay, each coordinate floored to the millimetre."""
    bay = context.bays[index]
    return Spot(
        context.bay_centre_mm(index),
        None if bay.y_mm is None else bay.y_mm + bay.width_mm // 2,
        None if bay.z_mm is None else bay.z_mm + bay.height_mm // 2,
    )


def lateral_moments(mass_g: int, spot: Spot) -> tuple[int, int]:
    """m y in g·mm and m x y in g·mm² of a mass at a spot."""
    if spot.y_mm is None:
        return 0, 0
    return mass_g * spot.y_mm, mass_g * spot.x_mm * spot.y_mm


def bay_lateral_moments(
    context: Context, drive: Drive, rule: Rule, part: Part, bay: int, rows: int
) -> tuple[int, int]:
    """m y in g·mm and m x y in g·mm² of a family's pieces in one bay.

    Modules count where each of them stands, everything else at the bay's middle.
    """
    record = context.bays[bay]
    if rows == 0 or record.y_mm is None:
        return 0, 0
    if rule.family != "module":
        pieces = rule.in_bay(context, drive, part, bay, rows)
        return lateral_moments(part.mass_g * pieces, bay_spot(context, bay))
    count = rows * drive.core.parallel
    found = context.layout(bay, part)
    along = moment_table(found)[count]
    aside, cross = lateral_table(found)[count]
    x_mm, y_mm = record.x_mm, record.y_mm
    return (
        part.mass_g * (count * y_mm + aside),
        part.mass_g * (count * x_mm * y_mm + x_mm * aside + y_mm * along + cross),
    )


def bay_height_moment(
    context: Context, drive: Drive, rule: Rule, part: Part, bay: int, rows: int
) -> int | None:
    """m z in g·mm of a family's pieces in one bay; None where the bay has no height."""
    spot = bay_spot(context, bay)
    record = context.bays[bay]
    if spot.z_mm is None or record.z_mm is None:
        return None
    if rows == 0:
        return 0
    if rule.family != "module":
        return part.mass_g * rule.in_bay(context, drive, part, bay, rows) * spot.z_mm
    count = rows * drive.core.parallel
    return part.mass_g * (count * record.z_mm + height_table(context.layout(bay, part))[count])
