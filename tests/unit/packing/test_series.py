"""The series order of small boxes, told by hand."""

from __future__ import annotations

from itertools import pairwise

import pytest

from bomplan.packing import BayBox, ModuleBox, Stand, layout, series_run
from bomplan.packing.poles import are_neighbours, terminal
from bomplan.packing.series import contiguous

CELL = {"length_mm": 40, "width_mm": 160, "height_mm": 200}


def row(count: int, y_mm: int = 0, layer: int = 0) -> tuple[Stand, ...]:
    """Cells wide face to wide face along the bay, a millimetre apart."""
    return tuple(Stand(41 * n, y_mm, 205 * layer, layer=layer, **CELL) for n in range(count))


def test_cells_in_a_row_alternate_and_every_link_spans_one_pitch() -> None:
    run = series_run(row(5), 1)
    assert [one.index for one in run.modules] == [0, 1, 2, 3, 4]
    assert [one.place for one in run.modules] == [1, 2, 3, 4, 5]
    assert all(a.plus != b.plus and a.plus[0] == "y" for a, b in pairwise(run.modules))
    assert [link.length_mm for link in run.links] == [41] * 4
    assert {(link.first_pole, link.second_pole) for link in run.links} == {("-", "+")}
    assert run.places_apart == 1


def test_a_run_begins_at_the_wall_where_the_cables_come_in() -> None:
    assert series_run(row(5), 1, from_rear=True).modules[0].index == 4


def test_blocks_end_to_end_all_point_the_same_way() -> None:
    blocks = tuple(Stand(310 * n, 0, 0, 300, 170, 220, 0) for n in range(3))
    run = series_run(blocks, 1, spacing_mm=260)
    assert [one.plus for one in run.modules] == ["x-"] * 3
    assert [link.length_mm for link in run.links] == [50, 50]


def test_two_rows_are_ploughed_with_few_places_between_neighbours() -> None:
    run = series_run(row(6) + row(6, y_mm=165), 1)
    # across the two rows, so that neighbours are three places apart and not eleven
    assert run.places_apart == 3
    assert contiguous(run)
    assert all(link.joins == "neighbours" for link in run.links)


def test_groups_stand_as_rungs_where_rows_allow_it() -> None:
    blocks = tuple(Stand(240 * k, 370 * n, 0, 230, 360, 120, 0) for k in range(3) for n in range(2))
    run = series_run(blocks, 2)
    series = [link for link in run.links if link.series]
    across = [link for link in run.links if not link.series]
    assert (len(series), len(across)) == (2 * 2, 4 * 1)
    assert {link.length_mm for link in series} == {240}
    assert {link.length_mm for link in across} == {370}
    by_group = [run.modules[k : k + 2] for k in (0, 2, 4)]
    assert all(a.plus == b.plus for a, b in by_group)


def test_strings_lie_side_by_side_and_are_not_joined_inside() -> None:
    run = series_run(row(8), 2, strings=True)
    assert [(one.beside, one.place) for one in run.modules] == [
        (s, p) for s in (1, 2) for p in (1, 2, 3, 4)
    ]
    assert all(link.series for link in run.links)
    assert len(run.links) == 2 * 3
    assert {(link.first, link.second) for link in run.links} == {
        (0, 1), (1, 2), (2, 3), (4, 5), (5, 6), (6, 7),
    }  # fmt: skip


def test_an_upper_layer_begins_where_the_lower_one_ended() -> None:
    run = series_run(row(4) + row(4, layer=1), 1)
    assert [one.index for one in run.modules] == [0, 1, 2, 3, 7, 6, 5, 4]
    assert [link.joins for link in run.links].count("layers") == 1
    riser = next(link for link in run.links if link.joins == "layers")
    assert riser.length_mm == 205


def test_a_disconnect_takes_the_place_of_the_links() -> None:
    whole, cut = series_run(row(6), 2), series_run(row(6), 2, open_after=(2,))
    assert len(whole.links) == 2 * 2 + 4
    # two series links fewer, one pole more that is joined across
    assert len(cut.links) == len(whole.links) - 2 + 1


def test_a_module_on_its_side_has_its_poles_above_each_other() -> None:
    lying = Stand(0, 0, 0, 225, 40, 160, 0, "x")
    run = series_run((lying,), 1)
    assert run.modules[0].plus[0] == "z"
    # at the face to which the terminals point, half millimetres
    assert terminal(lying, "z+", "+", 100) == (450, 40, 260)


def test_neighbours_face_each_other_with_no_room_between() -> None:
    one = Stand(0, 0, 0, layer=0, **CELL)
    assert are_neighbours(one, Stand(45, 100, 0, layer=0, **CELL))
    assert not are_neighbours(one, Stand(80, 0, 0, layer=0, **CELL))
    assert not are_neighbours(one, Stand(45, 165, 0, layer=0, **CELL))
    assert not are_neighbours(one, Stand(45, 0, 205, layer=1, **CELL))


def test_modules_that_make_no_whole_number_of_places_are_refused() -> None:
    with pytest.raises(ValueError, match="do not make series places"):
        series_run(row(5), 2)
    assert series_run((), 3).modules == ()


def test_a_full_clamped_bay_has_only_links_between_neighbours() -> None:
    cell = ModuleBox(174, 54, 207, gap_mm=1, end_plate_mm=24, terminal_clearance_mm=25)
    found = layout(BayBox(1000, 600, 260), cell)
    run = series_run(found.positions, 1)
    assert found.count > 40
    assert all(link.joins == "neighbours" for link in run.links)
    assert max(link.length_mm for link in run.links) < 130
