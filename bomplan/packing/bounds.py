"""How many equal rectangles a rectangle can hold at most, proven without packing them.

Three bounds, each valid by itself, the least of them counts:

* area, on the side lengths that rectangles can actually fill;
* bars: F. W. Barnes, "Packing the maximum number of m x n tiles in a large p x q
  rectangle", Discrete Mathematics 26 (1979) 93-100 (from memory): every packing of l x w
  rectangles is also a packing of 1 x l bars and of 1 x w bars, whose least waste is known;
* cross-sections: every straight cut through a packing crosses rectangles whose sides fit
  into the cut, so the mean over all cuts lies in the convex hull of the fitting pairs. This
  is the partition idea of H. Isermann, "Ein Planungssystem zur Optimierung der
  Palettenbeladung", OR Spektrum 9 (1987) 235-249 (from memory), evaluated here on whole
  numbers of lying and standing rectangles instead of by linear programming.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import gcd


@lru_cache(maxsize=4096)
def fillable(limit: int, first: int, second: int) -> tuple[int, ...]:
    """Every sum of multiples of two lengths up to ``limit``, rising, 0 included."""
    reached = bytearray(limit + 1)
    reached[0] = 1
    for step in (first, second):
        for at in range(step, limit + 1):
            if reached[at - step]:
                reached[at] = 1
    return tuple(at for at in range(limit + 1) if reached[at])


def bar_waste(length: int, width: int, bar: int) -> int:
    """The least area that 1 x ``bar`` bars leave empty in a rectangle, in unit squares."""
    over_length = length % bar
    over_width = width % bar
    return min(over_length * over_width, (bar - over_length) * (bar - over_width))


@lru_cache(maxsize=65536)
def _hull(room: int, lying: int, standing: int) -> tuple[tuple[int, int], ...]:
    """The upper-right corners of the pairs (a, b) with a lying + b standing <= room."""
    points = [(a, (room - a * lying) // standing) for a in range(room // lying + 1)]
    corners: list[tuple[int, int]] = []
    for point in points:
        while len(corners) >= 2 and _turn(corners[-2], corners[-1], point) >= 0:
            corners.pop()
        corners.append(point)
    return tuple(corners)


def _turn(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> int:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _in_hull(corners: tuple[tuple[int, int], ...], x: int, y: int, scale: int) -> bool:
    """Whether (x, y) / scale lies on or below the hull that ``corners`` span."""
    if x > corners[-1][0] * scale:
        return False
    if len(corners) == 1:
        return y <= corners[0][1] * scale
    for (ax, ay), (bx, by) in pairwise(corners):
        if x <= bx * scale:
            # on the segment at x: y scale^-1 <= ay + (x scale^-1 - ax)(by - ay)/(bx - ax)
            return (y - ay * scale) * (bx - ax) <= (x - ax * scale) * (by - ay)
    return False


def _cuts_allow(lying: int, standing: int, length: int, width: int, long: int, short: int) -> bool:
    """Whether so many lying and standing rectangles pass the mean cut in both directions."""
    across = _hull(width, short, long)
    along = _hull(length, long, short)
    return _in_hull(across, lying * long, standing * short, length) and _in_hull(
        along, lying * short, standing * long, width
    )


@lru_cache(maxsize=65536)
def rectangles_at_most(length: int, width: int, long: int, short: int) -> int:
    """A proven upper bound on equal rectangles in a rectangle, turned by 90 degrees or not.

    All four sizes are whole numbers of one unit; rectangles stay parallel to the sides.
    """
    if min(length, width) < min(long, short) or max(length, width) < max(long, short):
        return 0
    common = gcd(long, short)
    long, short, length, width = (
        long // common,
        short // common,
        length // common,
        width // common,
    )
    length = fillable(length, long, short)[-1]
    width = fillable(width, long, short)[-1]
    area = length * width
    waste = max(bar_waste(length, width, long), bar_waste(length, width, short))
    most = (area - waste) // (long * short)
    while most > 0 and not any(
        _cuts_allow(lying, most - lying, length, width, long, short) for lying in range(most + 1)
    ):
        most -= 1
    return most
