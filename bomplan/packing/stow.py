"""A layout moved as one block along its bay: against the front wall, the rear wall, or midway."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from bomplan.packing.boxes import BayBox, Layout, ModuleBox
from bomplan.packing.plates import end_plates
from bomplan.packing.shape import obstacles

Stow = Literal["front", "middle", "rear"]


def stowed(layout: Layout, bay: BayBox, module: ModuleBox, where: Stow) -> Layout:
    """The same stands moved along the bay, and to be filled from where they are moved to.

    What is moved is the whole block: modules with the clearance before their terminals and
    with their end plates. Midway is floored to the millimetre. Nothing is turned, so a layout
    that could be built can be built there; in a bay that is no box the block goes as far that
    way as what is blocked lets it.
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
    if bay.blocked:
        shift = _nearest(layout, bay, module, shift)
    return Layout(
        tuple(replace(stand, x_mm=stand.x_mm + shift) for stand in layout.positions),
        layout.exact,
        where,
    )


def _nearest(layout: Layout, bay: BayBox, module: ModuleBox, wanted: int) -> int:
    """The shift between none and the one wanted that comes nearest to it and meets no block."""
    clear = module.terminal_clearance_mm
    bodies = [
        (
            one.x_mm,
            one.y_mm,
            one.z_mm,
            one.x_mm + one.length_mm + (clear if one.terminals == "x" else 0),
            one.y_mm + one.width_mm + (clear if one.terminals == "y" else 0),
            one.z_mm + one.height_mm + (clear if one.terminals == "up" else 0),
        )
        for one in layout.positions
    ]
    bodies += [plate.ends for plate in end_plates(layout.positions, module)]
    forbidden = sorted(
        (block[0] - body[3], block[3] - body[0])
        for block in obstacles(bay)
        for body in bodies
        if body[1] < block[4] and block[1] < body[4] and body[2] < block[5] and block[2] < body[5]
    )
    # shifts strictly between the two are in the way; step out of them towards no shift at all
    at = wanted
    for low, high in forbidden if wanted < 0 else sorted(forbidden, key=_high, reverse=True):
        if low < at < high:
            at = high if wanted < 0 else low
    return at


def _high(interval: tuple[int, int]) -> int:
    return interval[1]
