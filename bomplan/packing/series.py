"""In which order the modules of a box are joined: one fixed rule from where they stand.

The rule, never a search over orders: modules are taken lane by lane like a plough, each lane
the other way round than the one before, each layer from the corner that is nearest to where
the layer below ended. The plough may begin at four corners and run along the bay or across
it, and parallel modules may follow one another in a lane or stand side by side in as many
lanes. Of these at most sixteen runs that one counts which has the fewest links between
modules that are no neighbours, then the fewest series places between neighbours, then begins
at the wall where the cables come in, then has the shortest links.

Modules are turned so that links seldom pass the other pole of a module that they join, then so
that the links are short together. ``+`` and ``-`` are taken to stand on the
middle line of the terminals' face, along its longer side, ``spacing_mm`` apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import isqrt
from typing import Literal

from bomplan.packing.boxes import Stand

Pole = Literal["+", "-"]
Side = Literal["x-", "x+", "y-", "y+", "z-", "z+"]
Joins = Literal["neighbours", "layers", "apart"]
SPACING_SHARE = 7, 10
"""+ to - over the longer side where nobody measured it: prismatic cells, common practice."""

_Point = tuple[int, int, int]  # twice the millimetres, so that middles stay whole
_AXES = "xyz"
_SIDES: tuple[tuple[Side, Side], ...] = (("x-", "x+"), ("y-", "y+"), ("z-", "z+"))
_OTHER: dict[Pole, Pole] = {"+": "-", "-": "+"}


@dataclass(frozen=True)
class Joined:
    """One module of the run: ``place`` and ``beside`` count from 1, at the positive end.

    ``place`` is its series place in this box, ``beside`` its number in a group of parallel
    modules or that of its string; ``plus`` the side of the module at which ``+`` is.
    """

    index: int
    place: int
    beside: int
    plus: Side


@dataclass(frozen=True)
class ModuleLink:
    """A link from one pole to another; ``first`` and ``second`` count in the run, from 0.

    ``joins``: ``neighbours`` in one layer; modules of different ``layers``; or modules
    ``apart``, which a bar cannot reach. ``length_mm`` is from middle to middle of the
    terminals, rounded up: straight between neighbours, along x, y and z for all others.
    """

    first: int
    first_pole: Pole
    second: int
    second_pole: Pole
    series: bool
    joins: Joins
    length_mm: int


@dataclass(frozen=True)
class Run:
    """The modules of a box from plus to minus, and the links that join them.

    ``places_apart`` is the greatest difference in series place between two modules that are
    neighbours: times the voltage of one place, plus one, it is what a slipped tool meets.
    """

    modules: tuple[Joined, ...]
    links: tuple[ModuleLink, ...]
    places_apart: int

    @property
    def length_mm(self) -> int:
        """All links together."""
        return sum(link.length_mm for link in self.links)


def series_run(
    stands: tuple[Stand, ...],
    parallel: int,
    *,
    strings: bool = False,
    from_rear: bool = False,
    spacing_mm: int | None = None,
    open_after: tuple[int, ...] = (),
) -> Run:
    """The order, polarity and links of the modules of one box.

    ``parallel`` modules make one series place (a group), or, with ``strings``, so many runs
    lie side by side that are joined outside. ``from_rear``: the run begins at the rear wall.
    ``open_after`` gives series places after which something else than links (a disconnect)
    leads on. ValueError where the modules make no whole number of series places.
    """
    if parallel < 1 or len(stands) % parallel:
        raise ValueError(f"{len(stands)} modules do not make series places of {parallel}")
    if not stands:
        return Run((), (), 0)
    pairs = _neighbours(stands)
    runs = [
        (away, _joined(stands, order, parallel, strings, from_rear, spacing_mm, open_after, pairs))
        for away, order in _orders(stands, parallel, strings, from_rear)
    ]
    return min(
        runs,
        key=lambda run: (
            sum(link.joins == "apart" for link in run[1].links),
            run[1].places_apart,
            run[0],
            run[1].length_mm,
        ),
    )[1]


def are_neighbours(one: Stand, other: Stand) -> bool:
    """Whether two modules of a layer face each other with no room for a third between them."""
    if one.layer != other.layer:
        return False
    least = min(one.length_mm, one.width_mm, one.height_mm)
    gap_x = max(one.x_mm, other.x_mm) - min(one.x_mm + one.length_mm, other.x_mm + other.length_mm)
    gap_y = max(one.y_mm, other.y_mm) - min(one.y_mm + one.width_mm, other.y_mm + other.width_mm)
    return (gap_x < 0 <= gap_y < least) or (gap_y < 0 <= gap_x < least)


def terminal(stand: Stand, plus: Side, pole: Pole, spacing_mm: int | None = None) -> _Point:
    """Where a pole stands, in half millimetres of the bay: ``spacing`` from the other one."""
    sides = (stand.length_mm, stand.width_mm, stand.height_mm)
    at = [
        2 * corner + size
        for corner, size in zip((stand.x_mm, stand.y_mm, stand.z_mm), sides, strict=True)
    ]
    face = {"x": 0, "y": 1, "up": 2}[stand.terminals]
    at[face] += sides[face]
    axis = _AXES.index(plus[0])
    share, whole = SPACING_SHARE
    spacing = sides[axis] * share // whole if spacing_mm is None else min(spacing_mm, sides[axis])
    at[axis] += spacing if (plus[1] == "+") == (pole == "+") else -spacing
    return at[0], at[1], at[2]


def terminal_axis(stand: Stand) -> int:
    """The direction in which + and - of a module are apart: 0 for x, 1 for y, 2 for z."""
    sides = (stand.length_mm, stand.width_mm, stand.height_mm)
    face = {"x": 0, "y": 1, "up": 2}[stand.terminals]
    return max((axis for axis in range(3) if axis != face), key=lambda axis: (sides[axis], -axis))


# -- the order -----------------------------------------------------------------------------


def _orders(
    stands: tuple[Stand, ...], parallel: int, strings: bool, from_rear: bool
) -> list[tuple[bool, tuple[int, ...]]]:
    """Every run of the rule, and whether it begins away from the wall of the cables."""
    found: dict[tuple[int, ...], bool] = {}
    for wide in (1,) if strings or parallel == 1 else (1, parallel):
        for axis in (0, 1):
            for along in (False, True):
                for across in (False, True):
                    order: list[int] = []
                    for layer in sorted({stand.layer for stand in stands}):
                        here = [n for n, stand in enumerate(stands) if stand.layer == layer]
                        order += (
                            _from_nearest(stands, here, axis, wide, order[-1])
                            if order
                            else _ploughed(stands, here, axis, wide, along, across)
                        )
                    away = (along if axis == 0 else across) != from_rear
                    found.setdefault(tuple(order), away)
    return [(away, order) for order, away in found.items()]


def _from_nearest(
    stands: tuple[Stand, ...], here: list[int], axis: int, wide: int, last: int
) -> list[int]:
    """One layer, begun at the corner nearest to the end of the one below."""
    runs = [
        _ploughed(stands, here, axis, wide, along, across)
        for along in (False, True)
        for across in (False, True)
    ]
    end = _middle(stands[last])
    return min(runs, key=lambda run: _distance(_middle(stands[run[0]]), end))


def _ploughed(
    stands: tuple[Stand, ...],
    here: list[int],
    axis: int,
    wide: int,
    backward_along: bool,
    backward_across: bool,
) -> list[int]:
    """Lanes along ``axis``, ``wide`` of them at a time, each the other way round."""
    lanes = _lanes(stands, here, axis)
    if backward_across:
        lanes.reverse()
    order: list[int] = []
    turned = backward_along
    for start in range(0, len(lanes), wide):
        band = [index for lane in lanes[start : start + wide] for index in lane]
        rungs = _lanes(stands, band, 1 - axis) if wide > 1 else [[one] for one in band]
        if wide == 1:
            rungs.sort(key=lambda rung: _middle(stands[rung[0]])[axis])
        if turned:
            rungs.reverse()
        for rung in rungs:
            order += reversed(rung) if backward_across else rung
        turned = not turned
    return order


def _lanes(stands: tuple[Stand, ...], here: list[int], axis: int) -> list[list[int]]:
    """Modules side by side along ``axis``: a lane takes every middle within its first module."""
    across = 1 - axis
    waiting = sorted(here, key=lambda n: (_middle(stands[n])[across], _middle(stands[n])[axis], n))
    lanes: list[list[int]] = []
    edge = -1
    for index in waiting:
        if lanes and _middle(stands[index])[across] < edge:
            lanes[-1].append(index)
            continue
        first = stands[index]
        edge = 2 * (first.x_mm + first.length_mm, first.y_mm + first.width_mm)[across]
        lanes.append([index])
    for lane in lanes:
        lane.sort(key=lambda n: (_middle(stands[n])[axis], n))
    return lanes


# -- polarity and links --------------------------------------------------------------------


def _joined(
    stands: tuple[Stand, ...],
    order: tuple[int, ...],
    parallel: int,
    strings: bool,
    from_rear: bool,
    spacing_mm: int | None,
    open_after: tuple[int, ...],
    pairs: tuple[tuple[int, int], ...],
) -> Run:
    size = len(order) // parallel if strings else len(order)
    modules: list[Joined] = []
    links: list[ModuleLink] = []
    for string, start in enumerate(range(0, len(order), size), start=1):
        part, side = order[start : start + size], 1 if strings else parallel
        joining = _Joining(stands, spacing_mm, from_rear, open_after, len(modules))
        groups = [part[at : at + side] for at in range(0, len(part), side)]
        here, between = joining.turned(groups, string)
        modules += here
        links += between
    return Run(tuple(modules), tuple(links), _places_apart(modules, pairs))


_Cost = tuple[int, int, int]  # links past a pole of their own, millimetres, way of the first +


@dataclass(frozen=True)
class _Turned:
    """A group turned one way: what the run costs up to it, and how the group before is turned."""

    cost: _Cost
    modules: tuple[Joined, ...]
    links: tuple[ModuleLink, ...]
    before: int | None


@dataclass(frozen=True)
class _Joining:
    """Turns and links the groups of one run, whose modules count from ``offset``."""

    stands: tuple[Stand, ...]
    spacing_mm: int | None
    from_rear: bool
    open_after: tuple[int, ...]
    offset: int

    def turned(
        self, groups: list[tuple[int, ...]], string: int
    ) -> tuple[list[Joined], list[ModuleLink]]:
        """The modules with their polarity and the links of the run.

        Every group may be turned two ways; of all ways that one is taken whose links least
        often pass the other pole of a module of their own, then are shortest together.
        """
        steps: list[list[_Turned]] = []
        for place, members in enumerate(groups):
            before = steps[-1] if steps else [None]
            steps.append(
                [
                    min(
                        (
                            self._group(members, string, place, sense, earlier, way)
                            for way, earlier in enumerate(before)
                        ),
                        key=lambda one: one.cost,
                    )
                    for sense in (0, 1)
                ]
            )
        found: list[_Turned] = []
        sense = min((0, 1), key=lambda way: steps[-1][way].cost)
        for step in reversed(steps):
            found.append(step[sense])
            sense = step[sense].before or 0
        found.reverse()
        return (
            [module for one in found for module in one.modules],
            [link for one in found for link in one.links],
        )

    def _group(
        self,
        members: tuple[int, ...],
        string: int,
        place: int,
        sense: int,
        earlier: _Turned | None,
        way: int,
    ) -> _Turned:
        """One group turned one way behind another.

        Modules whose poles lie the same way are turned the same way, any other by its own
        links. Each is linked to its partner of the group before, partners counted from the
        same end or from opposite ends, whichever costs less.
        """
        count = len(members)
        pairings = [tuple(range(count))]
        if count > 1 and earlier is not None:
            pairings.append(tuple(reversed(pairings[0])))
        axis = terminal_axis(self.stands[members[0]])
        found = []
        for pairing in pairings:
            modules: list[Joined] = []
            links: list[ModuleLink] = []
            cost = earlier.cost if earlier is not None else (0, 0, 0)
            for number, index in enumerate(members):
                beside = string if count == 1 else number + 1
                sides: tuple[Side, ...] = _SIDES[terminal_axis(self.stands[index])]
                if terminal_axis(self.stands[index]) == axis:
                    sides = sides[sense : sense + 1]
                choices = []
                for side in sides:
                    module = Joined(index, place + 1, beside, side)
                    own = self._own_links(module, pairing[number], earlier, modules, place, count)
                    choices.append((self._cost(own, module, place), module, own))
                spent, module, own = min(choices, key=lambda one: one[0])
                cost = (cost[0] + spent[0], cost[1] + spent[1], cost[2] + spent[2])
                modules.append(module)
                links += [link for link, _, _ in own]
            back = way if earlier is not None else None
            found.append(_Turned(cost, tuple(modules), tuple(links), back))
        return min(found, key=lambda one: one.cost)

    def _own_links(
        self,
        module: Joined,
        partner: int,
        earlier: _Turned | None,
        group: list[Joined],
        place: int,
        count: int,
    ) -> list[tuple[ModuleLink, Joined, Joined]]:
        """Links to the group before and to the module before it in its own group."""
        first = self.offset + place * count
        number, opened = first + len(group), place in self.open_after
        found = []
        if earlier is not None and not opened:
            other = earlier.modules[partner]
            found.append(
                (self._link(first - count + partner, "-", other, number, "+", module, True),
                 other, module)
            )  # fmt: skip
        if group:
            ends: tuple[Pole, ...] = ("+", "-") if earlier is None or opened else ("-",)
            for pole in ends:
                link = self._link(number - 1, pole, group[-1], number, pole, module, False)
                found.append((link, group[-1], module))
        return found

    def _link(
        self,
        first: int,
        first_pole: Pole,
        one: Joined,
        second: int,
        second_pole: Pole,
        other: Joined,
        series: bool,
    ) -> ModuleLink:
        a, b = self.stands[one.index], self.stands[other.index]
        start, end = self._pole(one, first_pole), self._pole(other, second_pole)
        joins: Joins = "apart"
        if are_neighbours(a, b):
            joins = "neighbours"
        elif a.layer != b.layer:
            joins = "layers"
        doubled = _distance(start, end)
        if joins == "neighbours":
            squares = _squares(start, end)
            root = isqrt(squares)
            doubled = root if root * root == squares else root + 1
        return ModuleLink(first, first_pole, second, second_pole, series, joins, -(-doubled // 2))

    def _cost(
        self, own: list[tuple[ModuleLink, Joined, Joined]], module: Joined, place: int
    ) -> _Cost:
        past = sum(self._passes(*one) for one in own if one[0].joins == "neighbours")
        x = self._pole(module, "+")[0]
        # how far the first + lies from the wall of the cables: decides where no link does
        inward = 0 if place else -x if self.from_rear else x
        return past, sum(link.length_mm for link, _, _ in own), inward

    def _passes(self, link: ModuleLink, one: Joined, other: Joined) -> bool:
        """Whether the other pole of one of its modules lies nearer to where the link goes."""
        start, end = self._pole(one, link.first_pole), self._pole(other, link.second_pole)
        span = _squares(start, end)
        return (
            _squares(self._pole(one, _OTHER[link.first_pole]), end) < span
            or _squares(start, self._pole(other, _OTHER[link.second_pole])) < span
        )

    def _pole(self, module: Joined, pole: Pole) -> _Point:
        return terminal(self.stands[module.index], module.plus, pole, self.spacing_mm)


def _neighbours(stands: tuple[Stand, ...]) -> tuple[tuple[int, int], ...]:
    """Every pair of neighbours, as indices."""
    by_x = sorted(range(len(stands)), key=lambda n: (stands[n].layer, stands[n].x_mm, n))
    found = []
    for number, first in enumerate(by_x):
        one = stands[first]
        reach = one.x_mm + one.length_mm + min(one.length_mm, one.width_mm, one.height_mm)
        for second in by_x[number + 1 :]:
            other = stands[second]
            if other.layer != one.layer or other.x_mm >= reach:
                break
            if are_neighbours(one, other):
                found.append((first, second))
    return tuple(found)


def _places_apart(modules: list[Joined], pairs: tuple[tuple[int, int], ...]) -> int:
    place = {module.index: module.place for module in modules}
    return max((abs(place[first] - place[second]) for first, second in pairs), default=0)


def contiguous(run: Run) -> bool:
    """Whether every series place of every string follows the one before it."""
    by_string: dict[int, list[int]] = {}
    for module in run.modules:
        by_string.setdefault(module.beside, []).append(module.place)
    return all(
        places[0] == 1 and all(b == a + 1 for a, b in pairwise(places))
        for places in by_string.values()
    )


def _middle(stand: Stand) -> _Point:
    return (
        2 * stand.x_mm + stand.length_mm,
        2 * stand.y_mm + stand.width_mm,
        2 * stand.z_mm + stand.height_mm,
    )


def _squares(one: _Point, other: _Point) -> int:
    return sum((p - q) ** 2 for p, q in zip(one, other, strict=True))


def _distance(one: _Point, other: _Point) -> int:
    return sum(abs(p - q) for p, q in zip(one, other, strict=True))
