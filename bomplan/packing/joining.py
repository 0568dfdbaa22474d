"""How the modules of a run are turned, and the links that follow: least cost along the run.

Every group of parallel modules may be turned two ways; of all ways that one is taken whose
links least often pass the other pole of a module that they join, then are shortest together,
then whose first + lies towards the wall of the cables. What one group costs behind another
depends on these two alone, so it is worked out once for all runs over the same stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import inf, isqrt
from typing import Final, Literal, NamedTuple

from bomplan.packing.boxes import Stand
from bomplan.packing.poles import (
    Point,
    Pole,
    Side,
    along_walls,
    are_neighbours,
    neighbours,
    squares,
    terminal,
    terminal_axis,
)

Joins = Literal["neighbours", "layers", "apart"]
Group = tuple[int, ...]
_SIDES: Final[tuple[tuple[Side, Side], ...]] = (("x-", "x+"), ("y-", "y+"), ("z-", "z+"))
_OTHER: Final[dict[Pole, Pole]] = {"+": "-", "-": "+"}
# One integer for the cost: links past a pole, then millimetres, then the way of the first +.
_PAST: Final = 10**18
_MM: Final = 10**9
_FIRST, _LINKED, _OPENED = range(3)  # the first group of a run, one that is linked, one that is not


class Joint(NamedTuple):
    """A link between a module of the group before (or of the same group) and one of a group.

    ``first`` and ``second`` count within their groups.
    """

    first: int
    first_pole: Pole
    second: int
    second_pole: Pole
    series: bool
    joins: Joins
    length_mm: int


@dataclass(frozen=True)
class _Step:
    """A group turned one way behind another: what it adds, and its own links."""

    cost: int
    sides: tuple[Side, ...]
    joints: tuple[Joint, ...]


@dataclass(frozen=True)
class Turned:
    """One group of a run with its polarity and the links that lead to and into it."""

    members: Group
    sides: tuple[Side, ...]
    joints: tuple[Joint, ...]


def shortest_link_mm(
    stands: tuple[Stand, ...], spacing_mm: int | None, enough_mm: int = 0
) -> float:
    """The shortest link between any two neighbours, however they are turned; endless for none.

    The first that is no longer than ``enough_mm`` will do.
    """
    joining = Joining(stands, spacing_mm, from_rear=False)
    shortest = inf
    for one, other in neighbours(stands):
        for place in product(*joining.ways(one, other)):
            shortest = min(shortest, joining.apart_mm(one, other, *place))
            if shortest <= enough_mm:
                return shortest
    return shortest


class Joining:
    """Turns and links groups over the same stands; keeps what it has worked out."""

    def __init__(self, stands: tuple[Stand, ...], spacing_mm: int | None, from_rear: bool) -> None:
        self._stands = stands
        self._spacing_mm = spacing_mm
        self._from_rear = from_rear
        self._axes = [terminal_axis(stand) for stand in stands]
        self._joins: dict[tuple[int, int], Joins] = {}
        self._poles: dict[tuple[int, Side, Pole], Point] = {}
        self._links: dict[tuple[int, Side, Pole, int, Side, Pole], tuple[int, Joins, int]] = {}
        self._steps: dict[
            tuple[Group, tuple[Side, ...], tuple[Side, ...], Group, int],
            tuple[tuple[_Step, _Step], ...],
        ] = {}

    def ways(self, one: int, other: int) -> Iterator[tuple[Side, Side]]:
        """Both ways in which either of two modules may be turned."""
        yield _SIDES[self._axes[one]]
        yield _SIDES[self._axes[other]]

    def apart_mm(self, one: int, other: int, one_side: Side, other_side: Side) -> int:
        """From + of one module to + of another; with - it is another way of turning them."""
        return self._link(one, one_side, "+", other, other_side, "+")[2]

    def joins(self, one: int, other: int) -> Joins:
        """How two modules stand to each other."""
        key = (one, other)
        known = self._joins.get(key)
        if known is None:
            a, b = self._stands[one], self._stands[other]
            known = "apart"
            if are_neighbours(a, b):
                known = "neighbours"
            elif a.layer != b.layer:
                known = "layers"
            self._joins[key] = known
        return known

    def turned(self, groups: Sequence[Group], open_after: tuple[int, ...]) -> list[Turned]:
        """The groups of one run; after the places of ``open_after`` no link leads on."""
        before: Group = ()
        sides: tuple[tuple[Side, ...], tuple[Side, ...]] = ((), ())
        costs = (0, 0)
        found: list[tuple[tuple[_Step, _Step], tuple[int, int]]] = []
        for place, members in enumerate(groups):
            kind = _LINKED if place else _FIRST
            if place and place in open_after:
                kind = _OPENED
            steps = self._behind(before, sides, members, kind)
            chosen, ways, spent = [], [], []
            for sense in (0, 1):
                first, way = costs[0] + steps[0][sense].cost, 0
                second = costs[1] + steps[1][sense].cost
                if place and second < first:
                    first, way = second, 1
                chosen.append(steps[way][sense])
                ways.append(way)
                spent.append(first)
            found.append(((chosen[0], chosen[1]), (ways[0], ways[1])))
            sides = chosen[0].sides, chosen[1].sides
            costs = spent[0], spent[1]
            before = members
        sense = 1 if costs[1] < costs[0] else 0
        turned = []
        for members, (chosen_of, ways_of) in zip(reversed(groups), reversed(found), strict=True):
            step = chosen_of[sense]
            turned.append(Turned(members, step.sides, step.joints))
            sense = ways_of[sense]
        turned.reverse()
        return turned

    def _behind(
        self,
        before: Group,
        sides: tuple[tuple[Side, ...], tuple[Side, ...]],
        members: Group,
        kind: int,
    ) -> tuple[tuple[_Step, _Step], ...]:
        """By the way of the group before, then by the way of this one."""
        key = (before, sides[0], sides[1], members, kind)
        known = self._steps.get(key)
        if known is None:
            known = tuple(
                (
                    self._step(before, way, members, 0, kind),
                    self._step(before, way, members, 1, kind),
                )
                for way in sides
            )
            self._steps[key] = known
        return known

    def _step(
        self, before: Group, turned: tuple[Side, ...], members: Group, sense: int, kind: int
    ) -> _Step:
        """One group turned one way behind another.

        Modules whose poles lie the same way are turned the same way, any other by its own
        links. Each is linked to its partner of the group before, partners counted from the
        same end or from opposite ends, whichever costs less.
        """
        count = len(members)
        pairings = [tuple(range(count))]
        if count > 1 and kind != _FIRST:
            pairings.append(tuple(reversed(pairings[0])))
        axis = self._axes[members[0]]
        found = []
        for pairing in pairings:
            sides: list[Side] = []
            joints: list[Joint] = []
            cost = 0
            for number, index in enumerate(members):
                choices: tuple[Side, ...] = _SIDES[self._axes[index]]
                if self._axes[index] == axis:
                    choices = choices[sense : sense + 1]
                tried = []
                for side in choices:
                    partner = (
                        (pairing[number], before[pairing[number]], turned[pairing[number]])
                        if kind == _LINKED
                        else None
                    )
                    ahead = (members[number - 1], sides[-1]) if number else None
                    tried.append((*self._own(number, index, side, partner, ahead, kind), side))
                spent, own, side = min(tried, key=lambda one: one[0])
                cost += spent
                sides.append(side)
                joints += own
            found.append(_Step(cost, tuple(sides), tuple(joints)))
        return min(found, key=lambda one: one.cost)

    def _own(
        self,
        number: int,
        index: int,
        side: Side,
        partner: tuple[int, int, Side] | None,
        ahead: tuple[int, Side] | None,
        kind: int,
    ) -> tuple[int, list[Joint]]:
        """Links to the group before and to the module before it in its own group, and cost."""
        joints = []
        cost = 0
        if partner is not None:
            place, other, turned = partner
            spent, joins, length = self._link(other, turned, "-", index, side, "+")
            cost += spent
            joints.append(Joint(place, "-", number, "+", True, joins, length))
        if ahead is not None:
            ends: tuple[Pole, ...] = ("-",) if kind == _LINKED else ("+", "-")
            for pole in ends:
                spent, joins, length = self._link(*ahead, pole, index, side, pole)
                cost += spent
                joints.append(Joint(number - 1, pole, number, pole, False, joins, length))
        if kind == _FIRST:
            # how far the first + lies from the wall of the cables: decides where no link does
            x = self._pole(index, side, "+")[0]
            cost += -x if self._from_rear else x
        return cost, joints

    def _link(
        self,
        one: int,
        one_side: Side,
        one_pole: Pole,
        other: int,
        other_side: Side,
        other_pole: Pole,
    ) -> tuple[int, Joins, int]:
        """What a link from one pole to another costs, what it joins, its millimetres."""
        key = (one, one_side, one_pole, other, other_side, other_pole)
        known = self._links.get(key)
        if known is None:
            known = self._links[key] = self._linked(*key)
        return known

    def _linked(
        self,
        one: int,
        one_side: Side,
        one_pole: Pole,
        other: int,
        other_side: Side,
        other_pole: Pole,
    ) -> tuple[int, Joins, int]:
        start, end = self._pole(one, one_side, one_pole), self._pole(other, other_side, other_pole)
        joins = self.joins(one, other)
        past = 0
        if joins == "neighbours":
            span = squares(start, end)
            root = isqrt(span)
            doubled = root if root * root == span else root + 1
            # whether the other pole of one of them lies nearer to where the link goes
            past = (
                squares(self._pole(one, one_side, _OTHER[one_pole]), end) < span
                or squares(start, self._pole(other, other_side, _OTHER[other_pole])) < span
            )
        else:
            doubled = along_walls(start, end)
        length = -(-doubled // 2)
        return past * _PAST + length * _MM, joins, length

    def _pole(self, index: int, side: Side, pole: Pole) -> Point:
        key = (index, side, pole)
        known = self._poles.get(key)
        if known is None:
            known = terminal(self._stands[index], side, pole, self._spacing_mm)
            self._poles[key] = known
        return known
