"""Modules in bays: attitudes, layers, clearances, rows, order and moments."""

from __future__ import annotations

from itertools import pairwise

import pytest

from bomplan.packing import (
    BayBox,
    Layout,
    ModuleBox,
    Stand,
    at_most,
    centre_x_mm,
    check_layout,
    clamped_rows,
    fill_order,
    moment_table,
)
from bomplan.packing import layout as packed


def layout(bay: BayBox, module: ModuleBox, **effort: float) -> Layout:
    """A layout that geometry alone has nothing to say against, in every test of this file."""
    found = packed(bay, module, **effort)
    assert check_layout(bay, module, found) == ()
    return found


GOLF = ModuleBox(262, 181, 283, gap_mm=5, terminal_clearance_mm=25)


def test_one_module_fits_exactly_and_not_with_a_millimetre_less():
    bay = BayBox(262 + 20, 181 + 20, 283 + 25 + 20)
    assert (layout(bay, GOLF).count, at_most(bay, GOLF)) == (1, 1)
    for smaller in (
        BayBox(281, 201, 328),
        BayBox(282, 200, 328),
        BayBox(282, 201, 327),
    ):
        assert (layout(smaller, GOLF).count, at_most(smaller, GOLF)) == (0, 0)


def test_module_may_turn_in_the_plane():
    bay = BayBox(181 + 20, 262 + 20, 328)
    found = layout(bay, GOLF)
    assert found.positions == (Stand(10, 10, 10, 181, 262, 283, 0),)
    assert found.exact


def test_gap_stands_between_modules_but_not_at_the_walls():
    assert layout(BayBox(2 * 262 + 5 + 20, 201, 328), GOLF).count == 2
    assert layout(BayBox(2 * 262 + 4 + 20, 201, 328), GOLF).count == 1


def test_second_layer_needs_shelf_and_clearance_over_both():
    two = 2 * (283 + 25) + 5 + 20
    found = layout(BayBox(282, 201, two), GOLF)
    assert [(s.layer, s.z_mm) for s in found.positions] == [(0, 10), (1, 10 + 308 + 5)]
    assert layout(BayBox(282, 201, two - 1), GOLF).count == 1
    assert layout(BayBox(282, 201, two, layers_max=1), GOLF).count == 1


def test_upright_module_never_lies():
    flat_bay = BayBox(400, 400, 220)
    assert layout(flat_bay, GOLF).count == 0
    lying = ModuleBox(262, 181, 283, "any", gap_mm=5, terminal_clearance_mm=25)
    found = layout(flat_bay, lying)
    assert found.count == 1
    assert found.positions[0].height_mm == 181
    assert found.positions[0].terminals in ("x", "y")
    assert check_layout(flat_bay, lying, found) == ()


def test_side_means_the_narrow_side_only():
    module = ModuleBox(170, 50, 200, "upright_or_side")
    low = BayBox(400, 400, 100)
    assert layout(low, module).count == 0
    assert layout(low, ModuleBox(170, 50, 200, "any")).count > 0
    middle = BayBox(400, 400, 190)
    found = layout(middle, module)
    assert {s.height_mm for s in found.positions} == {170}
    # four blocks of three 200 x 50 around a hole in the room of 380 x 380
    assert found.count == 12
    assert at_most(middle, module) >= 12


def test_layers_of_different_attitudes_are_stacked():
    module = ModuleBox(300, 100, 200, "any")
    # upright 200 and flat 100 with one shelf fill 305 mm; two of a kind would not do better
    bay = BayBox(340, 240, 305 + 20)
    found = layout(bay, module)
    assert check_layout(bay, module, found) == ()
    assert {s.height_mm for s in found.positions if s.layer == 0} != {
        s.height_mm for s in found.positions if s.layer == 1
    }
    assert found.count == at_most(bay, module)
    assert found.exact


def test_clamped_cells_stand_in_rows_between_end_plates():
    cell = ModuleBox(174, 54, 207, gap_mm=1, terminal_clearance_mm=20, end_plate_mm=12)
    sixteen = 16 * 54 + 15 + 24
    bay = BayBox(sixteen + 20, 174 + 20, 250)
    found = layout(bay, cell)
    assert found.count == 16 == at_most(bay, cell)
    assert found.exact
    assert found.positions[0].x_mm == 10 + 12
    assert [clamped_rows(found, cell, n) for n in (0, 1, 16)] == [0, 1, 1]
    double = layout(BayBox(sixteen + 20, 2 * 174 + 1 + 20, 250), cell)
    assert (double.count, clamped_rows(double, cell, 1), clamped_rows(double, cell, 32)) == (
        32,
        1,
        2,
    )
    assert check_layout(bay, cell, found) == ()
    assert layout(BayBox(sixteen + 19, 194, 250), cell).count == 15


