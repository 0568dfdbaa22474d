"""Equal rectangles in a rectangle by splitting it into L-shaped pieces.

Finds layouts that five blocks cannot. Idea: L. Lins, S. Lins and R. Morabito, "An L-approach
for packing (l, w)-rectangles into rectangular and L-shaped pieces", J. Operational Research
Society 54 (2003) 777-789 (from memory). Which cuts exist is derived here: every bend of a
staircase cut is an inward corner of one side, and no piece may have more than one of them.

A piece (X, Y, x, y) is the union of X x y and x x Y, both at the same full corner; a rectangle
is (X, Y, X, Y).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from bomplan.packing.bounds import fillable, rectangles_at_most

Piece = tuple[int, int, int, int]
Part = tuple[Piece, int, int, int, int]
"""A piece, where its full corner lies (x, y) and which way it extends from there (+1, -1)."""
Box = tuple[int, int, int, int]
"""Lower left corner, size along x, size along y."""
_NOTHING: Piece = (0, 0, 0, 0)


class _Limits(dict[Piece, int]):
    """Upper bounds of pieces: their area, or the sharper bound of a rectangle."""

    def __init__(self, long: int, short: int) -> None:
        super().__init__()
        self.sides = (long, short)

    def __missing__(self, piece: Piece) -> int:
        big_x, big_y, x, y = piece
        if x == big_x:
            larger, smaller = max(big_x, big_y), min(big_x, big_y)
            found = rectangles_at_most(larger, smaller, *self.sides)
        else:
            found = (big_x * y + x * (big_y - y)) // (self.sides[0] * self.sides[1])
        self[piece] = found
        return found


class LPieces:
    """One recursion over L-shaped pieces for one size of rectangle.

    ``blocks`` gives for a rectangle a count and boxes found by a simpler rule. ``steps``
    bounds how many cuts are weighed up; after that the best known is answered.
    """

    def __init__(
        self,
        length: int,
        width: int,
        long: int,
        short: int,
        steps: int,
        blocks: Callable[[int, int], list[Box]],
    ) -> None:
        self.long = long
        self.short = short
        self.steps_left = steps
        self.blocks = blocks
        self.sums = fillable(max(length, width), long, short)
        reached = set(self.sums)
        self.down: list[int] = []
        last = 0
        for at in range(max(length, width) + 1):
            last = at if at in reached else last
            self.down.append(last)
        self.least: dict[Piece, int] = {}
        self.refused: dict[Piece, int] = {}
        self.cut: dict[Piece, tuple[Part, Part]] = {}
        self.limits = _Limits(long, short)
        self.rasters: dict[int, tuple[int, ...]] = {}

    def pack(self, length: int, width: int, need: int) -> list[Box]:
        """At least ``need`` boxes in ``length`` x ``width``, or no box if that is not found."""
        piece = self.normal(length, width, length, width)
        return self.place(piece) if self.holds(piece, need) else []

    def normal(self, big_x: int, big_y: int, x: int, y: int) -> Piece:
        """The piece cut down to what can be filled, in the one form that is kept."""
        down = self.down
        big_x, big_y, x, y = down[big_x], down[big_y], down[x], down[y]
        if x == 0:
            x, big_y = big_x, y
        elif y == 0:
            y, big_x = big_y, x
        elif x == big_x or y == big_y:
            x, y = big_x, big_y
        if big_x == 0 or big_y == 0:
            return _NOTHING
        return (big_x, big_y, x, y)

    def raster(self, size: int) -> tuple[int, ...]:
        """Places of cuts that suffice within ``size``, 0 and ``size`` included, rising."""
        known = self.rasters.get(size)
        if known is None:
            known = tuple(sorted({self.down[size - at] for at in self.sums if at <= size}))
            self.rasters[size] = known
        return known

    def holds(self, piece: Piece, need: int) -> bool:
        """Whether a layout of at least ``need`` boxes is found in a normal piece."""
        if need <= 0:
            return True
        if need > self.limits[piece]:
            return False
        piece = _upright(piece)
        if piece not in self.least:
            big_x, big_y, x, _ = piece
            self.least[piece] = len(self.blocks(big_x, big_y)) if x == big_x else 0
        if self.least[piece] >= need:
            return True
        if need >= self.refused.get(piece, need + 1):
            return False
        limits = self.limits
        for first, second in self.parts(piece):
            if self.steps_left <= 0:
                return False
            self.steps_left -= 1
            most_first, most_second = limits[first[0]], limits[second[0]]
            if most_first + most_second < need:
                continue
            # every way to share the need between the parts, the harder share first
            for share in range(most_first, need - most_second - 1, -1):
                if self.holds(first[0], share) and self.holds(second[0], need - share):
                    self.least[piece] = need
                    self.cut[piece] = (first, second)
                    return True
        if self.steps_left > 0:
            self.refused[piece] = need
        return False

    def parts(self, piece: Piece) -> Iterator[tuple[Part, Part]]:
        """Every way to cut a piece into two, as parts in the piece's own directions."""
        big_x, big_y, x, y = piece
        if x == big_x:
            yield from self._rectangle(big_x, big_y)
            for pair in self._rectangle(big_y, big_x):
                yield _swapped(pair)
            return
        for pair in self._straight(big_x, big_y, x, y):
            yield pair
        for pair in self._straight(big_y, big_x, y, x):
            yield _swapped(pair)
        yield from self._corner(big_x, big_y, x, y)
        yield from self._bent(big_x, big_y, x, y)
        for pair in self._bent(big_y, big_x, y, x):
            yield _swapped(pair)

    def _rectangle(self, big_x: int, big_y: int) -> Iterator[tuple[Part, Part]]:
        """Up at x1, across to x2 at y1, up again; straight where x1 = x2."""
        normal = self.normal
        for x1 in self.raster(big_x):
            if x1 >= big_x:
                break
            for x2 in self.raster(big_x):
                if x2 < x1 or (x2 == x1 and x1 == 0):
                    continue
                if x2 > big_x:
                    break
                for y1 in self.raster(big_y):
                    if y1 >= big_y:
                        break
                    if (x1 == x2) != (y1 == 0):
                        continue
                    left = normal(x2, big_y, x1, big_y - y1)
                    right = normal(big_x - x1, big_y, big_x - x2, y1)
                    if x1 == x2:
                        left = normal(x1, big_y, x1, big_y)
                        right = normal(big_x - x1, big_y, big_x - x1, big_y)
                    yield (left, 0, big_y, 1, -1), (right, big_x, 0, -1, 1)

    def _straight(self, big_x: int, big_y: int, x: int, y: int) -> Iterator[tuple[Part, Part]]:
        """One upright cut through an L, left or right of its inward corner."""
        normal = self.normal
        for x1 in self.raster(big_x):
            if 0 < x1 <= x:
                rest = normal(big_x - x1, big_y, x - x1, y)
                yield (normal(x1, big_y, x1, big_y), 0, 0, 1, 1), (rest, x1, 0, 1, 1)
            elif x < x1 < big_x:
                rest = normal(big_x - x1, y, big_x - x1, y)
                yield (normal(x1, big_y, x, y), 0, 0, 1, 1), (rest, x1, 0, 1, 1)

    def _corner(self, big_x: int, big_y: int, x: int, y: int) -> Iterator[tuple[Part, Part]]:
        """Down from the upper edge and out to the right edge: an L inside an L."""
        normal = self.normal
        for x1 in self.raster(big_x):
            if x1 >= x:
                break
            for y1 in self.raster(big_y):
                if y1 >= y:
                    break
                if x1 and y1:
                    inner = normal(big_x - x1, big_y - y1, x - x1, y - y1)
                    yield (normal(big_x, big_y, x1, y1), 0, 0, 1, 1), (inner, x1, y1, 1, 1)

    def _bent(self, big_x: int, big_y: int, x: int, y: int) -> Iterator[tuple[Part, Part]]:
        """From the inward corner level to x1, down or up to y2, level to the left edge."""
        normal = self.normal
        for x1 in self.raster(big_x):
            if x1 >= x:
                break
            for y2 in self.raster(big_y):
                if y2 >= big_y:
                    break
                if y2 < y:
                    upper: Part = (normal(x, big_y - y2, x1, big_y - y), 0, big_y, 1, -1)
                    lower: Part = (normal(big_x, y, big_x - x1, y2), big_x, 0, -1, 1)
                else:
                    upper = (normal(x, big_y - y, x - x1, big_y - y2), x, big_y, -1, -1)
                    lower = (normal(big_x, y2, x1, y), 0, 0, 1, 1)
                yield upper, lower

    def place(self, piece: Piece) -> list[Box]:
        """The boxes behind :meth:`holds`, from the full corner of the piece at (0, 0)."""
        if piece == _NOTHING:
            return []
        if _upright(piece) != piece:
            return [(b, a, dy, dx) for a, b, dx, dy in self.place(_upright(piece))]
        if piece not in self.cut:
            return self.blocks(piece[0], piece[1]) if piece[2] == piece[0] else []
        placed = []
        for part, at_x, at_y, way_x, way_y in self.cut[piece]:
            for a, b, dx, dy in self.place(part):
                left = at_x + a if way_x > 0 else at_x - a - dx
                bottom = at_y + b if way_y > 0 else at_y - b - dy
                placed.append((left, bottom, dx, dy))
        return placed


def _upright(piece: Piece) -> Piece:
    """The piece or its mirror image, whichever is kept."""
    return max(piece, (piece[1], piece[0], piece[3], piece[2]))


def _swapped(pair: tuple[Part, Part]) -> tuple[Part, Part]:
    """The same cut with x and y exchanged."""
    (a, a_x, a_y, a_right, a_up), (b, b_x, b_y, b_right, b_up) = pair
    return (
        ((a[1], a[0], a[3], a[2]), a_y, a_x, a_up, a_right),
        ((b[1], b[0], b[3], b[2]), b_y, b_x, b_up, b_right),
    )
