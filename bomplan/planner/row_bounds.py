"""What a core's bill comes to at least with each of its rows, under prices on its limits.

The bound on a whole bill (:mod:`bomplan.planner.bill_bound`) is a least sum over trees of rows
that stand beside each other, for each set of bays and each set of suppliers. Told for every row,
with all others at their best beside it, it says which rows no bill within some figure holds.
What mass limits, the 12 V supply and failed simulations take away is counted by prices on them
(Lagrange): each row pays for what it adds to a limit, and what the limit leaves is given back, so
that a bill that keeps the limit loses nothing by it. Any prices are sound.

Sums are whole fine parts of the goal's unit; every product is rounded so that the bound is lower.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.bill_bound import BEYOND, Bays, BillBound, Branch, trees
from bomplan.planner.cuts import BOX, Box
from bomplan.planner.judge import Beside, BoolArray, Judge
from bomplan.planner.options import Options, Row, least_in_bays

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
FINE = 16  # bits of the fine parts that sums are counted in, fewer where money is small
WHOLE = 46  # bits of the greatest bill in fine parts: far below what cannot be
NEVER = BEYOND  # more than any figure
PRODUCT = 60  # bits that a price times an amount may have
SUM = 44  # bits that a priced amount may have: far below what cannot be
LINE = 5  # points that are tried along one direction


@dataclass(frozen=True)
class Choice:
    """Rows that keep every limit that is priced: what they come to, and their least couplers."""

    figure: float
    couplers: Box


Weight = tuple[int, int, int]  # a limit, and its price a unit: times over two to the power of bits
Span = tuple[int, int]  # where a family's rows stand among all that are looked at


@dataclass
class _Edge:
    """Two families that stand beside each other; the first is nearer to the root."""

    first: str
    second: str
    beside: Beside
    allowed: BoolArray | None = None  # None: all
    # Of each family the order of its rows by kind, where each kind begins, the kind of each row.
    kinds: dict[str, tuple[IntArray, IntArray, IntArray]] = field(default_factory=dict)

    def among(self, rows: Mapping[str, IntArray]) -> _Edge:
        """The same among these rows of each family: only kinds that some row has are told."""
        used, found = [], _Edge(self.first, self.second, self.beside)
        for name, kinds in ((self.first, self.beside.first), (self.second, self.beside.second)):
            mine = kinds[rows[name]]
            order = np.argsort(mine, kind="stable")
            some, starts, of = np.unique(mine[order], return_index=True, return_inverse=True)
            back = np.empty(len(mine), dtype=np.int64)
            back[order] = of
            found.kinds[name] = order, starts, back
            used.append(some)
        allowed = self.beside.allowed[np.ix_(*used)]
        found.allowed = None if allowed.all() else allowed
        return found

    def told(self, to: str, values: IntArray) -> IntArray:
        """(rows, pairs): for each row of ``to`` the least of ``values`` beside it."""
        assert self.allowed is not None
        first = to == self.first
        order, starts, _ = self.kinds[self.second if first else self.first]
        by_kind = np.minimum.reduceat(values[order], starts, axis=0)
        allowed = self.allowed if first else self.allowed.T
        least = np.where(allowed[:, :, None], by_kind[None], BEYOND).min(axis=1)
        return np.asarray(least[self.kinds[to][2]], dtype=np.int64)

    def beside_row(self, row: int) -> BoolArray:
        """Which rows of the second family may stand beside this one of the first."""
        assert self.allowed is not None
        found: BoolArray = self.allowed[self.kinds[self.first][2][row]][self.kinds[self.second][2]]
        return found


@dataclass(frozen=True)
class Figures:
    """What pieces of a family's rows bring, and by which tables they are counted."""

    figures: IntArray  # (rows, 4): g, microohm, W taken, W given by all pieces at most
    shape: IntArray  # of each row, which of the shapes
    shapes: tuple[Row, ...]  # a row of each shape: base and tables


