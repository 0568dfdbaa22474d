"""A layout checked by geometry alone, without the code that made it."""

from __future__ import annotations

from bomplan.packing.boxes import BayBox, Layout, ModuleBox, Stand

_Block = tuple[int, int, int, int, int, int]


def check_layout(bay: BayBox, module: ModuleBox, layout: Layout) -> tuple[str, ...]:
    """Everything wrong with a layout, one sentence each; empty when it can be built.

    Checked: each module has the module's sides in an attitude that it may take, stays with
    its terminal clearance inside the walls, keeps the gap to its neighbours in the layer,
    leaves clearances free, stands on the floor or on a shelf above everything below, and
    clamped cells leave room for both end plates of their row.
    """
    faults: list[str] = []
    room = (
        bay.wall_mm,
        bay.wall_mm,
        bay.wall_mm,
        bay.length_mm - bay.wall_mm,
        bay.width_mm - bay.wall_mm,
        bay.height_mm - bay.wall_mm,
    )
    for index, stand in enumerate(layout.positions):
        faults += [f"module {index}: {text}" for text in _check_one(module, stand, room)]
    for first in range(layout.count):
        for second in range(first + 1, layout.count):
            text = _check_pair(bay, module, layout.positions[first], layout.positions[second])
            if text:
                faults.append(f"modules {first} and {second}: {text}")
    layers = {stand.layer for stand in layout.positions}
    if bay.layers_max is not None and len(layers) > bay.layers_max:
        faults.append(f"{len(layers)} layers where {bay.layers_max} are allowed")
    for layer in sorted(layers):
        low = {stand.z_mm for stand in layout.positions if stand.layer == layer}
        if len(low) > 1:
            faults.append(f"layer {layer} stands on more than one level")
    return tuple(faults)


def _body(stand: Stand) -> _Block:
    return (
        stand.x_mm,
        stand.y_mm,
        stand.z_mm,
        stand.x_mm + stand.length_mm,
        stand.y_mm + stand.width_mm,
        stand.z_mm + stand.height_mm,
    )


def _with_clearance(module: ModuleBox, stand: Stand) -> _Block:
    x0, y0, z0, x1, y1, z1 = _body(stand)
    clear = module.terminal_clearance_mm
    return (
        x0,
        y0,
        z0,
        x1 + (clear if stand.terminals == "x" else 0),
        y1 + (clear if stand.terminals == "y" else 0),
        z1 + (clear if stand.terminals == "up" else 0),
    )


def _check_one(module: ModuleBox, stand: Stand, room: _Block) -> list[str]:
    faults = []
    sides = {"x": stand.length_mm, "y": stand.width_mm, "up": stand.height_mm}
    others = sorted(size for axis, size in sides.items() if axis != stand.terminals)
    thin, wide = sorted((module.length_mm, module.width_mm))
    if sides[stand.terminals] != module.height_mm or others != [thin, wide]:
        faults.append("its sides are not the module's")
    if stand.terminals != "up":
        if module.orientation == "upright":
            faults.append("it lies although it must stand upright")
        elif module.orientation == "upright_or_side" and stand.height_mm != wide:
            faults.append("it lies on its wide side")
        elif module.end_plate_mm > 0 and stand.height_mm != wide:
            faults.append("a clamped cell lies on its wide side")
    block = _with_clearance(module, stand)
    if any(block[k] < room[k] for k in range(3)) or any(block[k] > room[k] for k in range(3, 6)):
        faults.append("it or its terminal clearance reaches into a wall")
    if module.end_plate_mm > 0:
        plate = module.end_plate_mm
        rows = [
            axis
            for axis, name in ((0, "x"), (1, "y"))
            if sides[name] == thin and stand.terminals != name
        ]
        if not any(
            block[axis] >= room[axis] + plate and block[axis + 3] <= room[axis + 3] - plate
            for axis in rows
        ):
            faults.append("no room for the end plate of its row")
    return faults


def _check_pair(bay: BayBox, module: ModuleBox, first: Stand, second: Stand) -> str:
    a, b = _with_clearance(module, first), _with_clearance(module, second)
    if first.layer != second.layer:
        lower, upper = (a, b) if first.layer < second.layer else (b, a)
        if upper[2] < lower[5] + bay.shelf_mm:
            return "no room for a shelf between their layers"
        return ""
    gap = module.gap_mm
    apart = any(a[k + 3] + gap <= b[k] or b[k + 3] + gap <= a[k] for k in range(2))
    return "" if apart else "they overlap or stand too close"
