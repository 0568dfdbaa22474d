"""Modules in a bay: layers on shelves, each layer a packing of equal rectangles.

The rule of this room: modules stand in horizontal layers, every layer holds modules of one
attitude, and each layer above the lowest has its own shelf. For modules that must stay
upright this loses nothing: horizontal cuts one module height apart each meet a flat packing,
and no module slips between two of them.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

from bomplan.packing.bounds import rectangles_at_most
from bomplan.packing.boxes import BayBox, Footprint, Layout, ModuleBox, Stand, footprints
from bomplan.packing.rectangle import DEFAULT_STEPS, pack_rectangle

Way = Literal["along", "across"]
"""How clamped rows run: along the bay or across it."""

DEFAULT_PROOF_EFFORT = 2.0
"""The solver's deterministic seconds for a layer whose count stays below its bound."""


def at_most(bay: BayBox, module: ModuleBox) -> int:
    """A proven upper bound on how many of the module stand in a box, in layers of one attitude."""
    return _at_most(bay, module)


@lru_cache(maxsize=16384)
def _at_most(bay: BayBox, module: ModuleBox) -> int:
    per_layer = tuple(_layer_at_most(bay, module, footprint) for footprint in footprints(module))
    return _stack(bay, module, per_layer)[0]


def layout(
    bay: BayBox,
    module: ModuleBox,
    *,
    proof_effort: float = DEFAULT_PROOF_EFFORT,
    steps: int = DEFAULT_STEPS,
    way: Way | None = None,
) -> Layout:
    """The greatest number of the module that was found to fit a box, each with its place.

    Never more than :func:`at_most`. ``steps`` and ``proof_effort`` bound the work by counts
    that do not depend on the machine (see :func:`~bomplan.packing.rectangle.pack_rectangle`);
    the answer is kept by its arguments. ``exact`` is False where a higher count was neither
    found nor excluded. ``way`` has clamped rows run one way only.
    """
    return _layout(bay, module, proof_effort, steps, way)


@lru_cache(maxsize=8192)
def _layout(
    bay: BayBox, module: ModuleBox, proof_effort: float, steps: int, way: Way | None
) -> Layout:
    kinds = footprints(module)
    bounds = tuple(_layer_at_most(bay, module, footprint) for footprint in kinds)
    limit = _stack(bay, module, bounds)[0]
    floors: list[tuple[Stand, ...]] = []
    proven: list[bool] = []
    for footprint in kinds:
        stands, exact = _fill_layer(bay, module, footprint, 0.0, steps, way)
        floors.append(stands)
        proven.append(exact)
    count, layers = _stack(bay, module, tuple(len(floor) for floor in floors))
    if count < limit and proof_effort > 0:
        for index, footprint in enumerate(kinds):
            if not proven[index] and _rises(bay, footprint) > 0:
                floors[index], proven[index] = _fill_layer(
                    bay, module, footprint, proof_effort, steps, way
                )
        count, layers = _stack(bay, module, tuple(len(floor) for floor in floors))
    best_possible = tuple(
        len(floor) if exact else most
        for floor, exact, most in zip(floors, proven, bounds, strict=True)
    )
    exact = count >= min(limit, _stack(bay, module, best_possible)[0])
    positions: list[Stand] = []
    base = bay.wall_mm
    for layer, index in enumerate(layers):
        if layer > 0:
            base += bay.shelf_mm
        positions.extend(
            Stand(s.x_mm, s.y_mm, base, s.length_mm, s.width_mm, s.height_mm, layer, s.terminals)
            for s in floors[index]
        )
        base += kinds[index].rise_mm
    return Layout(tuple(positions), exact)


def _rises(bay: BayBox, footprint: Footprint) -> int:
    """How many layers of this attitude alone the bay's height takes."""
    layers = (bay.room_mm[2] + bay.shelf_mm) // (footprint.rise_mm + bay.shelf_mm)
    return layers if bay.layers_max is None else min(layers, bay.layers_max)


