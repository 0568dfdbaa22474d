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
from dataclasses import dataclass, field, fields, replace

import numpy as np
import numpy.typing as npt

from bomplan.design.bill import DesignCurrents
from bomplan.design.drive import Drive
from bomplan.planner.bill_bound import BEYOND, Bays, BillBound, _Branch, trees
from bomplan.planner.judge import Beside, BoolArray, Judge
from bomplan.planner.options import Options, Row, least_in_bays

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
FINE = 16  # bits of the fine parts that sums are counted in
PRODUCT = 60  # bits that a price times an amount may have
LINE = 5  # points that are tried along one direction
SUM = 44  # bits that a priced amount may have: far below what cannot be


@dataclass(frozen=True)
class Box:
    """Couplers that are no worse than these in all three: what a bill may have."""

    added_g: int
    external_uohm: int
    mean_12v_w: int


BOX = tuple(one.name for one in fields(Box))


@dataclass(frozen=True)
class Choice:
    """Rows that keep every limit that is priced: what they come to, and their least couplers."""

    figure: float
    couplers: Box


@dataclass
class _Family:
    """The rows of a family that are looked at.

    ``every``: (rows, sets of bays, limits) what they add to each limit, ``usage`` to those
    limits that are priced.
    """

    rows: IntArray  # their places among the core's rows of this family
    money: IntArray  # (rows, pairs) in fine parts
    every: IntArray = field(default_factory=lambda: np.zeros((0, 0, 0), dtype=np.int64))
    usage: IntArray = field(default_factory=lambda: np.zeros((0, 0, 0), dtype=np.int64))


@dataclass
class _Edge:
    """Two families that stand beside each other; the first is nearer to the root."""

    first: str
    second: str
    beside: Beside
    allowed: BoolArray | None = None  # None: all
    # Of each family the order of its rows by kind, where each kind begins, the kind of each row.
    kinds: dict[str, tuple[IntArray, IntArray, IntArray]] = field(default_factory=dict)

    def settle(self, families: dict[str, _Family]) -> None:
        """To be told when rows have fallen: only kinds that some row has left are looked at."""
        used = []
        for name, kinds in ((self.first, self.beside.first), (self.second, self.beside.second)):
            mine = kinds[families[name].rows]
            order = np.argsort(mine, kind="stable")
            some, starts, of = np.unique(mine[order], return_index=True, return_inverse=True)
            back = np.empty(len(mine), dtype=np.int64)
            back[order] = of
            self.kinds[name] = order, starts, back
            used.append(some)
        allowed = self.beside.allowed[np.ix_(*used)]
        self.allowed = None if allowed.all() else allowed

    def told(self, to: str, values: IntArray) -> IntArray:
        """(rows or 1, pairs): for each row of ``to`` the least of ``values`` beside it."""
        if self.allowed is None:
            return np.asarray(values.min(axis=0)[None], dtype=np.int64)
        first = to == self.first
        order, starts, _ = self.kinds[self.second if first else self.first]
        by_kind = np.minimum.reduceat(values[order], starts, axis=0)
        allowed = self.allowed if first else self.allowed.T
        least = np.where(allowed[:, :, None], by_kind[None], BEYOND).min(axis=1)
        return np.asarray(least[self.kinds[to][2]], dtype=np.int64)

    def beside_row(self, row: int) -> BoolArray | None:
        """Which rows of the second family may stand beside this one of the first."""
        if self.allowed is None:
            return None
        found: BoolArray = self.allowed[self.kinds[self.first][2][row]][self.kinds[self.second][2]]
        return found


