"""Rooms that cannot be what was meant: places half measured, bays that reach into each other."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Final

from bomplan.errors import Fault
from bomplan.project.bay_shape import ends_of, free_cells, parts_apart
from bomplan.project.lines import KeyPath
from bomplan.project.records import Bay, Project

_SIDES: Final = ("length", "width", "height")
MOST_PIECES: Final = 10
Finding = tuple[KeyPath, Fault]


def room_figures(project: Project) -> Iterator[Finding]:
    """Places of parts whose room is not whole, or is told of the wrong family."""
    for i, place in enumerate(project.places.parts):
        path: KeyPath = ("places", "parts", i)
        given = [key for key in _SIDES if getattr(place, f"{key}_mm") is not None]
        if given and len(given) < len(_SIDES):
            missing = ", ".join(key for key in _SIDES if key not in given)
            yield (*path, given[0]), Fault(
                "project.place-size", "is one size of a place, and others are missing",
                value=", ".join(given), allowed="length, width and height, or none",
                hint=f"add {missing}",
            )  # fmt: skip
        if not given:
            for key, said in (
                ("keep_clear", place.keep_clear_mm),
                ("any_way_up", place.any_way_up),
                ("half_shaft", place.half_shaft_mm),
            ):
                if said:
                    yield (*path, key), Fault(
                        "project.place-size", "says something of a place that has no size",
                        hint="add length, width and height of the place",
                    )  # fmt: skip
        if place.half_shaft_mm is not None and place.family != "motor":
            yield (*path, "half_shaft"), Fault(
                "project.place-size", "is asked of the motor's place only", value=place.family,
                allowed='family = "motor"',
            )  # fmt: skip


def bay_figures(project: Project) -> Iterator[Finding]:
    """Bays of several boxes whose pieces cannot be what was meant."""
    for i, bay in enumerate(project.bays):
        if not bay.boxes and not bay.blocked:
            continue
        count = len(bay.boxes) + len(bay.blocked)
        sound = count <= MOST_PIECES
        if not sound:
            yield ("bays", i, "blocked" if bay.blocked else "boxes"), Fault(
                "project.bay-pieces", "is more than a bay may be made of",
                value=f"{count} pieces", allowed=f"up to {MOST_PIECES}, boxes and blocked together",
                hint="take small ones together into one box around them",
            )  # fmt: skip
        for key, pieces in (("boxes", bay.boxes), ("blocked", bay.blocked)):
            for j, piece in enumerate(pieces):
                found = tuple(_out_of_bay(bay, ("bays", i, key, j), ends_of(bay, piece)))
                sound = sound and not found
                yield from found
        if not sound:
            continue
        cells = free_cells(bay)
        apart = parts_apart(bay)
        if not cells:
            yield ("bays", i, "blocked" if bay.blocked else "boxes"), Fault(
                "project.bay-pieces", "leaves no room in its bay", value=bay.name,
                allowed="some room for modules", hint="measure again, or take the bay out",
            )  # fmt: skip
        if apart > 1:
            yield ("bays", i, "blocked" if bay.blocked else "boxes"), Fault(
                "project.bay-pieces", "lets the bay fall into rooms that share no face",
                value=f"{apart} rooms", allowed="one room, which one battery box can fill",
                hint="enter each of them as a bay of its own; a floor of [[floors]] joins limits",
            )  # fmt: skip


def _out_of_bay(bay: Bay, path: KeyPath, ends: tuple[tuple[int, int], ...]) -> Iterator[Finding]:
    wholes = (bay.length_mm, bay.width_mm, bay.height_mm)
    for at, key, (low, high), whole in zip("xyz", _SIDES, ends, wholes, strict=True):
        if low >= whole:
            yield (*path, at), Fault(
                "project.bay-pieces", "begins outside of its bay", value=f"{low} mm",
                allowed=f"below the bay's {key}, {whole} mm",
                hint="pieces are measured from the bay's own inner corner at front, left and floor",
            )  # fmt: skip
        elif high > whole:
            yield (*path, key), Fault(
                "project.bay-pieces", "reaches out of its bay",
                value=f"{low} to {high} mm", allowed=f"up to the bay's {key}, {whole} mm",
                hint="the bay's own sizes are its greatest; left out, a piece goes to the far wall",
            )  # fmt: skip


def room_cautions(project: Project) -> Iterator[Finding]:
    """Bays that share space, where side and height of both are known; idle outer sizes."""
    yield from outer_cautions(project)
    for (_, one), (number, other) in combinations(enumerate(project.bays), 2):
        shared = _shared_mm(one, other)
        if shared is not None:
            yield (
                ("bays", number),
                Fault(
                    "project.bays-overlap",
                    f"reaches into bay {one.name}",
                    value=" x ".join(f"{side}" for side in shared) + " mm in common",
                    allowed="bays that are apart: both may be filled",
                    hint="measure again, or leave out one of the two",
                ),
            )


def _shared_mm(one: Bay, other: Bay) -> tuple[int, int, int] | None:
    """Sides of the greatest box that two bays share; None where nothing or unknown."""
    if one.y_mm is None or one.z_mm is None or other.y_mm is None or other.z_mm is None:
        return None
    apart = (other.x_mm - one.x_mm, other.y_mm - one.y_mm, other.z_mm - one.z_mm)
    shared = []
    for cell in free_cells(one):
        for there in free_cells(other):
            sides = [
                min(cell[axis + 3], there[axis + 3] + apart[axis])
                - max(cell[axis], there[axis] + apart[axis])
                for axis in range(3)
            ]
            if min(sides) > 0:
                shared.append((sides[0], sides[1], sides[2]))
    return max(shared, key=lambda sides: sides[0] * sides[1] * sides[2], default=None)


def outer_cautions(project: Project) -> Iterator[Finding]:
    """Outer sizes that the boxes of a bay do not fill."""
    for i, bay in enumerate(project.bays):
        if not bay.boxes:
            continue
        cells = free_cells(bay)
        for axis, key in enumerate(_SIDES):
            whole = getattr(bay, f"{key}_mm")
            low = min(cell[axis] for cell in cells)
            high = max(cell[axis + 3] for cell in cells)
            if (low, high) != (0, whole):
                yield ("bays", i, key), Fault(
                    "project.bay-outer", "is not what the boxes of the bay take together",
                    value=f"{whole} mm", allowed=f"boxes from 0 to {whole} mm",
                    hint=f"its boxes go from {low} to {high} mm",
                )  # fmt: skip
