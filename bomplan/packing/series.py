"""In which order the modules of a box are joined: one fixed rule from where they stand.

The rule, never a search over orders: modules are taken lane by lane like a plough, each lane
the other way round than the one before, each layer from the corner that is nearest to where
the layer below ended. The plough may begin at four corners and run along the bay or across
it, and parallel modules may follow one another in a lane or stand side by side in as many
lanes. Of these at most sixteen runs that one counts which has the fewest links between
modules that are no neighbours, then the fewest series places between neighbours, then begins
at the wall where the cables come in, then has the shortest links.

How modules are turned and linked stands in :mod:`bomplan.packing.joining`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from bomplan.packing.boxes import Stand
from bomplan.packing.joining import Group, Joining, Joins, Turned
from bomplan.packing.plough import Plough
from bomplan.packing.poles import Pole, Side, neighbours


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
    runs = SeriesRuns(stands, parallel, strings=strings, from_rear=from_rear, spacing_mm=spacing_mm)
    return runs.run(len(stands), open_after)


# A run before its links are numbered: the order, places between neighbours, its parts turned.
_Found = tuple[tuple[int, ...], int, list[list[Turned]]]


class SeriesRuns:
    """The runs over the first so many of some stands: what they have in common is kept."""

    def __init__(
        self,
        stands: tuple[Stand, ...],
        parallel: int,
        *,
        strings: bool = False,
        from_rear: bool = False,
        spacing_mm: int | None = None,
    ) -> None:
        if parallel < 1:
            raise ValueError(f"no series places of {parallel}")
        self._parallel = parallel
        self._strings = strings
        self._from_rear = from_rear
        self._plough = Plough(stands)
        self._joining = Joining(stands, spacing_mm, from_rear)
        self._pairs = sorted(neighbours(stands), key=max)
        self._beside = frozenset((*self._pairs, *((b, a) for a, b in self._pairs)))
        self._layers = [stand.layer for stand in stands]
        self._sides = 1 if strings else parallel

    def run(self, count: int, open_after: tuple[int, ...] = ()) -> Run:
        """The run over the first ``count`` stands."""
        if count % self._parallel:
            raise ValueError(f"{count} modules do not make series places of {self._parallel}")
        if not count:
            return Run((), (), 0)
        _, apart, parts = self._best(count, open_after)
        modules: list[Joined] = []
        links: list[ModuleLink] = []
        for string, part in enumerate(parts, start=1):
            offset = len(modules)
            for place, group in enumerate(part):
                first = offset + place * self._sides
                modules += [
                    Joined(index, place + 1, number if self._sides > 1 else string, side)
                    for number, (index, side) in enumerate(
                        zip(group.members, group.sides, strict=True), start=1
                    )
                ]
                links += [
                    ModuleLink(
                        first - (self._sides if joint.series else 0) + joint.first,
                        joint.first_pole,
                        first + joint.second,
                        joint.second_pole,
                        joint.series,
                        joint.joins,
                        joint.length_mm,
                    )
                    for joint in group.joints
                ]
        return Run(tuple(modules), tuple(links), apart)

    def joints(self, count: int, open_after: tuple[int, ...] = ()) -> Iterator[tuple[Joins, int]]:
        """Every link of the run over the first ``count`` stands: what it joins, millimetres."""
        if count:
            for part in self._best(count, open_after)[2]:
                for group in part:
                    for joint in group.joints:
                        yield joint.joins, joint.length_mm

    def _best(self, count: int, open_after: tuple[int, ...]) -> _Found:
        """The run that counts; polarity is worked out only where it may decide."""
        widths = (1,) if self._sides == 1 else (1, self._parallel)
        orders = self._plough.orders(count, widths, self._from_rear)
        ranked = sorted(
            (self._apart_at_least(order, open_after), number)
            for number, (_, order) in enumerate(orders)
        )
        pairs = [pair for pair in self._pairs if max(pair) < count]
        best: tuple[tuple[int, int, bool, int, int], _Found] | None = None
        for least, number in ranked:
            if best is not None and least > best[0][0]:
                break
            away, order = orders[number]
            between = self._places_apart(order, pairs)
            if best is not None and (least, between, away) > best[0][:3]:
                continue
            parts = [self._joining.turned(groups, open_after) for groups in self._groups(order)]
            joints = [joint for part in parts for group in part for joint in group.joints]
            key = (
                sum(joint.joins == "apart" for joint in joints),
                between,
                away,
                sum(joint.length_mm for joint in joints),
                number,
            )
            if best is None or key < best[0]:
                best = key, (order, between, parts)
        assert best is not None
        return best[1]

    def _groups(self, order: tuple[int, ...]) -> Iterator[list[Group]]:
        """The groups of every run: one, or with strings as many as there are strings."""
        size = len(order) // self._parallel if self._strings else len(order)
        for start in range(0, len(order), size):
            part = order[start : start + size]
            yield [part[at : at + self._sides] for at in range(0, size, self._sides)]

    def _apart_at_least(self, order: tuple[int, ...], open_after: tuple[int, ...]) -> int:
        """No fewer links between modules that are no neighbours, however modules are turned."""
        total = 0
        for groups in self._groups(order):
            if self._sides == 1:
                part = [group[0] for group in groups]
                total += sum(
                    self._is_apart(one, other)
                    for place, (one, other) in enumerate(pairwise(part), start=1)
                    if place not in open_after
                )
                continue
            for place, group in enumerate(groups):
                opened = place == 0 or place in open_after
                across = sum(self._is_apart(one, other) for one, other in pairwise(group))
                total += across * (2 if opened else 1)
                if not opened:
                    before = groups[place - 1]
                    total += min(
                        sum(map(self._is_apart, before, group)),
                        sum(map(self._is_apart, reversed(before), group)),
                    )
        return total

    def _is_apart(self, one: int, other: int) -> bool:
        return (one, other) not in self._beside and self._layers[one] == self._layers[other]

    def _places_apart(self, order: tuple[int, ...], pairs: list[tuple[int, int]]) -> int:
        place = [0] * len(order)
        size = len(order) // self._parallel if self._strings else len(order)
        for number, index in enumerate(order):
            place[index] = number % size // self._sides
        return max((abs(place[one] - place[other]) for one, other in pairs), default=0)


def contiguous(run: Run) -> bool:
    """Whether every series place of every string follows the one before it."""
    by_string: dict[int, list[int]] = {}
    for module in run.modules:
        by_string.setdefault(module.beside, []).append(module.place)
    return all(
        places[0] == 1 and all(b == a + 1 for a, b in pairwise(places))
        for places in by_string.values()
    )
