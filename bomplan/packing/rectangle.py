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

DEFAULT_STEPS = 200_000
"""How many splits one recursion may weigh up. A count, not seconds: the same everywhere."""

Placed = tuple[int, int, bool]
"""Corner x, corner y, and whether the long side runs along y."""

_Choice = tuple[str, tuple[int, ...]]
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

    def raster(self, size: int) -> tuple[int, ...]:
        """Cut positions that suffice within ``size``: 0 and ``size`` excluded, rising."""
        known = self.rasters.get(size)
        if known is None:
            cuts = {self.down[size - at] for at in self.sums if at <= size}
            known = tuple(sorted(at for at in cuts if 0 < at < size))
            self.rasters[size] = known
        return known

    def bound(self, length: int, width: int) -> int:
        return rectangles_at_most(max(length, width), min(length, width), self.long, self.short)

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
        bound = self.bound(length, width)
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
            for cut in self.raster(size):
                rest = self.down[size - cut]
                if cut > rest:
                    break
                if self.steps_left <= 0:
                    return best
                self.steps_left -= 1
                if self.bound(cut, other) + self.bound(rest, other) <= best:
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
        for x1 in self.raster(length):
            for x2 in self.raster(length):
                # a half turn maps (x1, x2) to (length - x2, length - x1)
                if x2 <= x1 or x1 + x2 > length:
                    continue
                right1, right2, middle = down[length - x1], down[length - x2], down[x2 - x1]
                for y1 in self.raster(width):
                    b2 = self.bound(right1, y1)
                    top_right = down[width - y1]
                    b5 = self.bound(right2, top_right)
                    for y2 in self.raster(width):
                        if y2 <= y1:
                            continue
                        if self.steps_left <= 0:
                            return best
                        self.steps_left -= 1
                        top, mid = down[width - y2], down[y2 - y1]
                        bounds = (
                            self.bound(x1, y2),
                            b2,
                            self.bound(middle, mid),
                            self.bound(x2, top),
                            b5,
                        )
                        hope = sum(bounds)
                        if hope <= best:
                            continue
                        blocks = ((x1, y2), (right1, y1), (middle, mid), (x2, top))
                        for (a, b), limit in zip(blocks, bounds, strict=False):
                            hope += self.value(a, b, depth) - limit
                            if hope <= best:
                                break
                        else:
                            hope += self.value(right2, top_right, depth) - b5
                            if hope > best:
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

    Whole numbers of one unit. ``steps`` bounds the recursion by a count; ``proof_effort``
    (the solver's deterministic seconds, 0 = none) lets a constraint solver look for more
    where the recursion stays below the bound, and prove that there is no more. The answer
    depends on the arguments alone and is kept by them.
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
    found = _pack_unit(length // unit, width // unit, long // unit, short // unit, steps)
    exact = found.exact
    placed_unit = found.placed
    if not exact and proof_effort > 0:
        from bomplan.packing.proof import search_more  # loads the solver: only when needed

        placed_unit, exact = search_more(
            length // unit,
            width // unit,
            long // unit,
            short // unit,
            found.placed,
            found.bound,
            proof_effort,
        )
    placed = tuple(sorted((a * unit, b * unit, upright) for a, b, upright in placed_unit))
    return RectanglePacking(placed, exact, found.bound)


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
    count, depth = recursion.value(length, width, 0), 0
    while count < bound and recursion.steps_left > 0:
        depth += 1
        left = recursion.steps_left
        before = count
        count = recursion.value(length, width, depth)
        if count == before and left - recursion.steps_left == 0:
            break
    placed = tuple(recursion.place(0, 0, length, width))
    if len(placed) < count:
        raise AssertionError(f"five blocks placed {len(placed)} but counted {count}")
    return RectanglePacking(placed, len(placed) >= bound, bound)
