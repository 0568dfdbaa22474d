"""A close lower bound on the price of a core's whole bill.

What makes a bill dearer than its cheapest rows: every bay that is used needs its own box,
fuse, cable and glands; rows must stand beside rows (the fuse protects the cable, the lug takes
it); and some sets of bays cannot carry the pack at all. So the bound is taken for each set of
bays that a placement may use, as if everything else were free to choose: for each set of
suppliers the least price of every family, those that must stand beside each other together.
Joints form trees, in which "the cheapest partner of every row" is exact. The least over the
sets of bays whose axles, plates and boxes may hold is the bound.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.bill import JOINTS, DesignCurrents, Joint
from bomplan.design.bill.body import box_holds_g
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.bounds import Subsets
from bomplan.planner.judge import Beside, Judge
from bomplan.planner.mass_bound import MassBound
from bomplan.planner.options import Options, Row, least_in_bays

IntArray = npt.NDArray[np.int64]
BEYOND = 1 << 50  # dearer than any bill; a few of them still fit an integer
SETS_MOST = 32  # sets of bays told apart; with more they are taken together

Table = tuple[int, ...]
Tables = tuple[Table, ...]
Bays = tuple[int, ...]
Rows = dict[str, tuple[Row, ...]]


class BillBound:
    """Bounds for the cores of one project; keeps the prices that it has looked up."""

    def __init__(self, context: Context, subsets: Subsets, judge: Judge) -> None:
        self._context = context
        self._subsets = subsets
        self._judge = judge
        self.mass = MassBound(context)
        self._shipping = np.array(subsets.shipping, dtype=np.int64)
        self._prices: dict[tuple[str, int], IntArray] = {}
        # By the identity of rows, which are kept here so that no others take it.
        self._costs: dict[tuple[object, ...], tuple[tuple[Row, ...], IntArray]] = {}
        # By the identity of the costs of a tree's families, which are kept above, and of what
        # may stand beside what, which the judge keeps.
        self._tree_costs: dict[tuple[tuple[int, ...], tuple[int, ...]], IntArray] = {}

    def bay_sets(self, drive: Drive, capacity: tuple[int, ...]) -> tuple[Bays, ...]:
        """The sets of bays that a placement of this core may use; one empty set: any."""
        return bay_sets(capacity, drive.core.series, self._context.project.choices.bays_max)

    def by_set(
        self,
        drive: Drive,
        currents: DesignCurrents,
        rows: Rows,
        sets: tuple[Bays, ...],
        without: frozenset[tuple[str, str]] = frozenset(),
    ) -> IntArray:
        """(sets of bays, sets of suppliers): the least that these families cost together.

        Joints ``without`` which the bound is found are taken as if they held for all rows.
        """
        total = np.zeros((len(sets), len(self._shipping)), dtype=np.int64)
        for root, joined in trees(tuple(rows), without):
            total += self._least_of_tree(drive, currents, rows, sets, root, joined)
        return np.minimum(total, BEYOND)

    def own(self, part: Part, pieces: int) -> IntArray:
        """(sets of suppliers): the least that so many of one part cost, after those at hand."""
        found = self._subsets.part(self._context, part, pieces)
        return np.array([BEYOND if price is None else price for price in found], dtype=np.int64)

    def with_shipping(self, price: IntArray) -> int:
        """The least of ``price`` over sets of bays and of suppliers, with shipping."""
        return int(self.shipped(price).min())

    def shipped(self, price: IntArray | np.int64) -> IntArray:
        """``price`` by sets of suppliers, with the shipping that each of them pays."""
        return price + self._shipping

    def least(
        self,
        drive: Drive,
        options: Options,
        price: IntArray,
    ) -> tuple[int | None, bool]:
        """The least of ``price`` (by :meth:`by_set`, or a sum of such) with shipping.

        The options hold every family of the bill: what all of them can come to at a supplier
        tells whether its order may be sent free, or is taken at all.

        Only sets of bays that the axles may bear are counted. (None, True) if those that can
        be delivered are all too heavy, (None, False) if nothing can be delivered.
        """
        sets = self.bay_sets(drive, options.capacity)
        by_set = (price + self.unavoidable(options)).min(axis=1)
        deliverable = False
        for place in np.argsort(by_set, kind="stable").tolist():
            if by_set[place] >= BEYOND:
                break
            deliverable = True
            if not sets[place] or self.mass.may_stand(drive, options, sets[place]):
                return int(by_set[place]), False
        return None, deliverable

    def unavoidable(self, options: Options) -> IntArray:
        """(sets of suppliers): the shipping that a bill of these rows cannot avoid."""
        found = self._subsets.unavoidable(options.parts)
        return np.array([BEYOND if sent is None else sent for sent in found], dtype=np.int64)

    def family(
        self, drive: Drive, family: str, rows: tuple[Row, ...], sets: tuple[Bays, ...]
    ) -> IntArray:
        """(rows, sets of bays, sets of suppliers): the least that each row costs."""
        key: tuple[object, ...] = (family, id(rows), sets)
        if family == "box":
            core = drive.core
            key = (*key, core.series, core.parallel * drive.module.mass_g)
        known = self._costs.get(key)
        if known is None:
            known = rows, self._priced(drive, family, rows, sets)
            self._costs[key] = known
        return known[1]

    def _priced(
        self, drive: Drive, family: str, rows: tuple[Row, ...], sets: tuple[Bays, ...]
    ) -> IntArray:
        found = np.empty((len(rows), len(sets), len(self._shipping)), dtype=np.int64)
        of, shapes = _shapes(rows)
        in_bays = [[_pieces(rows[first], bays) for bays in sets] for first in shapes]
        pieces = np.array([row.base for row in rows])[:, None] + np.array(in_bays)[of]
        each = np.array([self.each(row) for row in rows], dtype=np.int64)
        found[:] = (each[:, None] * pieces)[:, :, None]
        for number in np.flatnonzero(each < 0).tolist():
            row, last = rows[number], -1
            for place, count in enumerate(pieces[number].tolist()):
                if count == last:
                    found[number, place] = found[number, place - 1]
                else:
                    found[number, place] = self._price(row, count)
                last = count
        if family == "box":
            holds = np.array([box_holds_g(row.part) for row in rows])
            asked = [[_fullest_g(drive, rows[first], bays) for bays in sets] for first in shapes]
            found[holds[:, None] < np.array(asked)[of]] = BEYOND
        return found

    def each(self, row: Row) -> int:
        """What every piece costs in any set of suppliers; -1 where it hangs on their number."""
        if row.at_hand or row.spares:
            return -1
        price = self._context.prices.list_price(row.part)
        return -1 if price is None else price

    def _price(self, row: Row, pieces: int) -> IntArray:
        """The least price of so many pieces in each set of suppliers."""
        key = (row.part.id, pieces)
        known = self._prices.get(key)
        if known is None:
            found = self._subsets.of(row.part, row.needed(pieces))
            known = np.array(
                [BEYOND if price is None else price for price in found], dtype=np.int64
            )
            self._prices[key] = known
        return known

    def _least_of_tree(
        self,
        drive: Drive,
        currents: DesignCurrents,
        rows: Rows,
        sets: tuple[Bays, ...],
        root: str,
        joined: tuple[Branch, ...],
    ) -> IntArray:
        """The least that a tree of families costs; trees of the same rows are added up once."""
        costs = {root: self.family(drive, root, rows[root], sets)}
        beside: dict[str, Beside] = {}
        for branch in all_branches(joined):
            joint, family = branch.joint, branch.family
            first, second = rows[joint.first], rows[joint.second]
            allowed = self._judge.beside(joint, drive, currents, first, second)
            # Rows of the family nearer to the root first.
            beside[family] = allowed if joint.second == family else allowed.turned
            costs[family] = self.family(drive, family, rows[family], sets)
        key = (
            tuple([id(cost) for cost in costs.values()]),
            tuple([id(allowed) for allowed in beside.values()]),
        )
        known = self._tree_costs.get(key)
        if known is None:
            known = self._tree(costs, beside, root, joined).min(axis=0)
            self._tree_costs[key] = known
        return known

    def _tree(
        self,
        costs: dict[str, IntArray],
        beside: dict[str, Beside],
        family: str,
        joined: tuple[Branch, ...],
    ) -> IntArray:
        """A family's rows, each with the cheapest partners that may stand beside it."""
        total = costs[family]
        for branch in joined:
            below = self._tree(costs, beside, branch.family, branch.joined)
            partners = beside[branch.family]
            if partners.all:
                total = total + below.min(axis=0)
                continue
            by_kind = np.full((partners.allowed.shape[1], *below.shape[1:]), BEYOND)
            np.minimum.at(by_kind, partners.second, below)
            least = np.where(partners.allowed[:, :, None, None], by_kind[None], BEYOND)
            total = total + least.min(axis=1, initial=BEYOND)[partners.first]
        return np.minimum(total, BEYOND)


