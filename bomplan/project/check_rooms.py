"""Rooms that cannot be what was meant: bays that reach into each other."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Bay, Project

Finding = tuple[KeyPath, Fault]


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
