"""A layout checked by geometry alone, without the code that made it."""

from __future__ import annotations

from bomplan.packing.boxes import BayBox, Layout, ModuleBox, Stand

_Block = tuple[int, int, int, int, int, int]


def check_layout(bay: BayBox, module: ModuleBox, layout: Layout) -> tuple[str, ...]:
    """Everything wrong with a layout, one sentence each; empty when it can be built.

    Checked: each module has the module's sides in an attitude that it may take, stays with
    its terminal clearance inside the walls and a wall away from every blocked piece, keeps the
    gap to its neighbours or a shelf's thickness to what stands above or below it, and clamped
    cells leave room for both end plates of their row, which are in nobody's way either.
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
        if any(_meet(_with_clearance(module, stand), one.ends, bay.wall_mm) for one in bay.blocked):
            faults.append(f"module {index}: it reaches into what is blocked or the wall there")
    for first in range(layout.count):
        for second in range(first + 1, layout.count):
            text = _check_pair(bay, module, layout.positions[first], layout.positions[second])
            if text:
                faults.append(f"modules {first} and {second}: {text}")
    if module.end_plate_mm > 0 and not faults:
        faults += _check_plates(bay, module, layout.positions, room)
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
    gap = module.gap_mm
    if any(a[k + 3] + gap <= b[k] or b[k + 3] + gap <= a[k] for k in range(2)):
        return ""
    if first.layer == second.layer:
        return "they overlap or stand too close"
    lower, upper = (a, b) if first.layer < second.layer else (b, a)
    if upper[2] < lower[5] + bay.shelf_mm:
        return "no room for a shelf between their layers"
    return ""


def _meet(one: _Block, other: _Block, keep: int) -> bool:
    """Whether two blocks overlap or come nearer than ``keep`` in all three directions."""
    return all(
        one[axis] < other[axis + 3] + keep and other[axis] < one[axis + 3] + keep
        for axis in range(3)
    )


def _check_plates(
    bay: BayBox, module: ModuleBox, stands: tuple[Stand, ...], room: _Block
) -> list[str]:
    """End plates of every row: found again from the cells, free of walls, blocks and modules."""
    thin, wide = sorted((module.length_mm, module.width_mm))
    # cells as thick as broad do not show which way their rows run: either may be meant
    found = [
        _plate_faults(bay, module, stands, room, axis)
        for axis in ((0, 1) if thin == wide else (None,))
    ]
    return min(found, key=len)


def _plate_faults(
    bay: BayBox,
    module: ModuleBox,
    stands: tuple[Stand, ...],
    room: _Block,
    axis: int | None,
) -> list[str]:
    blocks = [_with_clearance(module, stand) for stand in stands]
    plates: list[tuple[int, _Block]] = []
    for index, stand in enumerate(stands):
        body = _body(stand)
        along = axis if axis is not None else int(stand.width_mm < stand.length_mm)
        if axis is None and stand.terminals != "up":
            along = 1 if stand.terminals == "x" else 0
        for side, sign in ((along, -1), (along + 3, 1)):
            # the neighbour of a row stands one gap on and level with it
            at = list(body)
            at[along] += sign * (body[along + 3] - body[along] + module.gap_mm)
            at[along + 3] += sign * (body[along + 3] - body[along] + module.gap_mm)
            if any(list(_body(other)) == at for other in stands):
                continue
            plate = list(body)
            if sign > 0:
                plate[along], plate[along + 3] = body[side], body[side] + module.end_plate_mm
            else:
                plate[along], plate[along + 3] = body[side] - module.end_plate_mm, body[side]
            plates.append((index, (plate[0], plate[1], plate[2], plate[3], plate[4], plate[5])))
    faults = []
    for number, (index, block) in enumerate(plates):
        if any(block[k] < room[k] for k in range(3)) or any(
            block[k] > room[k] for k in range(3, 6)
        ):
            faults.append(f"module {index}: the end plate of its row reaches into a wall")
        elif any(_meet(block, one.ends, bay.wall_mm) for one in bay.blocked):
            faults.append(f"module {index}: the end plate of its row reaches into what is blocked")
        elif any(_meet(block, one, 0) for one in blocks):
            faults.append(f"module {index}: the end plate of its row reaches into a module")
        elif any(_meet(block, other, 0) for _, other in plates[number + 1 :]):
            faults.append(f"module {index}: the end plate of its row meets another one")
    return faults
