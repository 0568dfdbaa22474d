"""Where the poles of a module stand, and which modules are neighbours.

``+`` and ``-`` are taken to stand on the middle line of the terminals' face, along its longer
side, ``spacing_mm`` apart.
"""

from __future__ import annotations

from typing import Literal

from bomplan.packing.boxes import Stand

Pole = Literal["+", "-"]
Side = Literal["x-", "x+", "y-", "y+", "z-", "z+"]
SPACING_SHARE = 7, 10
"""+ to - over the longer side where nobody measured it: prismatic cells, common practice."""

Point = tuple[int, int, int]  # twice the millimetres, so that middles stay whole
_AXES = "xyz"


def are_neighbours(one: Stand, other: Stand) -> bool:
    """Whether two modules of a layer face each other with no room for a third between them."""
    if one.layer != other.layer:
        return False
    least = min(one.length_mm, one.width_mm, one.height_mm)
    gap_x = max(one.x_mm, other.x_mm) - min(one.x_mm + one.length_mm, other.x_mm + other.length_mm)
    gap_y = max(one.y_mm, other.y_mm) - min(one.y_mm + one.width_mm, other.y_mm + other.width_mm)
    return (gap_x < 0 <= gap_y < least) or (gap_y < 0 <= gap_x < least)


def neighbours(stands: tuple[Stand, ...]) -> tuple[tuple[int, int], ...]:
    """Every pair of neighbours, as indices."""
    by_x = sorted(range(len(stands)), key=lambda n: (stands[n].layer, stands[n].x_mm, n))
    found = []
    for number, first in enumerate(by_x):
        one = stands[first]
        reach = one.x_mm + one.length_mm + min(one.length_mm, one.width_mm, one.height_mm)
        for second in by_x[number + 1 :]:
            other = stands[second]
            if other.layer != one.layer or other.x_mm >= reach:
                break
            if are_neighbours(one, other):
                found.append((first, second))
    return tuple(found)


def terminal(stand: Stand, plus: Side, pole: Pole, spacing_mm: int | None = None) -> Point:
    """Where a pole stands, in half millimetres of the bay: ``spacing`` from the other one."""
    sides = (stand.length_mm, stand.width_mm, stand.height_mm)
    at = [
        2 * corner + size
        for corner, size in zip((stand.x_mm, stand.y_mm, stand.z_mm), sides, strict=True)
    ]
    face = {"x": 0, "y": 1, "up": 2}[stand.terminals]
    at[face] += sides[face]
    axis = _AXES.index(plus[0])
    share, whole = SPACING_SHARE
    spacing = sides[axis] * share // whole if spacing_mm is None else min(spacing_mm, sides[axis])
    at[axis] += spacing if (plus[1] == "+") == (pole == "+") else -spacing
    return at[0], at[1], at[2]


def terminal_axis(stand: Stand) -> int:
    """The direction in which + and - of a module are apart: 0 for x, 1 for y, 2 for z."""
    sides = (stand.length_mm, stand.width_mm, stand.height_mm)
    face = {"x": 0, "y": 1, "up": 2}[stand.terminals]
    return max((axis for axis in range(3) if axis != face), key=lambda axis: (sides[axis], -axis))


def middle(stand: Stand) -> Point:
    """The middle of a module, in half millimetres of the bay."""
    return (
        2 * stand.x_mm + stand.length_mm,
        2 * stand.y_mm + stand.width_mm,
        2 * stand.z_mm + stand.height_mm,
    )


def squares(one: Point, other: Point) -> int:
    """The square of the straight distance."""
    x, y, z = one[0] - other[0], one[1] - other[1], one[2] - other[2]
    return x * x + y * y + z * z


def along_walls(one: Point, other: Point) -> int:
    """The distance along x, y and z."""
    return abs(one[0] - other[0]) + abs(one[1] - other[1]) + abs(one[2] - other[2])
