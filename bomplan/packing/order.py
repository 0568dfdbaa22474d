"""In which order the places of a layout are used, and the moment that n modules make."""

from __future__ import annotations

from functools import lru_cache

from bomplan.packing.boxes import Layout, ModuleBox, Stand


@lru_cache(maxsize=4096)
def fill_order(layout: Layout) -> tuple[int, ...]:
    """The order in which the stands of a layout are taken, as indices into it.

    One fixed rule, never a choice: the lowest layer first; in a layer the stands nearest to
    the middle of the filled length (or to the front or rear, where the layout is filled from
    there); then those nearest to the middle of the filled width; then by x and by y. A bay
    with fewer modules than it can hold thus keeps them low and in one cluster.
    """
    stands = layout.positions
    if not stands:
        return ()
    # twice the coordinates, so that middles stay whole numbers
    middle_x = min(s.x_mm for s in stands) + max(s.x_mm + s.length_mm for s in stands)
    middle_y = min(s.y_mm for s in stands) + max(s.y_mm + s.width_mm for s in stands)

    def along(centre: int) -> int:
        if layout.fill == "middle":
            return abs(centre - middle_x)
        return centre if layout.fill == "front" else -centre

    def rank(index: int) -> tuple[int, int, int, int, int, int]:
        s = stands[index]
        return (
            s.layer,
            along(2 * s.x_mm + s.length_mm),
            abs(2 * s.y_mm + s.width_mm - middle_y),
            s.x_mm,
            s.y_mm,
            index,
        )

    return tuple(sorted(range(len(stands)), key=rank))


@lru_cache(maxsize=4096)
def moment_table(layout: Layout) -> tuple[int, ...]:
    """Sums of the middles along the bay, in mm behind its front inner wall.

    Entry n is the sum over the first n stands of :func:`fill_order`; entry 0 is 0. Each
    middle is floored to a millimetre by itself, so that n modules of mass m in a bay whose
    front wall stands at x0 have exactly the moment ``m * (n * x0 + table[n])`` g·mm.
    """
    table = [0]
    for index in fill_order(layout):
        table.append(table[-1] + layout.positions[index].centre_x_mm)
    return tuple(table)


def centre_x_mm(layout: Layout, count: int) -> int:
    """The middle of the first ``count`` modules, in mm behind the front inner wall, floored.

    For showing; moments use :func:`moment_table`, which loses nothing. 0 modules give 0.
    """
    if not 0 <= count <= layout.count:
        raise ValueError(f"{count} modules do not stand in a layout of {layout.count}")
    return moment_table(layout)[count] // count if count else 0


def clamped_rows(layout: Layout, module: ModuleBox, count: int) -> int:
    """How many clamped rows the first ``count`` modules make; each has two end plates.

    0 for modules that want no compression.
    """
    if module.end_plate_mm == 0 or count == 0:
        return 0
    along = {
        layer: runs_along([s for s in layout.positions if s.layer == layer], module)
        for layer in {s.layer for s in layout.positions}
    }
    taken = [layout.positions[index] for index in fill_order(layout)[:count]]
    return len(rows_of(taken, module, along))


def rows_of(
    stands: list[Stand], module: ModuleBox, along: dict[int, bool]
) -> list[tuple[Stand, ...]]:
    """The clamped rows that stands make, each in its order along the row.

    ``along`` says by layer whether rows run along the bay. Cells of a row share the coordinate
    across it and follow one another by the gap: what is blocked may part a lane into rows.
    """
    lanes: dict[tuple[int, int], list[Stand]] = {}
    for one in stands:
        lanes.setdefault((one.layer, one.y_mm if along[one.layer] else one.x_mm), []).append(one)
    rows: list[tuple[Stand, ...]] = []
    for (layer, _), lane in lanes.items():
        row: list[Stand] = []
        for one in sorted(lane, key=lambda one: one.x_mm if along[layer] else one.y_mm):
            if row and _end(row[-1], along[layer]) + module.gap_mm != _start(one, along[layer]):
                rows.append(tuple(row))
                row = []
            row.append(one)
        rows.append(tuple(row))
    return rows


def _start(stand: Stand, along: bool) -> int:
    return stand.x_mm if along else stand.y_mm


def _end(stand: Stand, along: bool) -> int:
    return stand.x_mm + stand.length_mm if along else stand.y_mm + stand.width_mm


def runs_along(stands: list[Stand], module: ModuleBox) -> bool:
    """Whether the clamped rows of one layer run along the bay."""
    thick = min(module.length_mm, module.width_mm)
    first = stands[0]
    if first.length_mm != thick or first.terminals == "x":
        return False
    if first.width_mm != thick or first.terminals == "y":
        return True
    # square cells: the room for the plates stands free at the front of the rows
    return min(s.x_mm for s in stands) > min(s.y_mm for s in stands)