def test_rows_run_across_when_that_holds_more():
    cell = ModuleBox(174, 54, 207, end_plate_mm=10)
    bay = BayBox(174 + 20, 10 * 54 + 20 + 20, 260)
    found = layout(bay, cell)
    assert found.count == 10
    assert {s.length_mm for s in found.positions} == {174}
    assert check_layout(bay, cell, found) == ()


def test_square_clamped_cells_pass_the_check_both_ways():
    cell = ModuleBox(60, 60, 160, end_plate_mm=10)
    for bay in (BayBox(500, 99, 200), BayBox(99, 500, 200)):
        found = layout(bay, cell)
        assert found.count == 7
        assert check_layout(bay, cell, found) == ()


def test_check_layout_names_every_kind_of_fault():
    bay = BayBox(600, 400, 700)
    module = ModuleBox(200, 100, 150, gap_mm=5, terminal_clearance_mm=20)
    good = Stand(10, 10, 10, 200, 100, 150, 0)

    def faults(*stands: Stand) -> str:
        return " | ".join(check_layout(bay, module, Layout(stands, False)))

    assert faults(good) == ""
    assert "not the module's" in faults(Stand(10, 10, 10, 200, 99, 150, 0))
    assert "must stand upright" in faults(Stand(10, 10, 10, 150, 100, 200, 0, "x"))
    assert "into a wall" in faults(Stand(9, 10, 10, 200, 100, 150, 0))
    assert "into a wall" in faults(Stand(10, 10, 700 - 10 - 169, 200, 100, 150, 0))
    assert "too close" in faults(good, Stand(214, 10, 10, 200, 100, 150, 0))
    assert faults(good, Stand(215, 10, 10, 200, 100, 150, 0)) == ""
    assert "shelf" in faults(good, Stand(10, 10, 10 + 170 + 4, 200, 100, 150, 1))
    assert faults(good, Stand(10, 10, 10 + 170 + 5, 200, 100, 150, 1)) == ""
    assert "more than one level" in faults(good, Stand(300, 10, 12, 200, 100, 150, 0))
    one_layer = BayBox(600, 400, 700, layers_max=1)
    two = Layout((good, Stand(10, 10, 185, 200, 100, 150, 1)), False)
    assert "2 layers where 1" in check_layout(one_layer, module, two)[-1]


def test_fill_order_keeps_modules_low_and_central():
    bay = BayBox(5 * 100 + 20, 120, 2 * 100 + 5 + 20)
    module = ModuleBox(100, 100, 100)
    found = layout(bay, module)
    order = fill_order(found)
    assert sorted(order) == list(range(10))
    taken = [found.positions[i] for i in order]
    assert [s.layer for s in taken] == [0] * 5 + [1] * 5
    assert [s.x_mm for s in taken[:5]] == [210, 110, 310, 10, 410]


def test_moment_table_sums_floored_middles():
    bay = BayBox(5 * 101 + 20, 121, 125)
    found = layout(bay, ModuleBox(101, 101, 100))
    middles = [found.positions[i].x_mm + 50 for i in fill_order(found)]
    table = moment_table(found)
    assert table[0] == 0
    assert [b - a for a, b in pairwise(table)] == middles
    assert centre_x_mm(found, 1) == middles[0]
    assert centre_x_mm(found, 2) == (middles[0] + middles[1]) // 2
    assert centre_x_mm(found, 0) == 0
    with pytest.raises(ValueError, match="6 modules"):
        centre_x_mm(found, 6)


def test_modules_without_end_plates_have_no_rows():
    found = layout(BayBox(600, 600, 400), GOLF)
    assert clamped_rows(found, GOLF, found.count) == 0


def test_empty_bay():
    found = layout(BayBox(0, 0, 0), GOLF)
    assert (found.count, found.exact) == (0, True)
    assert fill_order(found) == ()
    assert moment_table(found) == (0,)


@pytest.mark.parametrize("size", [(0, 10, 10), (10, -1, 10)])
def test_sizes_must_be_positive(size):
    with pytest.raises(ValueError, match="above 0"):
        ModuleBox(*size)
    with pytest.raises(ValueError, match="below 0"):
        BayBox(100, 100, -5)
    with pytest.raises(ValueError, match="orientation"):
        ModuleBox(1, 1, 1, "sideways")


def test_solver_effort_turns_a_gap_into_a_proof():
    # room 989 x 1059 for 303 x 223: 14 are found, the bound says 15
    bay = BayBox(989 + 20, 1059 + 20, 120)
    module = ModuleBox(303, 223, 90)
    quick = layout(bay, module, proof_effort=0.0)
    assert (quick.count, quick.exact, at_most(bay, module)) == (14, False, 15)
    proven = layout(bay, module)
    assert proven.exact
    assert proven.count in (14, 15)
    assert check_layout(bay, module, proven) == ()
