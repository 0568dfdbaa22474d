"""Equal rectangles in a rectangle: the five-block recursion, with coordinates.

A rectangle is split by guillotine cuts or into five blocks around a centre, each block is
split again, and every value is kept. Method: R. Morabito and S. Morales, "A simple and
effective recursive procedure for the manufacturer's pallet loading problem", J. Operational
Research Society 49 (1998) 819-828; cut positions on the reduced raster of G. Scheithauer
and J. Terno, "The G4-heuristic for the pallet loading problem", JORS 47 (1996) 511-522
(both from memory). It is not always the optimum: the known counter-examples stand in
``tests/reference/test_packing_optima.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import gcd

from bomplan.packing.bounds import fillable, rectangles_at_most
from bomplan.packing.lpieces import Box, LPieces

DEFAULT_STEPS = 200_000
"""How many splits one recursion may weigh up. A count, not seconds: the same everywhere."""

Placed = tuple[int, int, bool]
"""Corner x, corner y, and whether the long side runs along y."""

_Choice = tuple[str, tuple[int, ...]]
_L_STEPS = 600_000
"""Cuts into L-shaped pieces per unit of effort, about a second's work."""
_SOLVER_LIMIT = 150
"""Above so many rectangles neither L-pieces nor the solver settles anything in their effort."""
_DEPTHS = (0, 1, 2, 1_000)
"""Splits within splits: looked at shallowly first, then without a limit that matters."""
_PROVEN = 1_000_000
"""Depth that stands for "meets its bound": no deeper look can help."""


@dataclass(frozen=True)
class RectanglePacking:
    """Corners of the placed rectangles and whether no more of them can be placed."""

    placed: tuple[Placed, ...]
    exact: bool
    bound: int

    @property
    def count(self) -> int:
        """How many rectangles were placed."""
        return len(self.placed)


class _Bounds(dict[int, int]):
    """Bounds of sub-rectangles of one length by their width, computed as they are asked for."""

    def __init__(self, length: int, long: int, short: int) -> None:
        super().__init__()
        self.length = length
        self.sides = (long, short)

    def __missing__(self, width: int) -> int:
        larger, smaller = max(self.length, width), min(self.length, width)
        bound = self[width] = rectangles_at_most(larger, smaller, *self.sides)
        return bound


