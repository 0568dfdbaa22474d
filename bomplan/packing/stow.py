"""A layout moved as one block along its bay: against the front wall, the rear wall, or midway."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from bomplan.packing.boxes import BayBox, Layout, ModuleBox
from bomplan.packing.plates import end_plates

Stow = Literal["front", "middle", "rear"]


def stowed(layout: Layout, bay: BayBox, module: ModuleBox, where: Stow) -> Layout:
    """The same stands moved along the bay, and to be filled from where they are moved to.

    What is moved is the whole block: modules with the clearance before their terminals and
    with their end plates. Midway is floored to the millimetre. Nothing is turned, so a layout
    that could be built can be built there.
    """
    if not layout.positions:
        return replace(layout, fill=where)
    clear = module.terminal_clearance_mm
    near = [stand.x_mm for stand in layout.positions]
    far = [
        stand.x_mm + stand.length_mm + (clear if stand.terminals == "x" else 0)
        for stand in layout.positions
    ]
    for plate in end_plates(layout.positions, module):
        near.append(plate.x_mm)
        far.append(plate.x_mm + plate.length_mm)
    to_front = bay.wall_mm - min(near)
    to_rear = bay.length_mm - bay.wall_mm - max(far)
    shift = {"front": to_front, "middle": (to_front + to_rear) // 2, "rear": to_rear}[where]
    return Layout(
        tuple(replace(stand, x_mm=stand.x_mm + shift) for stand in layout.positions),
        layout.exact,
        where,
    )
