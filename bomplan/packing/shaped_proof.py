"""Whether one more module stands in a bay that is no box: a solver's answer in bounded effort."""

from __future__ import annotations

from bisect import bisect_left
from itertools import product

from ortools.sat.python import cp_model

from bomplan.packing.boxes import BayBox, Footprint, ModuleBox, Stand, footprints
from bomplan.packing.layers import stand_at
from bomplan.packing.proof import settled
from bomplan.packing.shape import Span, inner_span, obstacles, overlap

_MOST_MODULES = 150
_MOST_CELLS = 400_000
"""Above so many modules, or places times raster points, the effort settles nothing."""

_Place = tuple[Footprint, bool, Span]
"""Attitude, whether its longer side runs along the bay, and the block with gap and shelf."""


def one_more(
    bay: BayBox, module: ModuleBox, stands: tuple[Stand, ...], bound: int, effort: float
) -> tuple[tuple[Stand, ...], bool]:
    """Look for more than ``stands`` and prove it when there is no more.

    Any mixture of the module's attitudes at any level. Every packing can be pushed to front,
    left and floor until each module touches a wall, something blocked or another one; so only
    sums of sides behind such faces are positions, and two modules that overlap share one of
    these points. ``effort`` is counted in the solver's deterministic seconds over all calls,
    with one worker, so that the same arguments always get the same answer.
    """
    best = stands
    if bound > _MOST_MODULES:
        return best, False
    raster = _raster(bay, module)
    places = _places(bay, module, raster)
    if places is None:
        return best, False
    while len(best) < bound and effort > 0:
        found, used = _solve(raster, places, best, len(best) + 1, effort)
        effort -= used
        if found is None:
            return best, False
        if not found:
            return best, True
        best = found
    return best, len(best) >= bound


def _raster(bay: BayBox, module: ModuleBox) -> tuple[tuple[int, ...], ...]:
    """Coordinates of low corners that suffice along x, y and z."""
    inner, blocked, gap = inner_span(bay), obstacles(bay), module.gap_mm
    kinds = footprints(module)
    flat = {side + gap for one in kinds for side in (one.along_mm, one.across_mm)}
    rises = {one.rise_mm + bay.shelf_mm for one in kinds}
    least = (min(flat) - gap, min(flat) - gap, min(rises) - bay.shelf_mm)
    found = []
    for axis in range(3):
        top = inner[axis + 3] - least[axis]
        faces = {inner[axis], *(one[axis + 3] for one in blocked)}
        reached = {at for at in faces if inner[axis] <= at <= top}
        fresh = list(reached)
        while fresh:
            at = fresh.pop()
            for side in rises if axis == 2 else flat:
                if at + side <= top and at + side not in reached:
                    reached.add(at + side)
                    fresh.append(at + side)
        found.append(tuple(sorted(reached)))
    return tuple(found)


def _places(
    bay: BayBox, module: ModuleBox, raster: tuple[tuple[int, ...], ...]
) -> tuple[_Place, ...] | None:
    """Every way in which one module may stand; None where there are too many to be settled."""
    inner, blocked, gap = inner_span(bay), obstacles(bay), module.gap_mm
    found: list[_Place] = []
    cells = 0
    if len(raster[0]) * len(raster[1]) * len(raster[2]) > _MOST_CELLS:
        return None
    for kind in footprints(module):
        for along_x in (True, False) if kind.along_mm != kind.across_mm else (True,):
            dx, dy = (kind.along_mm, kind.across_mm) if along_x else (kind.across_mm, kind.along_mm)
            for x, y, z in product(*raster):
                body: Span = (x, y, z, x + dx, y + dy, z + kind.rise_mm)
                if any(body[axis] > inner[axis] for axis in range(3, 6)):
                    continue
                if any(overlap(body, one) for one in blocked):
                    continue
                block: Span = (
                    x, y, z, body[3] + gap, body[4] + gap, body[5] + bay.shelf_mm,
                )  # fmt: skip
                found.append((kind, along_x, block))
                points = 1
                for axis in range(3):
                    points *= len(_points(raster[axis], block[axis], block[axis + 3]))
                cells += points
                if cells > _MOST_CELLS:
                    return None
    return tuple(found)


def _points(edges: tuple[int, ...], low: int, high: int) -> tuple[int, ...]:
    return edges[bisect_left(edges, low) : bisect_left(edges, high)]


def _solve(
    raster: tuple[tuple[int, ...], ...],
    places: tuple[_Place, ...],
    known: tuple[Stand, ...],
    target: int,
    effort: float,
) -> tuple[tuple[Stand, ...] | None, float]:
    """Stands of ``target`` or more, () if there are none, None if undecided; effort used."""
    model = cp_model.CpModel()
    cover: dict[tuple[int, int, int], list[cp_model.IntVar]] = {}
    chosen: list[tuple[cp_model.IntVar, Stand]] = []
    corners = {(one.x_mm, one.y_mm, one.z_mm, one.terminals, one.length_mm) for one in known}
    for kind, along_x, block in places:
        variable = model.new_bool_var("")
        stand = stand_at(kind, block[:3], along_x)
        chosen.append((variable, stand))
        key = (stand.x_mm, stand.y_mm, stand.z_mm, stand.terminals, stand.length_mm)
        model.add_hint(variable, key in corners)
        for point in product(
            *(_points(raster[axis], block[axis], block[axis + 3]) for axis in range(3))
        ):
            cover.setdefault((point[0], point[1], point[2]), []).append(variable)
    for variables in cover.values():
        if len(variables) > 1:
            model.add_at_most_one(variables)
    model.add(sum(variable for variable, _ in chosen) >= target)
    return settled(model, chosen, effort)