class KnownFigures:
    """Those of families of rows that many cores share, kept by the identity of the rows."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[tuple[Row, ...], Figures]] = {}

    def of(self, rows: tuple[Row, ...]) -> Figures:
        known = self._known.get(id(rows))
        if known is None:
            shapes: dict[tuple[int, int, int], int] = {}
            firsts: list[Row] = []
            shape = []
            for row in rows:
                key = (row.base, id(row.tables), id(row.most_tables))
                number = shapes.setdefault(key, len(firsts))
                if number == len(firsts):
                    firsts.append(row)
                shape.append(number)
            figures = [
                (
                    row.part.mass_g,
                    row.external_uohm,
                    row.load_12v_w,
                    row.supply_12v_w and row.supply_12v_w * row.most,
                )
                for row in rows
            ]
            known = rows, Figures(np.array(figures), np.array(shape), tuple(firsts))
            self._known[id(rows)] = known
        return known[1]


class RowBounds:
    """The bounds of one core's rows; ``extra`` what rows come to beside their bill, by family."""

    def __init__(
        self,
        context: Context,
        bill: BillBound,
        judge: Judge,
        drive: Drive,
        currents: DesignCurrents,
        options: Options,
        extra: Mapping[str, IntArray],
    ) -> None:
        self._context, self._mass = context, bill.mass
        self._drive, self._options = drive, options
        rows = options.rows
        self.sets = tuple(
            bays
            for bays in bill.bay_sets(drive, options.capacity)
            if not bays or bill.mass.may_stand(drive, options, bays)
        )
        sent = bill.unavoidable(options)
        self._set_of = np.repeat(np.arange(len(self.sets)), len(sent))
        money, self._spans, at = [], {}, 0
        for family, some in rows.items():
            price = bill.family(drive, family, some, self.sets).reshape(len(some), -1)
            if family in extra:
                price = np.minimum(price + extra[family][:, None], BEYOND)
            money.append(price)
            self._spans[family] = at, at + len(some)
            at += len(some)
        self._all = dict(self._spans)
        every = np.concatenate(money)
        dearest = sum(int(some.max(initial=0, where=some < BEYOND)) for some in money)
        dearest += int(sent.max(initial=0, where=sent < BEYOND))
        self._bits = max(0, min(FINE, WHOLE - dearest.bit_length()))
        self._money = self._fine(every)  # (rows, pairs)
        self._sent = self._fine(np.tile(sent, len(self.sets)))
        self._rows = np.arange(at)  # those that are looked at
        self._every = np.zeros((at, 0, 0), dtype=np.int64)  # (rows, sets of bays, limits)
        self._usage = self._every  # those that are priced of them
        self._forest: list[tuple[str, list[_Edge]]] = []
        for root, joined in trees(tuple(rows), frozenset()):
            edges = []
            for parent, branch in _pairs(root, joined):
                joint, child = branch.joint, branch.family
                found = judge.beside(joint, drive, currents, rows[joint.first], rows[joint.second])
                edges.append(_Edge(parent, child, found if joint.second == child else found.turned))
            self._forest.append((root, edges))
        self._limits: list[int] = []  # which of the limits are priced
        self._of_mass = 0  # so many of them are mass limits
        self._in_bay: dict[int, IntArray] = {}
        self._left = np.zeros((len(self.sets), 0), dtype=np.int64)
        # What is known so far: of every pair of sets, and of every row.
        self._pairs = np.full(len(self._set_of), -BEYOND, dtype=np.int64)
        self._by_row = np.full(at, -BEYOND, dtype=np.int64)
        self._amounts = np.zeros(0, dtype=np.int64)  # the greatest of each priced limit
        self._spread = np.zeros(0, dtype=np.int64)  # how far rows differ in it
        self._cap = BEYOND
        self.choice: Choice | None = None
        if len(self._pairs):
            self._settle()
            self.ask()

    # -- what is known -------------------------------------------------------------------

    @property
    def least(self) -> int:
        """No bill of the core comes to less."""
        found = min(self._cap, int(self._pairs.min(initial=BEYOND)))
        return NEVER if found >= BEYOND else -(-found >> self._bits)

    @property
    def by_row(self) -> IntArray:
        """For each row, family by family, in fine parts what no bill with it comes to less than."""
        found: IntArray = np.minimum(self._by_row, self._cap)
        return found

    def kept(self, bound: IntArray, figure: int) -> BoolArray:
        """Which rows a bill of no more than this may hold, by such bounds."""
        found: BoolArray = bound <= min(figure << self._bits, BEYOND - 1)
        return found

    def _fine(self, money: IntArray) -> IntArray:
        """Money in fine parts; ``BEYOND`` stays what it is."""
        known = money < BEYOND
        return np.where(known, np.where(known, money, 0) << self._bits, BEYOND)

    def span(self, family: str) -> slice:
        """Where a family's rows stand in :attr:`by_row`."""
        return slice(*self._all[family])

    def within(self, figure: int, beyond_w: int, known: KnownFigures) -> RowBounds:
        """Bounds on bills of no more than this alone; their limits are ready to be priced."""
        found = copy(self)
        found._cap = min((figure + 1) << self._bits, BEYOND)
        pairs = self._pairs < found._cap
        found._pairs, found._sent = self._pairs[pairs], self._sent[pairs]
        used, found._set_of = np.unique(self._set_of[pairs], return_inverse=True)
        found.sets = tuple([self.sets[place] for place in used.tolist()])
        found._by_row = self._by_row.copy()
        keep = np.flatnonzero(self._by_row < found._cap)
        found._rows, found._money = keep, self._money[keep][:, pairs]
        ends = np.searchsorted(keep, [end for _, end in self._all.values()]).tolist()
        found._spans = dict(zip(self._all, zip([0, *ends], ends, strict=False), strict=True))
        if len(found._pairs):
            found._settle()
            found._use(beyond_w, known)
        return found

    def in_box(self, box: Box) -> RowBounds:
        """The same for bills whose couplers are in the box."""
        found = copy(self)
        found._pairs, found._by_row = self._pairs.copy(), self._by_row.copy()
        if not len(found._pairs):
            return found
        left = self._every_left.copy()
        left[:, -len(BOX) :] = [getattr(box, name) for name in BOX]
        matters = (self._greatest > left).any(axis=0)
        found._limits = np.flatnonzero(matters).tolist()
        found._of_mass = sum(limit < left.shape[1] - len(BOX) - 1 for limit in found._limits)
        found._left = left[:, matters]
        found._usage = np.ascontiguousarray(np.moveaxis(self._every[:, :, matters], 2, 0))
        mass = found._limits[: found._of_mass]
        found._in_bay = {bay: values[mass] for bay, values in self._in_bay.items()}
        amounts = np.maximum(
            np.abs(found._left).max(axis=0, initial=1),
            np.abs(found._usage).max(axis=(1, 2), initial=1),
        )
        for values in found._in_bay.values():
            most = np.abs(values).max(axis=1, initial=1)
            amounts[: found._of_mass] = np.maximum(amounts[: found._of_mass], most)
        found._amounts = amounts
        starts = [start for start, _ in self._spans.values()]
        spread = np.maximum.reduceat(found._usage, starts, axis=1)
        spread = spread - np.minimum.reduceat(found._usage, starts, axis=1)
        found._spread = np.maximum(1, spread.sum(axis=1).max(axis=1, initial=1))
        return found

    def _settle(self) -> None:
        """Trees of those families that still stand in each other's way."""
        rows = {
            name: self._rows[start:end] - self._all[name][0]
            for name, (start, end) in self._spans.items()
        }
        self._starts = np.array([start for start, _ in self._spans.values()])
        self._family_of = np.repeat(
            np.arange(len(self._spans)), [end - start for start, end in self._spans.values()]
        )
        self._trees: list[tuple[str, list[_Edge]]] = []
        for root, edges in self._forest:
            of = {root: root}
            bound: dict[str, list[_Edge]] = {root: []}
            for edge in edges:
                some = edge.among(rows)
                if some.allowed is None:
                    of[edge.second], bound[edge.second] = edge.second, []
                else:
                    of[edge.second] = of[edge.first]
                    bound[of[edge.first]].append(some)
            self._trees += [(name, some) for name, some in bound.items() if some]
        joined = {name for root, edges in self._trees for name in _members(root, edges)}
        self._free = np.array([name not in joined for name in self._spans])

    def _use(self, beyond_w: int, known: KnownFigures) -> None:
        """Find what every row that is left adds to every limit.

        Limits of mass, the 12 V supply, then the three couplers.
        """
        mass, sets = self._mass, self.sets
        of_mass = len(mass.left) if sets[0] else 0
        left = np.zeros((len(sets), of_mass + 1 + len(BOX)), dtype=np.int64)
        left[:, :of_mass] = mass.left[:of_mass]
        left[:, of_mass] = -beyond_w
        every = np.zeros((len(self._rows), *left.shape), dtype=np.int64)
        for name, (start, end) in self._spans.items():
            some = known.of(self._options.rows[name])
            rows = self._rows[start:end] - self._all[name][0]
            shape, (grams, uohm, watts, given) = some.shape[rows], some.figures[rows].T
            pieces = np.zeros((len(some.shapes), len(sets)), dtype=np.int64)
            effects = np.zeros((len(some.shapes), len(sets), of_mass), dtype=np.int64)
            for number in np.unique(shape).tolist():
                row = some.shapes[number]
                pieces[number] = [_least_pieces(row, bays) for bays in sets]
                if of_mass and name != "module":
                    effects[number] = [mass.effect_of(row, bays) for bays in sets]
            here = every[start:end]
            here[:, :, :of_mass] = grams[:, None, None] * effects[shape]
            fitted = pieces[shape]
            here[:, :, of_mass] = watts[:, None] * fitted - given[:, None]
            here[:, :, of_mass + 1] = grams[:, None] * fitted
            here[:, :, of_mass + 2] = uohm[:, None] * fitted
            here[:, :, of_mass + 3] = watts[:, None] * fitted
        greatest = np.maximum.reduceat(every, self._starts, axis=0).sum(axis=0)
        self._in_bay = {}
        if of_mass:
            module, series = self._options.rows["module"][0], self._drive.core.series
            for bay in sorted({bay for some_bays in sets for bay in some_bays}):
                most = min(self._options.capacity[bay], series)
                self._in_bay[bay] = mass.in_bay(self._drive, module, bay, most)
            for place, bays in enumerate(sets):
                for bay in bays:
                    greatest[place, :of_mass] += self._in_bay[bay].max(axis=1)
        self._every, self._every_left, self._greatest = every, left, greatest

    # -- one evaluation ------------------------------------------------------------------

    def ask(self, prices: FloatArray | None = None) -> tuple[float, FloatArray]:
        """Raise what is known by these prices of the limits, in units of the goal.

        Returns the bound at these prices, and how far the cheapest choice goes beyond each limit.
        """
        weights = self._weights(np.zeros(len(self._limits)) if prices is None else prices)
        values = self._money
        for limit, times, bits in weights:
            values = values + ((self._usage[limit] * times) >> bits)[:, self._set_of]
        if weights:
            values = np.minimum(values, BEYOND)
        back, places = self._given_back(weights)
        leasts = np.minimum.reduceat(values, self._starts, axis=0)
        total = self._sent + back[self._set_of] + leasts[self._free].sum(axis=0)
        found = []
        for root, edges in self._trees:
            mine = {name: values[slice(*self._spans[name])] for name in _members(root, edges)}
            up, told = dict(mine), {}
            for edge in reversed(edges):
                told[edge.second] = edge.told(edge.first, up[edge.second])
                up[edge.first] = np.minimum(up[edge.first] + told[edge.second], BEYOND)
            own = up[root].min(axis=0)
            total = total + own
            found.append((root, edges, mine, up, told, own))
        total = np.minimum(total, BEYOND)
        self._pairs = np.maximum(self._pairs, total)
        with_row = values - leasts[self._family_of] + total
        with_row[values >= BEYOND] = BEYOND
        for root, edges, mine, up, told, own in found:
            whole = {root: up[root]}
            downs: dict[str, IntArray] = {}
            for edge in edges:
                # What the first one comes to without this branch.
                others = mine[edge.first]
                if edge.first in downs:
                    others = others + downs[edge.first]
                for other in edges:
                    if other.first == edge.first and other is not edge:
                        others = others + told[other.second]
                down = edge.told(edge.second, np.minimum(others, BEYOND))
                downs[edge.second] = down
                whole[edge.second] = np.minimum(up[edge.second] + down, BEYOND)
            for name, value in whole.items():
                with_row[slice(*self._spans[name])] = np.where(
                    value >= BEYOND, BEYOND, value - own + total
                )
        known = self._by_row[self._rows]
        self._by_row[self._rows] = np.maximum(known, with_row.min(axis=1))
        best = int(total.argmin())
        figure = float(total[best]) / (1 << self._bits)
        if not self._every.size:
            return figure, np.zeros(0)
        picked = self._picked(best, values, found)
        return figure, self._taken(best, figure, picked, weights, places)

    def _picked(self, pair: int, values: IntArray, found: list[_Tree]) -> IntArray:
        """The rows of the cheapest choice of a pair."""
        column = values[:, pair]
        picked = {}
        for root, edges, _, up, _, _ in found:
            picked[root] = int(up[root][:, pair].argmin())
            for edge in edges:
                may = edge.beside_row(picked[edge.first])
                picked[edge.second] = int(np.where(may, up[edge.second][:, pair], BEYOND).argmin())
        return np.array(
            [
                start + (picked[name] if name in picked else int(column[start:end].argmin()))
                for name, (start, end) in self._spans.items()
            ]
        )

    def _taken(
        self,
        pair: int,
        value: float,
        picked: IntArray,
        weights: list[Weight],
        places: list[tuple[int, ...]],
    ) -> FloatArray:
        """How far these rows go beyond each limit; what they come to is kept if they hold."""
        at = int(self._set_of[pair])
        used = self._usage[:, picked, at].sum(axis=1)
        if places:
            for bay, count in zip(self.sets[at], places[at], strict=True):
                used[: self._of_mass] += self._in_bay[bay][:, count - 1]
        beyond = used - self._left[at]
        if (beyond <= 0).all():
            paid = sum(int(-beyond[limit]) * (times / 2.0**bits) for limit, times, bits in weights)
            figure = value + paid / (1 << self._bits)
            if self.choice is None or figure < self.choice.figure:
                couplers = self._every[picked, at, -len(BOX) :].sum(axis=0)
                self.choice = Choice(figure, Box(*couplers.tolist()))
        return np.asarray(beyond, dtype=np.float64)

    def _weights(self, prices: FloatArray) -> list[Weight]:
        """(limit, times, bits): each unit costs ``times`` over two to the ``bits``, in fine."""
        found = []
        for limit, price in enumerate(prices.tolist()):
            most = int(self._amounts[limit])
            fine = min(price * (1 << self._bits), float((1 << SUM) // most))
            bits = PRODUCT - most.bit_length() - int(fine).bit_length()
            times = int(fine * (1 << bits))
            if times > 0:
                found.append((limit, times, bits))
        return found

    def _given_back(self, weights: list[Weight]) -> tuple[IntArray, list[tuple[int, ...]]]:
        """For each set of bays what modules add less what the limits leave, and the placement."""
        found = np.zeros(len(self.sets), dtype=np.int64)
        for limit, times, bits in weights:
            found += (-self._left[:, limit] * times) >> bits
        if not self._of_mass:
            return found, []
        of_mass = [one for one in weights if one[0] < self._of_mass]
        series = self._drive.core.series
        in_bay = {}
        for bay, values in self._in_bay.items():
            some = np.full(series + 1, BEYOND, dtype=np.int64)
            some[1 : values.shape[1] + 1] = 0
            for limit, times, bits in of_mass:
                some[1 : values.shape[1] + 1] += (values[limit] * times) >> bits
            in_bay[bay] = some
        places = []
        for number, bays in enumerate(self.sets):
            least, stand = _least_placed([in_bay[bay] for bay in bays], series)
            found[number] += least
            places.append(stand)
        return found, places

    def raise_prices(self, target: int, tries: int) -> None:
        """Raise the bound towards ``target`` by prices on what the cheapest choice breaks.

        The bound is concave in the prices: along a direction its top lies where the tangents at
        two points meet, or is reached.
        """
        if not len(self._pairs):
            return
        prices = np.zeros(len(self._limits))
        value, over = self.ask(prices)
        while tries > 0 and self.least < target:
            over[(prices <= 0) & (over < 0)] = 0
            way = over / self._spread**2
            slope = float(over @ way)
            if slope <= 0:
                return
            # No price falls below nothing.
            falling = way < 0
            most = float((prices[falling] / -way[falling]).min(initial=np.inf))
            low, at_low, slope_low = 0.0, value, slope
            high, at_high, slope_high = most, np.inf, 0.0
            step = min(most, max(1.0, target - value) / slope)
            best = (value, over, prices)
            for _ in range(LINE):
                tries -= 1
                there = np.maximum(0.0, prices + step * way)
                value, over = self.ask(there)
                slope = float(over @ way)
                if value > best[0]:
                    best = (value, over, there)
                if slope >= 0:
                    if step >= most:
                        break
                    low, at_low, slope_low = step, value, slope
                else:
                    high, at_high, slope_high = step, value, slope
                if at_high == np.inf:
                    step = min(most, 4 * step)
                    continue
                meet = (at_high - at_low + slope_low * low - slope_high * high) / (
                    slope_low - slope_high
                )
                reached = at_low + slope_low * (meet - low)
                if reached - max(at_low, at_high) < 0.5 or self.least >= target:
                    break
                step = meet
            if best[2] is prices:
                return
            value, over, prices = best


_Tree = tuple[
    str, list[_Edge], dict[str, IntArray], dict[str, IntArray], dict[str, IntArray], IntArray
]


def _members(root: str, edges: list[_Edge]) -> list[str]:
    return [root, *[edge.second for edge in edges]]


def _pairs(family: str, joined: tuple[Branch, ...]) -> list[tuple[str, Branch]]:
    """The branches of a tree, each with the family that it hangs on, from the root outwards."""
    found: list[tuple[str, Branch]] = []
    for branch in joined:
        found += [(family, branch), *_pairs(branch.family, branch.joined)]
    return found


def _least_pieces(row: Row, bays: Bays) -> int:
    """The fewest pieces in these bays, each of them used; in any bays if none is named."""
    if not row.tables or not bays:
        return row.least
    return row.base + least_in_bays(row.tables, row.series, bays)


def _least_placed(by_bay: list[IntArray], series: int) -> tuple[int, tuple[int, ...]]:
    """The least sum over the bays of what their places come to, and the places of each."""
    so_far = [by_bay[0]]
    for values in by_bay[1:-1]:
        so_far.append(_min_plus(so_far[-1], values))
    if len(by_bay) == 1:
        return int(by_bay[0][series]), (series,)
    stand: list[int] = []
    left, least = series, 0
    for values, before in zip(by_bay[:0:-1], so_far[::-1], strict=True):
        sums = values[: left + 1] + before[left::-1]
        here = int(sums.argmin())
        if not stand:
            least = int(sums[here])
        stand.append(here)
        left -= here
    return least, (left, *stand[::-1])


def _min_plus(one: IntArray, other: IntArray) -> IntArray:
    size = len(one)
    places = np.arange(size)
    padded = np.append(one, np.full(size, BEYOND, dtype=np.int64))
    found: IntArray = (padded[places[:, None] - places] + other).min(axis=1)
    return np.minimum(found, BEYOND)
