"""How many modules a bay that is no box can hold at most, proven without packing them.

Every module takes a block of its own: its body with the clearance before its terminals, a gap
behind it and a shelf above it. These blocks lie in the room made longer by a gap and a shelf,
without what is too narrow or too low for any module; three arguments bound their number, the
least counts:

* cuts: planes at a fixed distance no greater than one block each meet every block once, so a
  bound on the blocks of each plane adds up to one of the bay, wherever the first plane lies;
* lines: a straight line crosses modules whose sides follow one another on it; where each counts
  as one part in the area that it shows to lines that way, all lines together count every module
  once, so no more stand there than the best filling of each line adds up to;
* for modules that stay upright, the bay without its blocked pieces.

No bound asks that layers go through: modules may stand at different levels side by side.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from math import lcm

import numpy as np

from bomplan.packing import layers
from bomplan.packing.bounds import rectangles_at_most
from bomplan.packing.boxes import BayBox, Footprint, ModuleBox, footprints
from bomplan.packing.shape import Cells, Grid, grid_of, grown, inner_span, obstacles, opened, runs

Edges = tuple[int, ...]
Items = tuple[tuple[int, int], ...]
Worths = tuple[int, Items]


def shaped_at_most(bay: BayBox, module: ModuleBox) -> int:
    """A proven upper bound on how many of the module stand in the bay, whatever its shape."""
    if min(bay.room_mm) <= 0:
        return 0
    kinds = footprints(module)
    room = _reachable(grid_of(inner_span(bay), obstacles(bay)), kinds)
    gap, shelf = module.gap_mm, bay.shelf_mm
    taken = grown(room.spans(), (gap, gap, shelf))
    if taken.free.size == 0:
        return 0
    if module.end_plate_mm > 0:
        most = max(
            _rows_at_most(taken, module, shelf),
            _rows_at_most(_turned(taken), module, shelf),
        )
    elif len(kinds) == 1:
        most = _upright_at_most(taken, kinds[0], gap, shelf)
    else:
        most = _any_at_most(taken, kinds, gap, shelf)
    if len(kinds) == 1:
        plain = BayBox(bay.length_mm, bay.width_mm, bay.height_mm, bay.wall_mm, bay.shelf_mm)
        most = min(most, layers.at_most(plain, module))
    return most


def _reachable(room: Grid, kinds: tuple[Footprint, ...]) -> Grid:
    """The room without pieces that no module gets into."""
    thin = min(min(one.along_mm, one.across_mm) for one in kinds)
    low = min(one.rise_mm for one in kinds)
    while True:
        left = room
        for axis, least in ((0, thin), (1, thin), (2, low)):
            left = opened(left, axis, least)
        if bool((left.free == room.free).all()):
            return left
        room = left


def _turned(grid: Grid) -> Grid:
    x, y, z = grid.edges
    return Grid((y, x, z), grid.free.swapaxes(0, 1))


def _upright_at_most(taken: Grid, kind: Footprint, gap: int, shelf: int) -> int:
    xs, ys, zs = taken.edges
    sides = (kind.along_mm + gap, kind.across_mm + gap)
    planes = [_plane_at_most(taken.free[:, :, k], xs, ys, sides) for k in range(len(zs) - 1)]
    return _cuts(zs, kind.rise_mm + shelf, planes)


def _any_at_most(taken: Grid, kinds: tuple[Footprint, ...], gap: int, shelf: int) -> int:
    """Modules that may lie: any mixture of attitudes."""
    turned = [
        sides
        for one in kinds
        for a, b in [(one.along_mm + gap, one.across_mm + gap)]
        for sides in ((a, b, one.rise_mm + shelf), (b, a, one.rise_mm + shelf))
    ]
    xs, ys, zs = taken.edges
    flat = sorted({(a, b) for a, b, _ in turned})
    planes = [
        min(
            _filled_plane(taken.free[:, :, k], xs, ys, _worths((b, a) for a, b in flat)),
            _filled_plane(taken.free[:, :, k].T, ys, xs, _worths(flat)),
        )
        for k in range(len(zs) - 1)
    ]
    return min(
        *(_filled_room(taken, axis, turned) for axis in range(3)),
        _cuts(zs, min(rise for _, _, rise in turned), planes),
    )


def _rows_at_most(taken: Grid, module: ModuleBox, shelf: int) -> int:
    """Clamped rows along the grid's x; each stretch of free room pays for one pair of plates."""
    kinds, gap = footprints(module), module.gap_mm
    thick, plates = kinds[0].across_mm + gap, 2 * module.end_plate_mm
    xs, ys, zs = taken.edges

    def line(j: int, k: int) -> int:
        return sum(
            max(0, (xs[end] - xs[start] - plates) // thick)
            for start, end in runs(taken.free[:, j, k])
        )

    cells = [[line(j, k) for j in range(len(ys) - 1)] for k in range(len(zs) - 1)]
    broad = min(one.along_mm for one in kinds) + gap
    rise = min(one.rise_mm for one in kinds) + shelf
    most = _cuts(zs, rise, [_cuts(ys, broad, row) for row in cells])
    least = min((one.along_mm + gap) * (one.rise_mm + shelf) for one in kinds)
    area = sum(
        count * (ys[j + 1] - ys[j]) * (zs[k + 1] - zs[k])
        for k, row in enumerate(cells)
        for j, count in enumerate(row)
    )
    sides = [(thick, one.along_mm + gap, one.rise_mm + shelf) for one in kinds]
    return min(most, area // least, *(_filled_room(taken, axis, sides) for axis in (1, 2)))


def _cuts(edges: Edges, step: int, between: list[int]) -> int:
    """The least sum over planes ``step`` apart, wherever the first of them lies.

    ``between`` bounds a plane between two neighbouring edges. Only where a plane passes an
    edge does the sum change, so it is enough to begin at each of them.
    """

    def total(first: int) -> int:
        # planes at first + n step with low <= plane < high
        return sum(
            count * ((high - 1 - first) // step - (low - 1 - first) // step)
            for (low, high), count in zip(pairwise(edges), between, strict=True)
        )

    return min(total(first) for first in {edge % step for edge in edges})


def _plane_at_most(free: Cells, xs: Edges, ys: Edges, sides: tuple[int, int]) -> int:
    """Rectangles of two sides in a plane of cells, each connected piece by itself."""
    total, worths = 0, _worths((sides, sides[::-1]))
    for piece in _pieces(free):
        columns, rows = np.flatnonzero(piece.any(axis=1)), np.flatnonzero(piece.any(axis=0))
        length = xs[columns[-1] + 1] - xs[columns[0]]
        width = ys[rows[-1] + 1] - ys[rows[0]]
        total += min(
            rectangles_at_most(length, width, max(sides), min(sides)),
            _filled_plane(piece, xs, ys, worths),
            _filled_plane(piece.T, ys, xs, worths),
        )
    return total


def _pieces(free: Cells) -> list[Cells]:
    """The connected pieces of a plane, cells joined by an edge."""
    left = {(int(i), int(j)) for i, j in np.argwhere(free)}
    found = []
    for cell in sorted(left):
        if cell not in left:
            continue
        left.remove(cell)
        piece, fresh = np.zeros_like(free), [cell]
        while fresh:
            i, j = fresh.pop()
            piece[i, j] = True
            for beside in ((i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)):
                if beside in left:
                    left.remove(beside)
                    fresh.append(beside)
        found.append(piece)
    return found


def _filled_plane(free: Cells, xs: Edges, ys: Edges, worths: Worths) -> int:
    """What lines along y can hold of a plane, each item worth its share of a module."""
    common, items = worths
    total = sum(
        (xs[i + 1] - xs[i]) * _best_worth(ys[end] - ys[start], items)
        for i in range(free.shape[0])
        for start, end in runs(free[i])
    )
    return total // common


def _filled_room(grid: Grid, axis: int, turned: list[tuple[int, int, int]]) -> int:
    """What lines along one axis can hold of a room: the same with what lies behind a line."""
    first, second = (other for other in range(3) if other != axis)
    common, items = _worths((one[axis], one[first] * one[second]) for one in turned)
    free = np.moveaxis(grid.free, axis, 2)
    along, across, up = grid.edges[axis], grid.edges[first], grid.edges[second]
    total = sum(
        (across[i + 1] - across[i])
        * (up[j + 1] - up[j])
        * _best_worth(along[end] - along[start], items)
        for i in range(free.shape[0])
        for j in range(free.shape[1])
        for start, end in runs(free[i, j])
    )
    return total // common


def _worths(sides: Iterable[tuple[int, int]]) -> Worths:
    """Items of a line: a module is as long as its first figure and worth one part in its second.

    Returned as whole numbers of one part in the common multiple of all.
    """
    given = sorted(set(sides))
    common = lcm(*(behind for _, behind in given))
    return common, tuple((length, common // behind) for length, behind in given)


@lru_cache(maxsize=16384)
def _best_worth(limit: int, items: Items) -> int:
    """The greatest worth of items, each as often as wanted, that go onto a line."""
    best = [0] * (limit + 1)
    for length, worth in items:
        for at in range(length, limit + 1):
            more = best[at - length] + worth
            if more > best[at]:
                best[at] = more
    return best[limit]