class RowBounds:
    """The bounds of one core's rows; ``extra`` what rows come to beside their bill, by family."""

    def __init__(
        self,
        bill: BillBound,
        judge: Judge,
        drive: Drive,
        currents: DesignCurrents,
        options: Options,
        extra: Mapping[str, IntArray],
    ) -> None:
        self._mass, self._drive, self._options = bill.mass, drive, options
        rows = options.rows
        self.sets = tuple(
            bays
            for bays in bill.bay_sets(drive, options.capacity)
            if not bays or bill.mass.may_stand(drive, options, bays)
        )
        sent = bill.unavoidable(rows)
        self._set_of = np.repeat(np.arange(len(self.sets)), len(sent))
        self._sent = _fine(np.tile(sent, len(self.sets)))
        self._families: dict[str, _Family] = {}
        for family, some in rows.items():
            money = bill.family(drive, family, some, self.sets).reshape(len(some), -1)
            if family in extra:
                money = np.minimum(money + extra[family][:, None], BEYOND)
            self._families[family] = _Family(np.arange(len(some)), _fine(money))
        self._trees: list[tuple[str, list[_Edge]]] = []
        for root, joined in trees(tuple(rows), frozenset()):
            edges = []
            for parent, branch in _pairs(root, joined):
                joint, child = branch.joint, branch.family
                found = judge.beside(joint, drive, currents, rows[joint.first], rows[joint.second])
                edges.append(_Edge(parent, child, found if joint.second == child else found.turned))
            self._trees.append((root, edges))
        self._limits: list[int] = []  # which of the limits are priced
        self._of_mass = 0  # so many of them are mass limits
        self._in_bay: dict[int, IntArray] = {}
        self._left = np.zeros((len(self.sets), 0), dtype=np.int64)
        # What is known so far: of every pair of sets, and of every row.
        self._pairs = np.full(len(self._set_of), -BEYOND, dtype=np.int64)
        self._by_row = {
            family: np.full(len(some), -BEYOND, dtype=np.int64) for family, some in rows.items()
        }
        self._cap = BEYOND
        self._used = False  # whether it is known what rows add to limits
        self.choice: Choice | None = None
        self._settle()
        if len(self._pairs):
            self.ask()

    # -- what is known -------------------------------------------------------------------

    @property
    def least(self) -> int:
        """No bill of the core comes to less."""
        return _whole(min(self._cap, int(self._pairs.min(initial=BEYOND))))

    def by_row(self, family: str) -> IntArray:
        """For each row in fine parts what no bill with it comes to less than."""
        found: IntArray = np.minimum(self._by_row[family], self._cap)
        return found

    def within(self, figure: int, beyond_w: int) -> RowBounds:
        """Bounds on bills of no more than this alone; their limits are ready to be priced."""
        found = copy(self)
        found._cap = (figure + 1) << FINE
        pairs = self._pairs < found._cap
        found._pairs, found._sent = self._pairs[pairs], self._sent[pairs]
        used, found._set_of = np.unique(self._set_of[pairs], return_inverse=True)
        found.sets = tuple([self.sets[place] for place in used.tolist()])
        found._by_row = {name: known.copy() for name, known in self._by_row.items()}
        found._families = {}
        for name, one in self._families.items():
            keep = self._by_row[name][one.rows] < found._cap
            found._families[name] = _Family(one.rows[keep], one.money[keep][:, pairs])
        if len(found._pairs):
            found._trees = [(root, [replace(edge) for edge in some]) for root, some in self._trees]
            found._settle()
            found._use(beyond_w)
        return found

    def in_box(self, box: Box) -> RowBounds:
        """The same for bills whose couplers are in the box."""
        found = copy(self)
        found._pairs = self._pairs.copy()
        found._by_row = {name: known.copy() for name, known in self._by_row.items()}
        if not len(found._pairs):
            return found
        left = self._every_left.copy()
        left[:, -len(BOX) :] = [getattr(box, name) for name in BOX]
        matters = (self._greatest > left).any(axis=0)
        found._limits = np.flatnonzero(matters).tolist()
        found._of_mass = sum(limit < left.shape[1] - len(BOX) - 1 for limit in found._limits)
        found._left = left[:, matters]
        found._families = {
            name: replace(one, usage=np.ascontiguousarray(one.every[:, :, matters]))
            for name, one in self._families.items()
        }
        some = found._families.values()
        found._in_bay = {
            bay: values[found._limits[: found._of_mass]] for bay, values in self._in_bay.items()
        }
        amounts = np.abs(found._left).max(axis=0, initial=1)
        for one in some:
            np.maximum(amounts, np.abs(one.usage).max(axis=(0, 1), initial=1), out=amounts)
        for values in found._in_bay.values():
            most = np.abs(values).max(axis=1, initial=1)
            amounts[: found._of_mass] = np.maximum(amounts[: found._of_mass], most)
        found._amounts = amounts
        spread = sum(one.usage.max(axis=0) - one.usage.min(axis=0) for one in some)
        found._spread = np.maximum(1, spread).max(axis=0, initial=1)
        return found

    def _settle(self) -> None:
        for _, edges in self._trees:
            for edge in edges:
                edge.settle(self._families)

    def _use(self, beyond_w: int) -> None:
        """Find what every row that is left adds to every limit.

        Limits of mass, the 12 V supply, then the three couplers.
        """
        mass, rows, sets = self._mass, self._options.rows, self.sets
        named = bool(sets[0])
        of_mass = len(mass.left) if named else 0
        count = of_mass + 1 + len(BOX)
        left = np.zeros((len(sets), count), dtype=np.int64)
        left[:, :of_mass] = mass.left[:of_mass]
        left[:, of_mass] = -beyond_w
        greatest = np.zeros_like(left)
        for name, one in self._families.items():
            some = tuple([rows[name][place] for place in one.rows.tolist()])
            usage = np.zeros((len(some), len(sets), count), dtype=np.int64)
            if of_mass and name != "module":
                for place, bays in enumerate(sets):
                    usage[:, place, :of_mass] = mass.by_row(some, bays)
            pieces = _least_pieces(some, sets)
            watts = np.array([row.load_12v_w for row in some])[:, None] * pieces
            given = np.array([row.supply_12v_w and row.supply_12v_w * row.most for row in some])
            usage[:, :, of_mass] = watts - given[:, None]
            usage[:, :, of_mass + 1] = np.array([row.part.mass_g for row in some])[:, None] * pieces
            uohm = np.array([row.external_uohm for row in some])
            usage[:, :, of_mass + 2] = uohm[:, None] * pieces
            usage[:, :, of_mass + 3] = watts
            one.every = usage
            greatest += usage.max(axis=0)
        self._in_bay = {}
        if of_mass:
            row, series = rows["module"][0], self._drive.core.series
            for bay in sorted({bay for some in sets for bay in some}):
                most = min(self._options.capacity[bay], series)
                self._in_bay[bay] = mass.in_bay(self._drive, row, bay, most)
            for place, bays in enumerate(sets):
                for bay in bays:
                    greatest[place, :of_mass] += self._in_bay[bay].max(axis=1)
        self._every_left, self._greatest, self._used = left, greatest, True

    # -- one evaluation ------------------------------------------------------------------

    def ask(self, prices: FloatArray | None = None) -> tuple[float, FloatArray]:
        """Raise what is known by these prices of the limits, in units of the goal.

        Returns the bound at these prices, and how far the cheapest choice goes beyond each limit.
        """
        weights = self._weights(np.zeros(len(self._limits)) if prices is None else prices)
        values = {name: self._weighed(one, weights) for name, one in self._families.items()}
        back, places = self._given_back(weights)
        total = self._sent + back[self._set_of]
        found = []
        for root, edges in self._trees:
            up, told = dict(values), {}
            for edge in reversed(edges):
                told[edge.second] = edge.told(edge.first, up[edge.second])
                up[edge.first] = np.minimum(up[edge.first] + told[edge.second], BEYOND)
            own = up[root].min(axis=0)
            total = total + own
            found.append((root, edges, up, told, own))
        total = np.minimum(total, BEYOND)
        self._pairs = np.maximum(self._pairs, total)
        for root, edges, up, told, own in found:
            whole = {root: up[root]}
            downs: dict[str, IntArray] = {}
            for edge in edges:
                # What the first one comes to without this branch.
                others = values[edge.first]
                if edge.first in downs:
                    others = others + downs[edge.first]
                for other in edges:
                    if other.first == edge.first and other is not edge:
                        others = others + told[other.second]
                down = edge.told(edge.second, np.minimum(others, BEYOND))
                downs[edge.second] = down
                whole[edge.second] = np.minimum(up[edge.second] + down, BEYOND)
            for name, value in whole.items():
                with_row = np.where(value >= BEYOND, BEYOND, value - own + total)
                known, rows = self._by_row[name], self._families[name].rows
                known[rows] = np.maximum(known[rows], with_row.min(axis=1, initial=BEYOND))
        best = int(total.argmin())
        value = float(total[best]) / (1 << FINE)
        return value, self._choose(best, value, weights, found, places)

    def _weights(self, prices: FloatArray) -> list[Weight]:
        """(limit, times, bits): each unit costs ``times`` over two to the ``bits``, in fine."""
        found = []
        for limit, price in enumerate(prices.tolist()):
            most = int(self._amounts[limit])
            fine = min(price * (1 << FINE), float((1 << SUM) // most))
            bits = PRODUCT - most.bit_length() - int(fine).bit_length()
            times = int(fine * (1 << bits))
            if times > 0:
                found.append((limit, times, bits))
        return found

    def _weighed(self, one: _Family, weights: list[Weight]) -> IntArray:
        found = one.money
        for limit, times, bits in weights:
            if one.usage[:, :, limit].any():
                found = found + ((one.usage[:, :, limit] * times) >> bits)[:, self._set_of]
        return np.minimum(found, BEYOND)

    def _given_back(
        self, weights: list[Weight]
    ) -> tuple[IntArray, list[tuple[int, ...]]]:
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

    def _choose(
        self,
        pair: int,
        value: float,
        weights: list[Weight],
        found: list[_Tree],
        places: list[tuple[int, ...]],
    ) -> FloatArray:
        """How far the cheapest choice of a pair goes beyond each limit; it is kept if it holds."""
        at = int(self._set_of[pair])
        used = np.zeros(len(self._limits), dtype=np.int64)
        couplers = np.zeros(len(BOX), dtype=np.int64)
        if not self._used:
            return used.astype(np.float64)
        for root, edges, up, _, _ in found:
            picked = {root: int(up[root][:, pair].argmin())}
            for edge in edges:
                values = up[edge.second][:, pair]
                may = edge.beside_row(picked[edge.first])
                if may is not None:
                    values = np.where(may, values, BEYOND)
                picked[edge.second] = int(values.argmin())
            for name, row in picked.items():
                one = self._families[name]
                used += one.usage[row, at]
                couplers += one.every[row, at, -len(BOX) :]
        if places:
            for bay, count in zip(self.sets[at], places[at], strict=True):
                used[: self._of_mass] += self._in_bay[bay][:, count - 1]
        beyond = used - self._left[at]
        if (beyond <= 0).all():
            paid = sum(int(-beyond[limit]) * (times / 2.0**bits) for limit, times, bits in weights)
            figure = value + paid / (1 << FINE)
            if self.choice is None or figure < self.choice.figure:
                self.choice = Choice(figure, Box(*couplers.tolist()))
        return beyond.astype(np.float64)

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


Weight = tuple[int, int, int]  # a limit, and its price a unit: times over two to the power of bits
_Tree = tuple[str, list[_Edge], dict[str, IntArray], dict[str, IntArray], IntArray]


def _pairs(family: str, joined: tuple[_Branch, ...]) -> list[tuple[str, _Branch]]:
    """The branches of a tree, each with the family that it hangs on, from the root outwards."""
    found: list[tuple[str, _Branch]] = []
    for branch in joined:
        found += [(family, branch), *_pairs(branch.family, branch.joined)]
    return found


def _fine(money: IntArray) -> IntArray:
    """Money in fine parts, held to ``BEYOND``, so that sums of it fit an integer."""
    return np.minimum(money, BEYOND >> FINE) << FINE


def _whole(fine: int) -> int:
    return -(-fine >> FINE)


def _least_pieces(rows: tuple[Row, ...], sets: tuple[Bays, ...]) -> IntArray:
    """(rows, sets of bays): the fewest pieces in these bays; in any bays if none is named."""
    known: dict[int, list[int]] = {}
    found = []
    for row in rows:
        in_bays = known.get(id(row.tables))
        if in_bays is None:
            in_bays = known[id(row.tables)] = [
                0
                if not row.tables
                else least_in_bays(row.tables, row.series, bays)
                if bays
                else row.least - row.base
                for bays in sets
            ]
        found.append([row.base + pieces for pieces in in_bays])
    return np.array(found, dtype=np.int64)


def _least_placed(by_bay: list[IntArray], series: int) -> tuple[int, tuple[int, ...]]:
    """The least sum over the bays of what their places come to, and the places of each."""
    so_far = [by_bay[0]]
    for values in by_bay[1:-1]:
        so_far.append(_min_plus(so_far[-1], values))
    if len(by_bay) == 1:
        return int(by_bay[0][series]), (series,)
    left, stand = series, []
    least = 0
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
