"""Whether a core may stand in a set of bays at all, as far as axles and plates tell.

Every mass limit is a sum over what is fitted. Its least value over all placements in the set and
all rows of the other families is found apart for the modules (exactly, place by place) and for
each other family (each row and each bay at its best); if even the sum of these is above the
limit, no bill of the core uses just these bays. Limits that read across the car are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.assemble import place_x_mm
from bomplan.design.bill import Rule
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.packing import moment_table
from bomplan.planner.options import Group, Options, Row, least_in_bays
from bomplan.requirements.loads import mass_rows

IntArray = npt.NDArray[np.int64]
BEYOND = 1 << 60  # above any limit; twice it still fits an integer


@dataclass(frozen=True, eq=False)
class _Shape:
    """Rows of a family that are needed in the same numbers: one of them, and their grams."""

    row: Row
    least_g: int
    most_g: int


def _shapes(rows: tuple[Row, ...]) -> tuple[_Shape, ...]:
    alike: dict[tuple[int, int, int], list[Row]] = {}
    for row in rows:
        alike.setdefault((row.base, id(row.tables), id(row.most_tables)), []).append(row)
    found = []
    for some in alike.values():
        grams = [row.part.mass_g for row in some]
        found.append(_Shape(some[0], min(grams), max(grams)))
    return tuple(found)


class MassBound:
    """The mass limits of one project as arrays, one entry per limit."""

    def __init__(self, context: Context) -> None:
        self._context = context
        limits = [limit for limit in mass_rows(context) if not limit.sideways]
        self._per_gram = np.array([limit.per_gram for limit in limits], dtype=np.int64)
        self._per_gmm = np.array([limit.per_gmm for limit in limits], dtype=np.int64)
        # What the limits leave for everything that is added.
        self.left = self._left = np.array(
            [limit.limit - limit.constant for limit in limits], dtype=np.int64
        )
        # By the identity of rows, which are kept here so that no others take it.
        self._known: dict[
            tuple[int, tuple[int, ...]], tuple[tuple[Row, ...], IntArray, tuple[int, ...]]
        ] = {}
        self._shapes: dict[int, tuple[tuple[Row, ...], tuple[_Shape, ...]]] = {}
        # By the identity of tables, which are kept in the same way.
        self._effects: dict[tuple[object, ...], tuple[object, IntArray]] = {}
        self._modules: dict[tuple[str, int, int], IntArray] = {}
        self._stands: dict[tuple[int, str], IntArray] = {}
        self._at: dict[str, IntArray] = {}
        self._least_modules: dict[tuple[object, ...], IntArray] = {}
        # What a gram anywhere leaves of the limits that read mass alone.
        self._gross = [
            (limit.per_gram, limit.limit - limit.constant)
            for limit in limits
            if limit.per_gmm == 0 and limit.per_gram > 0
        ]

    def may_weigh(self, added_g: int) -> bool:
        """Whether the limits on the whole mass leave room for so many grams."""
        return all(per_gram * added_g <= left for per_gram, left in self._gross)

    def may_stand(
        self,
        drive: Drive,
        options: Options,
        bays: tuple[int, ...],
    ) -> bool:
        """False if no bill with these rows that uses exactly these bays keeps every limit."""
        rows, capacity = options.rows, options.capacity
        others = [self.of_group(group, bays) for group in options.parts]
        room = self._room(drive, capacity, bays, [in_bays for _, in_bays in others])
        if sum(room[bay] for bay in bays) < drive.core.series:
            return False
        least = self.least_of_modules(drive, rows["module"][0], room, bays)
        for added, _ in others:
            least = least + added
        return bool((least <= self._left).all())

    def _room(
        self,
        drive: Drive,
        capacity: tuple[int, ...],
        bays: tuple[int, ...],
        others: list[tuple[int, ...]],
    ) -> tuple[int, ...]:
        """The series places that each bay's own mass limit leaves beside everything else in it."""
        room = list(capacity)
        for place, bay in enumerate(bays):
            limit_g = self._context.bays[bay].mass_limit_g
            if limit_g is not None:
                left_g = limit_g - sum(in_bays[place] for in_bays in others)
                each_g = drive.module.mass_g * drive.core.parallel
                room[bay] = max(0, min(room[bay], left_g // each_g))
        return tuple(room)

    def of_group(self, group: Group, bays: tuple[int, ...]) -> tuple[IntArray, tuple[int, ...]]:
        """What families add at least to each limit, and in each of the bays; modules left out."""
        known = group.mass.get(bays)
        if known is None:
            each = [
                self._remembered(some, bays)
                for family, some in group.rows.items()
                if family != "module"
            ]
            added = np.sum([np.zeros_like(self._left), *[one for one, _ in each]], axis=0)
            in_bays = map(sum, zip(*[one for _, one in each], strict=True))
            known = group.mass[bays] = added, tuple(in_bays) or (0,) * len(bays)
        return known

    def _remembered(
        self, rows: tuple[Row, ...], bays: tuple[int, ...]
    ) -> tuple[IntArray, tuple[int, ...]]:
        """What a family adds at least to each limit, and the grams of it in each of the bays."""
        known = self._known.get((id(rows), bays))
        if known is None:
            known = rows, self._least_of(rows, bays), self._least_in_bays(rows, bays)
            self._known[id(rows), bays] = known
        return known[1], known[2]

    def _least_of(self, rows: tuple[Row, ...], bays: tuple[int, ...]) -> IntArray:
        """The least that a family adds to each limit: each row, each bay at its best.

        Of rows that are needed in the same numbers the lightest adds least where a gram adds
        to the limit, the heaviest where it eases it.
        """
        found = []
        for shape in self._shapes_of(rows):
            effect = self.effect_of(shape.row, bays)
            found.append(np.minimum(effect * shape.least_g, effect * shape.most_g))
        return found[0] if len(found) == 1 else np.min(found, axis=0)

    def _least_in_bays(self, rows: tuple[Row, ...], bays: tuple[int, ...]) -> tuple[int, ...]:
        """The least grams of a family in each of the bays."""
        if not rows[0].tables:
            return (0,) * len(bays)
        shapes = self._shapes_of(rows)
        return tuple(
            [
                min([shape.least_g * min(shape.row.tables[bay][1:]) for shape in shapes])
                for bay in bays
            ]
        )

    def _shapes_of(self, rows: tuple[Row, ...]) -> tuple[_Shape, ...]:
        known = self._shapes.get(id(rows))
        if known is None:
            known = self._shapes[id(rows)] = rows, _shapes(rows)
        return known[1]

    def by_row(self, rows: tuple[Row, ...], bays: tuple[int, ...]) -> IntArray:
        """(rows, limits): the least that each row adds to each limit in these bays."""
        found = np.empty((len(rows), len(self._left)), dtype=np.int64)
        for number, row in enumerate(rows):
            found[number] = row.part.mass_g * self.effect_of(row, bays)
        return found

    def effect_of(self, row: Row, bays: tuple[int, ...]) -> IntArray:
        """What a gram of each piece of this row adds to each limit at least."""
        key = (row.rule.family, row.base, id(row.tables), id(row.most_tables), row.series, bays)
        known = self._effects.get(key)
        if known is None:
            effect = row.base * self._in_place(row.rule)
            if row.tables:
                effect = effect + self._in_bays(row, bays)
            known = self._effects[key] = (row.tables, row.most_tables), effect
        return known[1]

    def _in_place(self, rule: Rule) -> IntArray:
        """What a gram outside the bays adds to each limit where this family stands."""
        known = self._at.get(rule.family)
        if known is None:
            known = self._at[rule.family] = self.effect(place_x_mm(self._context, rule))
        return known

    def _in_bays(self, row: Row, bays: tuple[int, ...]) -> IntArray:
        """What a gram of each piece in these bays adds to each limit at least."""
        here = np.array([self.effect(self._context.bay_centre_mm(bay)) for bay in bays])
        fewest = np.array([min(row.tables[bay][1:]) for bay in bays])[:, None]
        tables = row.most_tables or row.tables
        most = np.array([max(tables[bay][1:]) for bay in bays])[:, None]
        by_bay = np.minimum(fewest * here, most * here).sum(axis=0)
        # As many as any placement needs, each where it adds least.
        lowest = here.min(axis=0)
        together = least_in_bays(row.tables, row.series, bays) * lowest
        found: IntArray = np.where(lowest > 0, np.maximum(by_bay, together), by_bay)
        return found

    def effect(self, x_mm: int) -> IntArray:
        """What a gram at this place adds to each limit."""
        return self._per_gram + self._per_gmm * x_mm

    def least_of_modules(
        self, drive: Drive, row: Row, capacity: tuple[int, ...], bays: tuple[int, ...]
    ) -> IntArray:
        """The least that the modules add, over every placement that uses just these bays."""
        series = drive.core.series
        room = tuple([capacity[bay] for bay in bays])
        key = (row.part.id, drive.core.parallel, series, bays, room)
        known = self._least_modules.get(key)
        if known is None:
            known = self._least_modules[key] = self._placed(drive, row, capacity, bays)
        return known

    def _placed(
        self, drive: Drive, row: Row, capacity: tuple[int, ...], bays: tuple[int, ...]
    ) -> IntArray:
        series = drive.core.series
        least = self._by_places(drive, row, bays[0], capacity, series)
        for number, bay in enumerate(bays[1:], start=2):
            here = self._by_places(drive, row, bay, capacity, series)
            if number == len(bays):
                return np.asarray((least + here[:, ::-1]).min(axis=1), dtype=np.int64)
            both = np.full_like(least, BEYOND)
            for places in range(1, min(capacity[bay], series) + 1):
                some = least[:, : series + 1 - places] + here[:, places, None]
                np.minimum(both[:, places:], some, out=both[:, places:])
            least = both
        return np.asarray(least[:, series], dtype=np.int64)

    def _by_places(
        self, drive: Drive, row: Row, bay: int, capacity: tuple[int, ...], series: int
    ) -> IntArray:
        """(limits, 0 to ``series`` places in this bay): what the modules there add."""
        found = np.full((len(self._left), series + 1), BEYOND, dtype=np.int64)
        most = min(capacity[bay], series)
        found[:, 1 : most + 1] = self.in_bay(drive, row, bay, most)
        return found

    def in_bay(self, drive: Drive, row: Row, bay: int, most: int) -> IntArray:
        """(limits, 1 to ``most`` series places): what that many add in one bay."""
        parallel, part = drive.core.parallel, row.part
        key = (part.id, parallel, bay)
        known = self._modules.get(key)
        if known is None or known.shape[1] < most:
            modules = parallel * np.arange(1, most + 1, dtype=np.int64)
            moments = modules * self._context.bays[bay].x_mm + self._along(bay, part)[modules]
            effect = self._per_gram[:, None] * modules + self._per_gmm[:, None] * moments
            known = self._modules[key] = part.mass_g * effect
        return known[:, :most]

    def _along(self, bay: int, part: Part) -> IntArray:
        """Sums of the middles of the modules along a bay, in mm behind its front inner wall."""
        key = (bay, part.id)
        known = self._stands.get(key)
        if known is None:
            table = moment_table(self._context.layout(bay, part))
            known = self._stands[key] = np.array(table, dtype=np.int64)
        return known


__all__ = ["MassBound"]
