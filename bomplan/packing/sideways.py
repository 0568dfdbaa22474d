"""Moments of the first n modules of a bay across the car and upwards, as whole numbers."""

from __future__ import annotations

from functools import lru_cache

from bomplan.packing.boxes import Layout
from bomplan.packing.order import fill_order


@lru_cache(maxsize=4096)
def lateral_table(layout: Layout) -> tuple[tuple[int, int], ...]:
    """For n = 0, 1, ... modules: the sum of their middles y, and the sum of x times y, in mm.

    Middles are floored to the millimetre one by one, x from the bay's front inner wall as in
    :func:`bomplan.packing.moment_table`, y from its left inner wall.
    """
    table = [(0, 0)]
    for index in fill_order(layout):
        stand = layout.positions[index]
        y_mm = stand.y_mm + stand.width_mm // 2
        aside, cross = table[-1]
        table.append((aside + y_mm, cross + stand.centre_x_mm * y_mm))
    return tuple(table)


@lru_cache(maxsize=4096)
def height_table(layout: Layout) -> tuple[int, ...]:
    """For n = 0, 1, ... modules: the sum of their middles above the bay's inner floor, in mm."""
    table = [0]
    for index in fill_order(layout):
        stand = layout.positions[index]
        table.append(table[-1] + stand.z_mm + stand.height_mm // 2)
    return tuple(table)
