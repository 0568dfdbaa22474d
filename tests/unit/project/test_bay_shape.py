"""Bays of several boxes, as the project file describes them."""

from __future__ import annotations

from pathlib import Path

import pytest

from bomplan.design.context import bay_box, room_mm3
from bomplan.errors import InputError
from bomplan.project import load_project
from bomplan.project.bay_shape import free_cells, parts_apart
from bomplan.project.records import Bay

RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "project"
BED = 'name = "under the bed"'


def bay(**more) -> Bay:
    return Bay.model_validate(
        {"name": "boot", "x": "2 m", "y": "-500 mm", "z": "300 mm", "length": "1000 mm",
         "width": "900 mm", "height": "600 mm", "cable_run": "2 m", **more}
    )  # fmt: skip


def volume(cells) -> int:
    return sum((x1 - x0) * (y1 - y0) * (z1 - z0) for x0, y0, z0, x1, y1, z1 in cells)


WELL = {"x": "300 mm", "y": "200 mm", "length": "400 mm", "width": "500 mm"}


def test_a_well_under_a_floor_is_two_boxes_or_four_blocks():
    boxes = bay(boxes=[{"z": "200 mm"}, WELL])
    whole = 1000 * 900 * 400 + 400 * 500 * 200
    blocks = bay(
        blocked=[
            {"length": "300 mm", "height": "200 mm"},
            {"x": "700 mm", "height": "200 mm"},
            {"width": "200 mm", "height": "200 mm"},
            {"y": "700 mm", "height": "200 mm"},
        ]
    )
    for one in (boxes, blocks):
        assert volume(free_cells(one)) == room_mm3(one) == whole
        assert parts_apart(one) == 1
    # the ground beside the well, however it was told
    assert {b.z_mm + b.height_mm for b in bay_box(boxes).blocked} == {200}


def test_both_ways_together_take_the_blocked_pieces_out_of_the_boxes():
    both = bay(boxes=[{"z": "200 mm"}, WELL], blocked=[{"x": "900 mm", "z": "100 mm"}])
    assert volume(free_cells(both)) == 900 * 900 * 400 + 400 * 500 * 200
    assert room_mm3(both) == volume(free_cells(both))


def test_rooms_that_share_no_face_are_apart():
    assert parts_apart(bay()) == 1
    assert parts_apart(bay(blocked=[{"x": "400 mm", "length": "50 mm"}])) == 2
    assert parts_apart(bay(blocked=[{"x": "400 mm", "length": "50 mm", "width": "800 mm"}])) == 1
    corners = [{"length": "500 mm", "width": "300 mm"}, {"x": "500 mm", "y": "300 mm"}]
    assert parts_apart(bay(blocked=corners)) == 2


def spoilt(tmp_path: Path, pieces: str):
    text = (RELEASED / "project.toml").read_text("utf-8")
    (tmp_path / "garden-round.csv").write_bytes((RELEASED / "garden-round.csv").read_bytes())
    start = text.index("[[bays]]")
    end = text.index("\n\n", start)
    path = tmp_path / "project.toml"
    path.write_text(text[:end] + "\n" + pieces + text[end:], "utf-8")
    return load_project(path)


@pytest.mark.parametrize(
    ("pieces", "words"),
    [
        ('blocked = [{ length = "9 m" }]', "reaches out of its bay"),
        ('blocked = [{ x = "9 m" }]', "begins outside of its bay"),
        ("blocked = [{}]", "leaves no room in its bay"),
        ('blocked = [{ x = "100 mm", length = "20 mm" }]', "share no face"),
        ("boxes = [" + '{ height = "20 mm" }, ' * 11 + "]", "more than a bay may be made of"),
        ('blocked = [{ x = "-5 mm" }]', "blocked"),
        ('blocked = [{ lenght = "50 mm" }]', 'did you mean "length"'),
        ("blocked = 3", "blocked"),
    ],
)
def test_pieces_that_cannot_be_meant_are_told(tmp_path, pieces, words):
    with pytest.raises(InputError) as raised:
        spoilt(tmp_path, pieces)
    assert words in str(raised.value)
    assert "project.toml" in str(raised.value)


def test_outer_sizes_that_no_box_reaches_are_a_caution(tmp_path):
    loaded = spoilt(tmp_path, 'boxes = [{ x = "50 mm" }]')
    assert "project.bay-outer" in {one.code for one in loaded.cautions}
    assert "project.bay-outer" not in {
        one.code for one in spoilt(tmp_path, "boxes = [{}]").cautions
    }
