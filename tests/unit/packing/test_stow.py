"""A layout moved along its bay: still one that can be built, and with the moment it then has."""

from __future__ import annotations

import pytest

from bomplan.packing import (
    BayBox,
    ModuleBox,
    check_layout,
    end_plates,
    fill_order,
    layout,
    moment_table,
    stowed,
)

BAY = BayBox(1000, 600, 500)
MODULES = (
    ModuleBox(262, 181, 200, gap_mm=10, terminal_clearance_mm=40),
    ModuleBox(174, 54, 207, "upright_or_side", gap_mm=1, terminal_clearance_mm=25, end_plate_mm=24),
    ModuleBox(360, 230, 260, "any", gap_mm=4, terminal_clearance_mm=25),
)


@pytest.mark.parametrize("module", MODULES)
@pytest.mark.parametrize("where", ["front", "middle", "rear"])
def test_the_block_stays_whole_and_inside(module: ModuleBox, where: str) -> None:
    plain = layout(BAY, module)
    moved = stowed(plain, BAY, module, where)
    assert moved.count == plain.count > 0
    assert check_layout(BAY, module, moved) == ()
    shift = {a.x_mm - b.x_mm for a, b in zip(moved.positions, plain.positions, strict=True)}
    assert len(shift) == 1
    assert {(s.y_mm, s.z_mm) for s in moved.positions} == {
        (s.y_mm, s.z_mm) for s in plain.positions
    }
    for plate in end_plates(moved.positions, module):
        assert plate.x_mm >= BAY.wall_mm
        assert plate.x_mm + plate.length_mm <= BAY.length_mm - BAY.wall_mm


@pytest.mark.parametrize("module", MODULES)
def test_front_and_rear_touch_their_walls_and_the_middle_lies_between(module: ModuleBox) -> None:
    plain = layout(BAY, module)
    front, middle, rear = (
        stowed(plain, BAY, module, where) for where in ("front", "middle", "rear")
    )
    least = [min(s.x_mm for s in one.positions) for one in (front, middle, rear)]
    assert least[0] <= least[1] <= least[2]
    assert 0 <= (least[2] - least[1]) - (least[1] - least[0]) <= 1
    # one millimetre further to the rear would not be inside
    further = stowed(plain, BayBox(1001, 600, 500), module, "rear")
    assert check_layout(BAY, module, further) != ()


@pytest.mark.parametrize("module", MODULES)
def test_places_are_taken_from_the_wall_that_is_named(module: ModuleBox) -> None:
    plain = layout(BAY, module)
    ends = {}
    for where in ("front", "rear"):
        moved = stowed(plain, BAY, module, where)
        table = moment_table(moved)
        count = moved.count // 2
        lowest = [k for k in fill_order(moved) if moved.positions[k].layer == 0]
        middles = [moved.positions[k].centre_x_mm for k in lowest]
        assert middles == sorted(middles, reverse=where == "rear")
        assert table[count] == sum(
            moved.positions[k].centre_x_mm for k in fill_order(moved)[:count]
        )
        ends[where] = table[count]
    assert (
        ends["front"]
        <= moment_table(stowed(plain, BAY, module, "middle"))[plain.count // 2]
        <= ends["rear"]
    )


def test_a_bay_without_room_stays_empty() -> None:
    module = ModuleBox(400, 300, 300)
    tight = BayBox(200, 200, 200)
    assert stowed(layout(tight, module), tight, module, "rear").count == 0
