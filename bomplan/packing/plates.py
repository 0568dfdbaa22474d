"""Where the end plates of clamped rows stand, from where the cells of a layer stand."""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.packing.boxes import Block, ModuleBox, Stand
from bomplan.packing.order import rows_of, runs_along


@dataclass(frozen=True)
class Plate(Block):
    """One end plate with the room of its rods, and in which layer."""

    layer: int


def end_plates(stands: tuple[Stand, ...], module: ModuleBox) -> tuple[Plate, ...]:
    """Two plates for every clamped row that the stands make; none without compression.

    Each plate stands against the last cell that is there, also where a row is not full.
    """
    if module.end_plate_mm == 0:
        return ()
    ways = {
        layer: runs_along([one for one in stands if one.layer == layer], module)
        for layer in {one.layer for one in stands}
    }
    thick, plates = module.end_plate_mm, []
    for row in rows_of(list(stands), module, ways):
        first, last = row[0], row[-1]
        along = ways[first.layer]
        if along:
            for x_mm in (first.x_mm - thick, last.x_mm + last.length_mm):
                plates.append(
                    Plate(x_mm, first.y_mm, first.z_mm, thick, first.width_mm,
                          first.height_mm, first.layer)
                )  # fmt: skip
        else:
            for y_mm in (first.y_mm - thick, last.y_mm + last.width_mm):
                plates.append(
                    Plate(first.x_mm, y_mm, first.z_mm, first.length_mm, thick,
                          first.height_mm, first.layer)
                )  # fmt: skip
    return tuple(plates)
