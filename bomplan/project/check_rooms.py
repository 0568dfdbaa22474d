"""Rooms that cannot be what was meant: places half measured, bays that reach into each other."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Final

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Bay, Project

_SIDES: Final = ("length", "width", "height")
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


def room_cautions(project: Project) -> Iterator[Finding]:
    """Bays that share space, where side and height of both are known."""
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
    """Length, width and height of what two bays have in common; None where nothing or unknown."""
    if one.y_mm is None or one.z_mm is None or other.y_mm is None or other.z_mm is None:
        return None
    sides = [
        min(a + size_a, b + size_b) - max(a, b)
        for a, size_a, b, size_b in (
            (one.x_mm, one.length_mm, other.x_mm, other.length_mm),
            (one.y_mm, one.width_mm, other.y_mm, other.width_mm),
            (one.z_mm, one.height_mm, other.z_mm, other.height_mm),
        )
    ]
    return (sides[0], sides[1], sides[2]) if min(sides) > 0 else None
