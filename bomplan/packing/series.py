"""In which order the modules of a box are joined: one fixed rule from where they stand.

The rule, never a search over orders: modules are taken lane by lane like a plough, each lane
the other way round than the one before, each layer from the corner that is nearest to where
the layer below ended. The plough may begin at four corners and run along the bay or across
it, and parallel modules may follow one another in a lane or stand side by side in as many
lanes. Of these at most sixteen runs that one counts which has the fewest links between
modules that are no neighbours, then the fewest series places between neighbours, then begins
at the wall where the cables come in, then has the shortest links.

Each module is turned so that its links are short. ``+`` and ``-`` are taken to stand on the
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
        return _total(list(self.links))


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
    if strings:
        size = len(order) // parallel
        parts = [(order[k * size : (k + 1) * size], k + 1, 1) for k in range(parallel)]
    else:
        parts = [(order, 1, parallel)]
    modules: list[Joined] = []
    links: list[ModuleLink] = []
    for part, string, side in parts:
        run = _Joining(stands, spacing_mm, from_rear, len(modules))
        for start in range(0, len(part), side):
            place = start // side
            run.group(part[start : start + side], string, place, place in open_after)
        modules += run.modules
        links += run.links
    return Run(tuple(modules), tuple(links), _places_apart(modules, pairs))


class _Joining:
    """Puts one run together, series place by series place."""

    def __init__(
        self, stands: tuple[Stand, ...], spacing_mm: int | None, from_rear: bool, offset: int
    ) -> None:
        self.stands, self.spacing_mm, self.offset = stands, spacing_mm, offset
        self.from_rear = from_rear
        self.modules: list[Joined] = []
        self.links: list[ModuleLink] = []

    def group(self, members: tuple[int, ...], string: int, place: int, opened: bool) -> None:
        """Add a group; ``opened``: no links lead to it from the group before.

        Modules of a group whose poles lie the same way are turned the same way; each is
        linked to its partner of the group before, partners counted from the same end or from
        opposite ends, whatever makes the shorter links.
        """
        pairings = [tuple(range(len(members)))]
        if len(members) > 1 and place:
            pairings.append(tuple(reversed(pairings[0])))
        found = []
        for pairing in pairings:
            for sense in (0, 1):
                modules: list[Joined] = []
                links: list[ModuleLink] = []
                for number, index in enumerate(members):
                    partner = len(self.modules) - len(members) + pairing[number] if place else None
                    beside = string if len(members) == 1 else number + 1
                    sides = self._sides(index)
                    if terminal_axis(self.stands[index]) == terminal_axis(self.stands[members[0]]):
                        sides = sides[sense : sense + 1]
                    choices = []
                    for side in sides:
                        module = Joined(index, place + 1, beside, side)
                        choices.append(
                            (module, self._own_links(module, partner, modules, place, opened))
                        )
                    module, own = min(choices, key=lambda one: _total(one[1]))
                    modules.append(module)
                    links += own
                found.append((_total(links), self._inward(modules[0], place), modules, links))
        _, _, modules, links = min(found, key=lambda one: one[:2])
        self.modules += modules
        self.links += links

    def _sides(self, index: int) -> tuple[Side, ...]:
        axis = terminal_axis(self.stands[index])
        sides: tuple[tuple[Side, Side], ...] = (("x-", "x+"), ("y-", "y+"), ("z-", "z+"))
        return sides[axis]

    def _own_links(
        self,
        module: Joined,
        partner: int | None,
        group: list[Joined],
        place: int,
        opened: bool,
    ) -> list[ModuleLink]:
        """The links to the group before and to the module before it in its own group."""
        number = len(self.modules) + len(group)
        links = []
        if partner is not None and not opened:
            links.append(self._link(partner, "-", self.modules[partner], number, "+", module, True))
        if group:
            if place == 0 or opened:
                links.append(self._link(number - 1, "+", group[-1], number, "+", module, False))
            links.append(self._link(number - 1, "-", group[-1], number, "-", module, False))
        return links

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
        start = terminal(a, one.plus, first_pole, self.spacing_mm)
        end = terminal(b, other.plus, second_pole, self.spacing_mm)
        joins: Joins = "apart"
        if are_neighbours(a, b):
            joins = "neighbours"
        elif a.layer != b.layer:
            joins = "layers"
        if joins == "neighbours":
            squares = sum((p - q) ** 2 for p, q in zip(start, end, strict=True))
            root = isqrt(squares)
            doubled = root if root * root == squares else root + 1
        else:
            doubled = _distance(start, end)
        return ModuleLink(
            self.offset + first, first_pole, self.offset + second, second_pole, series, joins,
            -(-doubled // 2),
        )  # fmt: skip

    def _inward(self, module: Joined, place: int) -> int:
        """How far + lies from the wall of the cables: decides only where no link does."""
        if place:
            return 0
        x = terminal(self.stands[module.index], module.plus, "+", self.spacing_mm)[0]
        return -x if self.from_rear else x


def _total(links: list[ModuleLink]) -> int:
    return sum(link.length_mm for link in links)


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


def _distance(one: _Point, other: _Point) -> int:
    return sum(abs(p - q) for p, q in zip(one, other, strict=True))
