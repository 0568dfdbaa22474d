"""The shape of a bay that is no box: free and blocked pieces on the grid of their own edges.

Everything is exact: between two neighbouring edges nothing changes, so a room of any number of
boxes is a small array of cells, each free or not.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bomplan.packing.boxes import BayBox, Block

Span = tuple[int, int, int, int, int, int]
"""A block as lowest x, y, z and highest x, y, z."""
Cells = NDArray[np.bool_]


@dataclass(frozen=True)
class Grid:
    """Cells between rising edges along x, y and z; ``free`` says which of them are room."""

    edges: tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]
    free: Cells

    def spans(self) -> tuple[Span, ...]:
        """The free cells as few disjoint blocks: grown along x, then y, then z."""
        return tuple(self._block(*cells) for cells in _merged(self.free))

    def _block(self, low: tuple[int, ...], high: tuple[int, ...]) -> Span:
        a = [self.edges[axis][low[axis]] for axis in range(3)]
        b = [self.edges[axis][high[axis]] for axis in range(3)]
        return (a[0], a[1], a[2], b[0], b[1], b[2])


def volume(span: Span) -> int:
    """Of one block, in mm³."""
    return (span[3] - span[0]) * (span[4] - span[1]) * (span[5] - span[2])


def overlap(one: Span, other: Span) -> Span | None:
    """What two blocks have in common; None where they only touch or lie apart."""
    low = [max(one[axis], other[axis]) for axis in range(3)]
    high = [min(one[axis + 3], other[axis + 3]) for axis in range(3)]
    if any(a >= b for a, b in zip(low, high, strict=True)):
        return None
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def grid_of(room: Span, blocked: Iterable[Span]) -> Grid:
    """The cells of a room, free but for those that lie in a blocked piece."""
    found = [shared for one in blocked if (shared := overlap(room, one)) is not None]
    grid = _on_edges(room, found, np.True_)
    for one in found:
        grid.free[_slices(grid, one)] = False
    return grid


def grid_covering(room: Span, pieces: Iterable[Span]) -> Grid:
    """The cells of a room, free only where a piece covers them."""
    found = [shared for one in pieces if (shared := overlap(room, one)) is not None]
    grid = _on_edges(room, found, np.False_)
    for one in found:
        grid.free[_slices(grid, one)] = True
    return grid


def blocked_around(sides: tuple[int, int, int], rooms: Iterable[Block]) -> tuple[Block, ...]:
    """What is left of a box of these sides outside the union of ``rooms``, as blocks."""
    whole: Span = (0, 0, 0, *sides)
    covered = grid_covering(whole, [one.ends for one in rooms])
    return tuple(
        Block(x0, y0, z0, x1 - x0, y1 - y0, z1 - z0)
        for x0, y0, z0, x1, y1, z1 in Grid(covered.edges, ~covered.free).spans()
    )


@lru_cache(maxsize=1024)
def obstacles(bay: BayBox) -> tuple[Span, ...]:
    """What modules must stay out of inside the box's own walls: blocked pieces and a wall more.

    A module keeps the wall's thickness from every blocked piece, as from the faces of the bay.
    """
    wall, inner = bay.wall_mm, inner_span(bay)
    if min(bay.room_mm) <= 0:
        return ()
    grown = [
        shared
        for one in bay.blocked
        if (shared := overlap(inner, (
            *(low - wall for low in one.ends[:3]), *(high + wall for high in one.ends[3:]),
        ))) is not None  # type: ignore[arg-type]
    ]  # fmt: skip
    alone = sorted(set(grown))
    return tuple(
        one for one in alone if not any(_within(one, other) for other in alone if other != one)
    )


def inner_span(bay: BayBox) -> Span:
    """The inside of the box's outer walls, in mm of the bay."""
    length, width, height = bay.room_mm
    wall = bay.wall_mm
    return (wall, wall, wall, wall + length, wall + width, wall + height)


def free_spans(bay: BayBox) -> tuple[Span, ...]:
    """The bay's room as disjoint blocks, before any wall is taken off."""
    whole: Span = (0, 0, 0, bay.length_mm, bay.width_mm, bay.height_mm)
    return grid_of(whole, [one.ends for one in bay.blocked]).spans()


def grown(spans: Iterable[Span], by: tuple[int, int, int]) -> Grid:
    """Blocks made longer at their far ends, as one grid around them all."""
    longer = [(x0, y0, z0, x1 + by[0], y1 + by[1], z1 + by[2]) for x0, y0, z0, x1, y1, z1 in spans]
    if not longer:
        return Grid(((0,), (0,), (0,)), np.zeros((0, 0, 0), dtype=np.bool_))
    room: Span = (
        min(one[0] for one in longer),
        min(one[1] for one in longer),
        min(one[2] for one in longer),
        max(one[3] for one in longer),
        max(one[4] for one in longer),
        max(one[5] for one in longer),
    )
    return grid_covering(room, longer)


def opened(grid: Grid, axis: int, least: int) -> Grid:
    """The grid without pieces that are shorter than ``least`` along one axis."""
    edges = grid.edges[axis]
    turned = np.moveaxis(grid.free, axis, 2)
    kept = np.zeros_like(turned)
    for i in range(turned.shape[0]):
        for j in range(turned.shape[1]):
            for start, end in runs(turned[i, j]):
                if edges[end] - edges[start] >= least:
                    kept[i, j, start:end] = True
    return Grid(grid.edges, np.moveaxis(kept, 2, axis))


def runs(line: Cells) -> list[tuple[int, int]]:
    """Where a line of cells is free: first cell and the one behind the last, of every run."""
    found: list[tuple[int, int]] = []
    start = -1
    for index, free in enumerate(line.tolist()):
        if free and start < 0:
            start = index
        elif not free and start >= 0:
            found.append((start, index))
            start = -1
    if start >= 0:
        found.append((start, len(line)))
    return found


def _within(one: Span, other: Span) -> bool:
    return all(one[axis] >= other[axis] for axis in range(3)) and all(
        one[axis] <= other[axis] for axis in range(3, 6)
    )


def _on_edges(room: Span, blocks: list[Span], free: np.bool_) -> Grid:
    edges = tuple(
        tuple(
            sorted(
                {room[axis], room[axis + 3]}
                | {one[axis] for one in blocks}
                | {one[axis + 3] for one in blocks}
            )
        )
        for axis in range(3)
    )
    sides = tuple(max(0, len(one) - 1) for one in edges)
    return Grid((edges[0], edges[1], edges[2]), np.full(sides, free, dtype=np.bool_))


def _slices(grid: Grid, span: Span) -> tuple[slice, slice, slice]:
    x, y, z = (
        slice(grid.edges[axis].index(span[axis]), grid.edges[axis].index(span[axis + 3]))
        for axis in range(3)
    )
    return x, y, z


def _merged(free: Cells) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    left = free.copy()
    found: list[tuple[tuple[int, ...], tuple[int, ...]]] = []
    for i, j, k in np.argwhere(free).tolist():
        if not left[i, j, k]:
            continue
        a = i + 1
        while a < left.shape[0] and left[a, j, k]:
            a += 1
        b = j + 1
        while b < left.shape[1] and left[i:a, b, k].all():
            b += 1
        c = k + 1
        while c < left.shape[2] and left[i:a, j:b, c].all():
            c += 1
        left[i:a, j:b, k:c] = False
        found.append(((i, j, k), (a, b, c)))
    return found