def _shapes(rows: tuple[Row, ...]) -> tuple[IntArray, list[int]]:
    """For each row which tables of pieces it goes by, and for each such the first row."""
    numbers: dict[int, int] = {}
    of = [numbers.setdefault(id(row.tables), len(numbers)) for row in rows]
    firsts = [of.index(number) for number in range(len(numbers))]
    return np.array(of, dtype=np.int64), firsts


def _fullest_g(drive: Drive, row: Row, bays: Bays) -> int:
    """Grams of modules in the fullest box at least; 0 where any bays may be used."""
    if not bays:
        return 0
    core = drive.core
    most = _least_fullest(tuple(len(row.tables[bay]) - 1 for bay in bays), core.series)
    return most * core.parallel * drive.module.mass_g


def all_branches(joined: tuple[Branch, ...]) -> list[Branch]:
    return [some for branch in joined for some in (branch, *all_branches(branch.joined))]


class Branch:
    """A family that stands beside another, with those that stand beside it in turn."""

    def __init__(self, joint: Joint, family: str, joined: tuple[Branch, ...]) -> None:
        self.joint, self.family, self.joined = joint, family, joined


@lru_cache(maxsize=256)
def trees(
    families: tuple[str, ...], without: frozenset[tuple[str, str]]
) -> tuple[tuple[str, tuple[Branch, ...]], ...]:
    """The families in trees of joints. One that would close a ring or may not bind is left out."""
    left = dict.fromkeys(families)

    def branches(family: str) -> tuple[Branch, ...]:
        found = []
        for joint in JOINTS:
            pair = (joint.first, joint.second)
            if family not in pair or pair in without or joint.optional:
                continue
            other = joint.second if joint.first == family else joint.first
            if other in left:
                del left[other]
                found.append((joint, other))
        return tuple(Branch(joint, other, branches(other)) for joint, other in found)

    trees = []
    while left:
        root = next(iter(left))
        del left[root]
        trees.append((root, branches(root)))
    return tuple(trees)


@lru_cache(maxsize=4096)
def bay_sets(capacity: tuple[int, ...], series: int, bays_max: int | None) -> tuple[Bays, ...]:
    """Sets of bays that can hold ``series`` places, at least one in each."""
    open_bays = [bay for bay, most in enumerate(capacity) if most > 0]
    if 1 << len(open_bays) > SETS_MOST:
        return ((),)
    most = min(len(open_bays), series, len(open_bays) if bays_max is None else bays_max)
    found = tuple(
        bays
        for size in range(1, most + 1)
        for bays in combinations(open_bays, size)
        if sum(capacity[bay] for bay in bays) >= series
    )
    return found or ((),)


def _pieces(row: Row, bays: Bays) -> int:
    """The fewest pieces in these bays, each of them used; in any bays if none is named."""
    if not row.tables:
        return 0
    return row.least - row.base if not bays else least_in_bays(row.tables, row.series, bays)


@lru_cache(maxsize=65536)
def _least_fullest(capacity: tuple[int, ...], series: int) -> int:
    """The fewest places that the fullest bay must take."""
    most = -(-series // len(capacity))
    while sum(min(room, most) for room in capacity) < series:
        most += 1
    return most


__all__ = ["BEYOND", "BillBound", "bay_sets"]