class _FiveBlock:
    """One recursion over sub-rectangles of one size of rectangle."""

    def __init__(self, length: int, width: int, long: int, short: int, steps: int) -> None:
        self.long = long
        self.short = short
        self.steps_left = steps
        self.sums = fillable(max(length, width), long, short)
        self.down: list[int] = []
        best = 0
        reached = set(self.sums)
        for at in range(max(length, width) + 1):
            if at in reached:
                best = at
            self.down.append(best)
        self.values: dict[tuple[int, int], int] = {}
        self.choices: dict[tuple[int, int], _Choice] = {}
        self.searched: dict[tuple[int, int], int] = {}
        self.rasters: dict[int, tuple[int, ...]] = {}
        self.bounds: dict[int, _Bounds] = {}

    def raster(self, size: int) -> tuple[int, ...]:
        """Cut positions that suffice within ``size``: 0 and ``size`` excluded, rising."""
        known = self.rasters.get(size)
        if known is None:
            cuts = {self.down[size - at] for at in self.sums if at <= size}
            known = tuple(sorted(at for at in cuts if 0 < at < size))
            self.rasters[size] = known
        return known

    def bounds_of(self, length: int) -> _Bounds:
        """Upper bounds of every sub-rectangle of this length."""
        row = self.bounds.get(length)
        if row is None:
            row = self.bounds[length] = _Bounds(length, self.long, self.short)
        return row

    def value(self, length: int, width: int, depth: int) -> int:
        """The most rectangles found in ``length`` x ``width`` (both already fillable).

        ``depth`` splits within splits are tried; 0 leaves one grid of equal rectangles.
        """
        if length < width:
            length, width = width, length
        key = (length, width)
        best = self.values.get(key)
        if best is None:
            lying = (length // self.long) * (width // self.short)
            standing = (length // self.short) * (width // self.long)
            best = max(lying, standing)
            self._keep(key, best, "grid", (1 if standing > lying else 0,))
            self.searched[key] = 0
        if depth <= self.searched[key] or self.steps_left <= 0:
            return best
        bound = self.bounds_of(length)[width]
        if best < bound:
            best = self._guillotine(length, width, best, bound, depth - 1)
        if best < bound:
            best = self._five(length, width, best, bound, depth - 1)
        self.searched[key] = depth if best < bound else _PROVEN
        return best

    def _keep(self, key: tuple[int, int], value: int, kind: str, cuts: tuple[int, ...]) -> None:
        self.values[key] = value
        self.choices[key] = (kind, cuts)

    def _guillotine(self, length: int, width: int, best: int, bound: int, depth: int) -> int:
        for kind, size, other in (("cut-x", length, width), ("cut-y", width, length)):
            across = self.bounds_of(other)
            for cut in self.raster(size):
                rest = self.down[size - cut]
                if cut > rest:
                    break
                if self.steps_left <= 0:
                    return best
                self.steps_left -= 1
                if across[cut] + across[rest] <= best:
                    continue
                total = self.value(cut, other, depth) + self.value(rest, other, depth)
                if total > best:
                    best = total
                    self._keep((length, width), best, kind, (cut,))
                    if best >= bound:
                        return best
        return best

    def _five(self, length: int, width: int, best: int, bound: int, depth: int) -> int:
        down = self.down
        ys = self.raster(width)
        for x1 in self.raster(length):
            row1, right1 = self.bounds_of(x1), down[length - x1]
            row2 = self.bounds_of(right1)
            for x2 in self.raster(length):
                # a half turn maps (x1, x2) to (length - x2, length - x1)
                if x2 <= x1 or x1 + x2 > length:
                    continue
                right2, middle = down[length - x2], down[x2 - x1]
                row3, row4, row5 = map(self.bounds_of, (middle, x2, right2))
                for index, y1 in enumerate(ys):
                    high = down[width - y1]
                    b2, b5 = row2[y1], row5[high]
                    for y2 in ys[index + 1 :]:
                        if self.steps_left <= 0:
                            return best
                        self.steps_left -= 1
                        low, centre = down[width - y2], down[y2 - y1]
                        b1, b3, b4 = row1[y2], row3[centre], row4[low]
                        hope = b1 + b2 + b3 + b4 + b5
                        if hope <= best:
                            continue
                        for block_length, block_width, limit in (
                            (x1, y2, b1),
                            (right1, y1, b2),
                            (middle, centre, b3),
                            (x2, low, b4),
                            (right2, high, b5),
                        ):
                            hope += self.value(block_length, block_width, depth) - limit
                            if hope <= best:
                                break
                        else:
                            best = hope
                            self._keep((length, width), best, "five", (x1, x2, y1, y2))
                            if best >= bound:
                                return best
        return best

    def place(self, x: int, y: int, length: int, width: int) -> list[Placed]:
        """The corners behind :meth:`value`, in the caller's own directions."""
        length, width = self.down[length], self.down[width]
        if length < width:
            turned = self.place(0, 0, width, length)
            return [(x + b, y + a, not upright) for a, b, upright in turned]
        if self.value(length, width, 0) == 0:
            return []
        kind, cuts = self.choices[(length, width)]
        if kind == "grid":
            upright = bool(cuts[0])
            dx, dy = (self.short, self.long) if upright else (self.long, self.short)
            return [
                (x + i * dx, y + j * dy, upright)
                for i in range(length // dx)
                for j in range(width // dy)
            ]
        if kind == "cut-x":
            (cut,) = cuts
            return self.place(x, y, cut, width) + self.place(x + cut, y, length - cut, width)
        if kind == "cut-y":
            (cut,) = cuts
            return self.place(x, y, length, cut) + self.place(x, y + cut, length, width - cut)
        x1, x2, y1, y2 = cuts
        return (
            self.place(x, y, x1, y2)
            + self.place(x + x1, y, length - x1, y1)
            + self.place(x + x1, y + y1, x2 - x1, y2 - y1)
            + self.place(x, y + y2, x2, width - y2)
            + self.place(x + x2, y + y1, length - x2, width - y1)
        )


@lru_cache(maxsize=4096)
def pack_rectangle(
    length: int,
    width: int,
    long: int,
    short: int,
    steps: int = DEFAULT_STEPS,
    proof_effort: float = 0.0,
) -> RectanglePacking:
    """Place as many ``long`` x ``short`` rectangles as possible in ``length`` x ``width``.

    Whole numbers of one unit. ``steps`` bounds the five-block recursion by a count. Where it
    stays below the bound, ``proof_effort`` above 0 lets L-shaped pieces look for more and a
    constraint solver prove that there is no more; it is counted in the solver's deterministic
    seconds, about one second of work each. The answer depends on the arguments alone and is
    kept by them.
    """
    if min(long, short) <= 0 or min(length, width) < 0:
        raise ValueError("sizes must be whole numbers above 0")
    if long < short:
        long, short = short, long
    if length < width:
        turned = pack_rectangle(width, length, long, short, steps, proof_effort)
        placed = tuple(sorted((b, a, not upright) for a, b, upright in turned.placed))
        return RectanglePacking(placed, turned.exact, turned.bound)
    if width < short or length < long:
        return RectanglePacking((), True, 0)
    unit = gcd(long, short)
    sizes = (length // unit, width // unit, long // unit, short // unit)
    found = _pack_unit(*sizes, steps)
    if not found.exact and proof_effort > 0:
        found = _close_gap(*sizes, steps, proof_effort, found)
    placed = tuple(sorted((a * unit, b * unit, upright) for a, b, upright in found.placed))
    return RectanglePacking(placed, found.exact, found.bound)


@lru_cache(maxsize=4096)
def _pack_unit(length: int, width: int, long: int, short: int, steps: int) -> RectanglePacking:
    length = fillable(length, long, short)[-1]
    width = fillable(width, long, short)[-1]
    if length < width:
        turned = _pack_unit(width, length, long, short, steps)
        placed = tuple((b, a, not upright) for a, b, upright in turned.placed)
        return RectanglePacking(placed, turned.exact, turned.bound)
    bound = rectangles_at_most(length, width, long, short)
    recursion = _FiveBlock(length, width, long, short, steps)
    # shallow first: where the steps run out, everything has been looked at a little
    count = 0
    for depth in _DEPTHS:
        count = recursion.value(length, width, depth)
        if count >= bound:
            break
    placed = tuple(recursion.place(0, 0, length, width))
    if len(placed) < count:
        raise AssertionError(f"five blocks placed {len(placed)} but counted {count}")
    return RectanglePacking(placed, len(placed) >= bound, bound)


def _close_gap(
    length: int,
    width: int,
    long: int,
    short: int,
    steps: int,
    effort: float,
    found: RectanglePacking,
) -> RectanglePacking:
    """Find more than five blocks did, or prove that there is no more, within an effort."""
    if found.bound > _SOLVER_LIMIT:
        return found
    from bomplan.packing.proof import search_more  # loads the solver: only when needed

    room = (length, width, long, short)
    # most gaps of real bays are refuted in a moment
    placed, exact = search_more(*room, found.placed, found.bound, effort / 4)
    if not exact:
        recursion = _FiveBlock(length, width, long, short, steps)
        blocks: dict[tuple[int, int], list[Box]] = {}

        def boxes(a: int, b: int) -> list[Box]:
            if (a, b) not in blocks:
                recursion.value(a, b, _DEPTHS[-1])
                blocks[(a, b)] = [
                    (x, y, short, long) if upright else (x, y, long, short)
                    for x, y, upright in recursion.place(0, 0, a, b)
                ]
            return blocks[(a, b)]

        pieces = LPieces(length, width, long, short, int(effort * _L_STEPS), boxes)
        while len(placed) < found.bound:
            more = pieces.pack(length, width, len(placed) + 1)
            if not more:
                break
            placed = tuple((x, y, dx < dy) for x, y, dx, dy in more)
        exact = len(placed) >= found.bound
    if not exact:
        placed, exact = search_more(*room, placed, found.bound, effort)
    return RectanglePacking(placed, exact, found.bound)
