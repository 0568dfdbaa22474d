"""Modules in a bay that is no box: cut it into boxes, fill each, then try to place one more.

The room is cut by planes at the faces of what is blocked (and at whole layers above its floor),
each part again, and a part without anything blocked is filled as a plain box; of all cuts the
one counts that holds most. Every cut keeps the gap or the shelf between its two sides. What this
finds can be built; that nothing holds more is known only where it meets the bound or where the
solver shows that one more cannot stand. Clamped rows all run one way in the whole bay, and are
also laid lane by lane past what is blocked.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import replace

from bomplan.packing import layers
from bomplan.packing.boxes import BayBox, Footprint, Layout, ModuleBox, Stand, footprints
from bomplan.packing.layers import Way, stand_at
from bomplan.packing.order import runs_along
from bomplan.packing.shape import Span, grid_of, inner_span, obstacles, overlap, volume

_PARTS = 1_500
"""How many parts of one bay are looked at. A count, not seconds: the same everywhere."""
_DEPTHS = (1, 2, 3, 5)
"""Cuts within cuts, looked at shallowly first."""
_PLAIN_STEPS = 20_000
"""Splits of the five-block recursion in one part."""


def shaped_layout(
    bay: BayBox, module: ModuleBox, bound: int, proof_effort: float, steps: int
) -> Layout:
    """The most modules found in a bay with blocked pieces, each with its place.

    ``bound`` is what is proven not to be exceeded; the others as for
    :func:`bomplan.packing.room.layout`.
    """
    ways: tuple[Way | None, ...] = ("along", "across") if module.end_plate_mm else (None,)
    best: tuple[Stand, ...] = ()
    for way in ways:
        found = _Cutting(bay, module, way, min(steps, _PLAIN_STEPS)).all(bound)
        if len(found) > len(best) and _runs(found, module, way):
            best = found
    exact = len(best) >= bound
    if not exact and proof_effort > 0 and module.end_plate_mm == 0:
        from bomplan.packing.shaped_proof import one_more  # loads the solver: only when needed

        best, exact = one_more(bay, module, best, bound, proof_effort)
    return Layout(_numbered(best), exact)


def _runs(stands: tuple[Stand, ...], module: ModuleBox, way: Way | None) -> bool:
    """Whether the rows are seen as they were laid; cells as thick as broad may be mistaken."""
    if way is None or module.length_mm != module.width_mm:
        return True
    return all(
        runs_along([one for one in _numbered(stands) if one.layer == layer], module)
        == (way == "along")
        for layer in {one.layer for one in _numbered(stands)}
    )


def _numbered(stands: tuple[Stand, ...]) -> tuple[Stand, ...]:
    """Stands in order of height, front to rear, left to right; a layer for every level."""
    levels = sorted({one.z_mm for one in stands})
    return tuple(
        replace(one, layer=levels.index(one.z_mm))
        for one in sorted(stands, key=lambda one: (one.z_mm, one.x_mm, one.y_mm))
    )


class _Cutting:
    """One search over the parts of a bay."""

    def __init__(self, bay: BayBox, module: ModuleBox, way: Way | None, steps: int) -> None:
        self.bay, self.module, self.way, self.steps = bay, module, way, steps
        self.kinds = footprints(module)
        self.blocked = obstacles(bay)
        self.between = (module.gap_mm, module.gap_mm, bay.shelf_mm)
        body = module.length_mm * module.width_mm
        self.least_mm3 = body * (module.height_mm + module.terminal_clearance_mm)
        self.parts_left = _PARTS
        self.found: dict[Span, tuple[Stand, ...]] = {}
        self.searched: dict[Span, int] = {}
        self.limits: dict[Span, int] = {}

    def all(self, bound: int) -> tuple[Stand, ...]:
        """The best that the bay holds."""
        best: tuple[Stand, ...] = ()
        for depth in _DEPTHS:
            best = self.part(inner_span(self.bay), depth)
            if len(best) >= bound:
                break
        return best

    def part(self, span: Span, depth: int) -> tuple[Stand, ...]:
        """The most found in a part of the bay with up to ``depth`` cuts within cuts."""
        here = self._blocked_in(span)
        if not here:
            return self._plain(span)
        if span in here:
            return ()
        best = self.found.get(span)
        if best is None:
            self.parts_left -= 1
            best = self.found[span] = self._lanes(span, here) if self.way else ()
            self.searched[span] = 0
        if depth <= self.searched[span] or self.parts_left <= 0:
            return best
        limit = self._limit(span)
        for low, high in self._cuts(span, here):
            if len(best) >= limit or self.parts_left <= 0:
                break
            if self._limit(low) + self._limit(high) <= len(best):
                continue
            both = self.part(low, depth - 1) + self.part(high, depth - 1)
            if len(both) > len(best):
                best = both
        self.found[span], self.searched[span] = best, depth
        return best

    def _blocked_in(self, span: Span) -> tuple[Span, ...]:
        shared = (overlap(one, span) for one in self.blocked)
        return tuple(one for one in shared if one is not None)

    def _cuts(self, span: Span, here: tuple[Span, ...]) -> Iterator[tuple[Span, Span]]:
        """Both sides of every cut: at faces of what is blocked, and at whole layers."""
        for axis in range(3):
            low, high, keep = span[axis], span[axis + 3], self.between[axis]
            faces = {one[side] for one in here for side in (axis, axis + 3)}
            ends = {at for face in faces for at in (face, face - keep)}
            if axis == 2:
                for kind in self.kinds:
                    ends |= set(range(low + kind.rise_mm, high, kind.rise_mm + keep))
            for end in sorted(ends):
                if low < end and end + keep < high:
                    below, above = list(span), list(span)
                    below[axis + 3], above[axis] = end, end + keep
                    yield tuple(below), tuple(above)  # type: ignore[misc]

    def _limit(self, span: Span) -> int:
        """No more than this is hoped for in a part."""
        known = self.limits.get(span)
        if known is None:
            free = sum(volume(one) for one in grid_of(span, self._blocked_in(span)).spans())
            known = self.limits[span] = min(
                free // self.least_mm3, layers.at_most(self._box(span), self.module)
            )
        return known

    def _box(self, span: Span) -> BayBox:
        sides = (span[3] - span[0], span[4] - span[1], span[5] - span[2])
        return BayBox(*sides, wall_mm=0, shelf_mm=self.bay.shelf_mm)

    def _plain(self, span: Span) -> tuple[Stand, ...]:
        if self._limit(span) == 0:
            return ()
        found = layers.layout(
            self._box(span), self.module, proof_effort=0.0, steps=self.steps, way=self.way
        )
        return tuple(
            replace(one, x_mm=one.x_mm + span[0], y_mm=one.y_mm + span[1], z_mm=one.z_mm + span[2])
            for one in found.positions
        )

    # -- clamped rows past what is blocked ---------------------------------------------

    def _lanes(self, span: Span, here: tuple[Span, ...]) -> tuple[Stand, ...]:
        """Layers of rows, each row cut where something is in its way; the best set of both.

        A row is pushed down to the floor, to the layer below or onto something blocked, and
        likewise across, so only such levels and lanes need looking at.
        """
        shelf = self.bay.shelf_mm
        rises = [one.rise_mm for one in self.kinds]
        levels = _pushed(span[2], span[5], [one[5] for one in here], [x + shelf for x in rises])
        best: list[tuple[Stand, ...]] = [()] * (len(levels) + 1)
        for number in range(len(levels) - 1, -1, -1):
            best[number] = best[number + 1]
            for kind in self.kinds:
                top = levels[number] + kind.rise_mm
                if top > span[5]:
                    continue
                inside: Span = (*span[:2], levels[number], *span[3:5], top)
                shared = (overlap(one, inside) for one in here)
                layer = self._layer(kind, inside, tuple(one for one in shared if one is not None))
                found = layer + best[bisect_left(levels, top + shelf)]
                if len(found) > len(best[number]):
                    best[number] = found
        return best[0]

    def _layer(self, kind: Footprint, inside: Span, here: tuple[Span, ...]) -> tuple[Stand, ...]:
        across = 1 if self.way == "along" else 0
        gap, broad = self.module.gap_mm, kind.along_mm
        lanes = _pushed(
            inside[across], inside[across + 3], [one[across + 3] for one in here], [broad + gap]
        )
        best: list[tuple[Stand, ...]] = [()] * (len(lanes) + 1)
        for number in range(len(lanes) - 1, -1, -1):
            best[number] = best[number + 1]
            end = lanes[number] + broad
            if end > inside[across + 3]:
                continue
            found = self._lane(kind, inside, here, lanes[number])
            found += best[bisect_left(lanes, end + gap)]
            if len(found) > len(best[number]):
                best[number] = found
        return best[0]

    def _lane(
        self, kind: Footprint, inside: Span, here: tuple[Span, ...], at: int
    ) -> tuple[Stand, ...]:
        """The rows of one lane, one in every stretch between what is in the way."""
        along, across = (0, 1) if self.way == "along" else (1, 0)
        low, high = at, at + kind.along_mm
        taken = sorted(
            (one[along], one[along + 3])
            for one in here
            if one[across] < high and one[across + 3] > low
        )
        plate, step = self.module.end_plate_mm, kind.across_mm + self.module.gap_mm
        found: list[Stand] = []
        start = inside[along]
        for begins, ends in [*taken, (inside[along + 3], inside[along + 3])]:
            room = begins - start - 2 * plate + self.module.gap_mm
            for cell in range(max(0, room // step)):
                first = start + plate + cell * step
                corner = (first, at, inside[2]) if along == 0 else (at, first, inside[2])
                found.append(stand_at(kind, corner, along_x=along == 1))
            start = max(start, ends)
        return tuple(found)


def _pushed(low: int, high: int, starts: list[int], steps: list[int]) -> list[int]:
    """Every place below ``high`` that is reached from the low end or a start by whole steps."""
    reached = {one for one in (low, *starts) if low <= one < high}
    fresh = sorted(reached)
    while fresh:
        at = fresh.pop()
        for step in steps:
            if at + step < high and at + step not in reached:
                reached.add(at + step)
                fresh.append(at + step)
    return sorted(reached)
