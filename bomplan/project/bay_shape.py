"""The room of a bay of several boxes, as cells between the edges of its pieces."""

from __future__ import annotations

from itertools import pairwise, product

from bomplan.project.chassis import BayPiece
from bomplan.project.records import Bay

Cell = tuple[int, int, int, int, int, int]
"""Lowest x, y, z and highest x, y, z, in mm of the bay."""
_Ends = tuple[tuple[int, int], tuple[int, int], tuple[int, int]]


def ends_of(bay: Bay, piece: BayPiece) -> _Ends:
    """Where a piece begins and ends along x, y and z; a side left out reaches the far wall."""

    def side(low: int, size: int | None, whole: int) -> tuple[int, int]:
        return low, max(low, whole) if size is None else low + size

    return (
        side(piece.x_mm, piece.length_mm, bay.length_mm),
        side(piece.y_mm, piece.width_mm, bay.width_mm),
        side(piece.z_mm, piece.height_mm, bay.height_mm),
    )


def free_cells(bay: Bay) -> tuple[Cell, ...]:
    """The room of the bay as disjoint boxes, each as long as it goes along the car."""
    rows: dict[tuple[int, int, int, int], list[Cell]] = {}
    for cell in _cells(bay):
        rows.setdefault((cell[1], cell[2], cell[4], cell[5]), []).append(cell)
    found: list[Cell] = []
    for row in rows.values():
        for cell in sorted(row):
            if found and found[-1][1:3] == cell[1:3] and found[-1][3] == cell[0]:
                cell = (*found.pop()[:3], *cell[3:])
            found.append(cell)
    return tuple(found)


def parts_apart(bay: Bay) -> int:
    """In how many parts the bay falls that share no face with one another."""
    left = {cell[:3]: cell for cell in _cells(bay)}
    before = {
        (axis, *_moved(cell[:3], axis, cell[axis + 3])): cell[:3]
        for cell in left.values()
        for axis in range(3)
    }
    count = 0
    while left:
        count += 1
        fresh = [left.popitem()[1]]
        while fresh:
            one = fresh.pop()
            for axis in range(3):
                for corner in (
                    _moved(one[:3], axis, one[axis + 3]),
                    before.get((axis, *one[:3])),
                ):
                    if corner in left:
                        fresh.append(left.pop(corner))
    return count


def _moved(corner: tuple[int, int, int], axis: int, to: int) -> tuple[int, int, int]:
    x, y, z = (to if axis == other else at for other, at in enumerate(corner))
    return x, y, z


def _cells(bay: Bay) -> tuple[Cell, ...]:
    """The free cells of the grid on which nothing changes inside a cell."""
    rooms = [ends_of(bay, piece) for piece in bay.boxes]
    blocked = [ends_of(bay, piece) for piece in bay.blocked]
    edges = [
        sorted(
            {0, whole}
            | {at for piece in (*rooms, *blocked) for at in piece[axis] if 0 < at < whole}
        )
        for axis, whole in enumerate((bay.length_mm, bay.width_mm, bay.height_mm))
    ]
    return tuple(
        (x[0], y[0], z[0], x[1], y[1], z[1])
        for x, y, z in product(*(pairwise(one) for one in edges))
        if (not rooms or _covered((x[0], y[0], z[0]), rooms))
        and not _covered((x[0], y[0], z[0]), blocked)
    )


def _covered(corner: tuple[int, int, int], pieces: list[_Ends]) -> bool:
    return any(
        all(low <= at < high for at, (low, high) in zip(corner, piece, strict=True))
        for piece in pieces
    )