def _stack(bay: BayBox, module: ModuleBox, per_layer: tuple[int, ...]) -> tuple[int, list[int]]:
    """The best stack of layers given how many modules a layer of each attitude holds.

    Returns the count and the attitude of each layer from the floor up. Ties go to fewer
    layers, then to more layers of the earlier attitude.
    """
    kinds = footprints(module)
    shelf = bay.shelf_mm
    height = bay.room_mm[2] + shelf
    most_layers = height if bay.layers_max is None else bay.layers_max
    best: tuple[int, int, list[int]] = (0, 0, [])

    def extend(index: int, left: int, layers: list[int], count: int) -> None:
        nonlocal best
        if (-count, len(layers)) < (-best[0], best[1]):
            best = (count, len(layers), list(layers))
        if index == len(kinds):
            return
        step = kinds[index].rise_mm + shelf
        top = min(left // step, most_layers - len(layers)) if per_layer[index] > 0 else 0
        for number in range(top, -1, -1):
            extend(
                index + 1,
                left - number * step,
                layers + [index] * number,
                count + number * per_layer[index],
            )

    extend(0, height, [], 0)
    return best[0], best[2]


def _layer_at_most(bay: BayBox, module: ModuleBox, footprint: Footprint) -> int:
    if _rises(bay, footprint) == 0:
        return 0
    if module.end_plate_mm > 0:
        return len(_rows(bay, module, footprint, None))
    length, width, _ = bay.room_mm
    gap = module.gap_mm
    return rectangles_at_most(
        length + gap, width + gap, footprint.along_mm + gap, footprint.across_mm + gap
    )


def _fill_layer(
    bay: BayBox,
    module: ModuleBox,
    footprint: Footprint,
    proof_effort: float,
    steps: int,
    way: Way | None,
) -> tuple[tuple[Stand, ...], bool]:
    """One layer's modules (at z = 0, layer 0) and whether no more fit into it."""
    if _rises(bay, footprint) == 0:
        return (), True
    if module.end_plate_mm > 0:
        return _rows(bay, module, footprint, way), True
    length, width, _ = bay.room_mm
    gap, wall = module.gap_mm, bay.wall_mm
    # a gap behind every module, and one more gap of room: no gap is wanted at the walls
    along, across = footprint.along_mm + gap, footprint.across_mm + gap
    packing = pack_rectangle(length + gap, width + gap, along, across, steps, proof_effort)
    stands = []
    for x, y, upright in packing.placed:
        # ``upright`` says that the longer side of the rectangle runs across the bay
        along_x = not upright if along >= across else upright
        stands.append(_stand(footprint, wall + x, wall + y, along_x))
    return tuple(stands), packing.exact


def _stand(footprint: Footprint, x: int, y: int, along_x: bool) -> Stand:
    return stand_at(footprint, (x, y, 0), along_x)


def stand_at(footprint: Footprint, corner: tuple[int, int, int], along_x: bool) -> Stand:
    """A module with the corner of its rectangle there; clearance lies at the far end."""
    body = footprint.along_mm - footprint.terminal_mm
    sides = (body, footprint.across_mm) if along_x else (footprint.across_mm, body)
    if footprint.attitude == "upright":
        return Stand(*corner, *sides, footprint.body_height_mm, 0, "up")
    return Stand(*corner, *sides, footprint.body_height_mm, 0, "x" if along_x else "y")


def _rows(
    bay: BayBox, module: ModuleBox, footprint: Footprint, way: Way | None
) -> tuple[Stand, ...]:
    """Clamped rows, all running the same way, wide face to wide face.

    One pair of end plates with its tie rods clamps one row, so the rows of a bay run along
    it or across it, whichever holds more (along it when equal), unless ``way`` says which.
    """
    length, width, _ = bay.room_mm
    gap, plate, wall = module.gap_mm, module.end_plate_mm, bay.wall_mm
    thick, broad = footprint.across_mm, footprint.along_mm

    def per_row(run: int) -> int:
        return max(0, (run - 2 * plate + gap) // (thick + gap))

    def rows(breadth: int) -> int:
        return (breadth + gap) // (broad + gap)

    along = per_row(length) * rows(width)
    across = per_row(width) * rows(length)
    stands = []
    if way == "along" or (way is None and along >= across):
        for row in range(rows(width) if along else 0):
            for cell in range(per_row(length)):
                x = wall + plate + cell * (thick + gap)
                stands.append(_stand(footprint, x, wall + row * (broad + gap), along_x=False))
    else:
        for row in range(rows(length)):
            for cell in range(per_row(width)):
                y = wall + plate + cell * (thick + gap)
                stands.append(_stand(footprint, wall + row * (broad + gap), y, along_x=True))
    return tuple(stands)
