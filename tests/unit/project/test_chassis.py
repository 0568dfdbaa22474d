"""Zones, corners, tracks, the two empty masses: what a project says of its chassis."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from bomplan.errors import InputError
from bomplan.project import LoadedProject, edit_project, read_project, write_template

# A project that nobody edits any more.
RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "project"
TRACKS = """
track_front = "1300 mm"
track_rear = "1280 mm"
"""
CORNERS = """
front_left = "300 kg"
front_right = "285 kg"
rear_left = "210 kg"
rear_right = "215 kg"
"""


@pytest.fixture
def pickup(tmp_path: Path) -> tuple[str, Path]:
    shutil.copytree(RELEASED, tmp_path / "released")
    path = tmp_path / "released" / "project.toml"
    return path.read_text("utf-8"), path


def read(pickup: tuple[str, Path], *changes: tuple[str, str]) -> LoadedProject:
    text, path = pickup
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return read_project(text, path)


def faults(pickup: tuple[str, Path], *changes: tuple[str, str]) -> str:
    with pytest.raises(InputError) as error:
        read(pickup, *changes)
    return "\n".join(fault.text() for fault in error.value.faults)


WEIGHED = ("[donor.weighing]\n", "[donor.weighing]\n")


def test_a_zone_gives_its_place_to_masses(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    text = text.replace(
        'name = "radiator, coolant and hoses"\nmass = "13 kg"\nx = "-430 mm"',
        'name = "radiator, coolant and hoses"\nmass = "13 kg"\nzone = "nose"',
    )
    text += '\n[[donor.zones]]\nname = "nose"\nx = "-430 mm"\ny = "10 mm"\nz = "500 mm"\n'
    radiator = read_project(text, path).project.donor.removed[1]
    assert (radiator.x_mm, radiator.y_mm, radiator.z_mm) == (-430, 10, 500)
    told = faults((text.replace('zone = "nose"', 'zone = "nosse"'), path))
    assert 'did you mean "nose"?' in told
    assert "missing" not in told
    told = faults((text.replace('zone = "nose"', 'zone = "nose"\nx = "0 mm"'), path))
    assert "either a zone or a position" in told


def test_four_corners_give_both_axles(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    lines = [line for line in text.splitlines() if not line.startswith(("front = {", "rear = {"))]
    text = "\n".join(lines).replace("[donor.weighing]\n", f"[donor.weighing]{CORNERS}")
    weighing = read_project(text, path).project.donor.weighing
    assert (weighing.front_g, weighing.rear_g) == (585_000, 425_000)
    assert weighing.corners_g == (300_000, 285_000, 210_000, 215_000)


def test_corners_that_do_not_add_up_are_refused(pickup: tuple[str, Path]) -> None:
    corners = CORNERS.replace("285", "280")
    told = faults(pickup, ("[donor.weighing]\n", f"[donor.weighing]{corners}"))
    assert "is not what its two corners add up to" in told
    assert "580 kg" in told
    told = faults(pickup, ("[donor.weighing]\n", '[donor.weighing]\nfront_left = "300 kg"\n'))
    assert "all four corners, or none" in told
    assert "front_right" in told


@pytest.mark.parametrize("what", ["front_left", "front", "fuel"])
def test_no_load_is_below_zero(pickup: tuple[str, Path], what: str) -> None:
    text, path = pickup
    text = text.replace("[donor.weighing]\n", f"[donor.weighing]{CORNERS}", 1)
    for line in text.splitlines():
        if line.startswith(f"{what} = "):
            text = text.replace(line, f'{what} = "-5 kg"', 1)
            break
    assert "-5 kg" in text
    assert "-5 kg" in faults((text, path))


def test_the_way_of_weighing_gives_the_spread(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    assert read_project(text, path).project.donor.weighing.spread_g == 10_000
    for method, wanted in (
        ("weighbridge", 20_000), ("wheel scales", 5_000), ("bathroom scales", 17_550),
    ):  # fmt: skip
        changed = text.replace('spread = "10 kg"              #', f'method = "{method}" #')
        assert changed != text
        assert read_project(changed, path).project.donor.weighing.spread_g == wanted
        own = changed.replace("[donor.weighing]\n", '[donor.weighing]\nspread = "7 kg"\n')
        assert read_project(own, path).project.donor.weighing.spread_g == 7_000


def test_limits_of_wheels_need_corners_and_tracks(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    asked = text + '\n[house_rules]\nminimum_left_share = "45 %"\n'
    told = faults((asked, path))
    assert "donor.track_front" in told
    assert "front_left" in told
    asked = asked.replace("[donor.weighing]\n", f"{TRACKS}[donor.weighing]{CORNERS}")
    assert read_project(asked, path).project.house_rules.minimum_left_share == 0.45


def test_a_motorcycle_has_neither_tracks_nor_corners(tmp_path: Path) -> None:
    path = write_template("courier-motorcycle", tmp_path)[0]
    wheelbase = 'wheelbase = "1420 mm"\n'
    text = path.read_text("utf-8").replace(wheelbase, wheelbase + TRACKS)
    told = faults((text, path))
    assert told.count("is a track, and a motorcycle has none") == 2


def test_an_axle_with_one_wheel_has_neither_track_nor_corners(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    tyres = "[donor.tyres]\nfront_count = 1\n\n"
    asked = text.replace("[donor.weighing]\n", f"{TRACKS}{tyres}[donor.weighing]{CORNERS}")
    told = faults((asked + '\n[house_rules]\nminimum_left_share = "45 %"\n', path))
    assert told.count("is a track, and an axle with one wheel has none") == 1
    assert "is a corner, and one axle has one wheel" in told
    assert "limits single wheels, which is worked out for two on each axle" in told
    rear = text.replace("[donor.weighing]\n", f'track_rear = "1300 mm"\n{tyres}[donor.weighing]\n')
    assert read_project(rear, path).project.donor.tyre_counts == (1, 2)


@pytest.mark.parametrize(
    ("mass", "driver", "minded"),
    [(1010, "false", False), (1085, "true", False), (1085, "false", True), (1010, "true", True)],
)
def test_the_two_empty_masses_are_told_apart(
    pickup: tuple[str, Path], mass: int, driver: str, minded: bool
) -> None:
    text, path = pickup
    text += f'\n[donor.papers_mass]\nmass = "{mass} kg"\ndriver = {driver}\n'
    said = [fault.code for fault in read_project(text, path).cautions]
    assert ("project.two-empty-masses" in said) == minded
    text = text.replace(f"driver = {driver}\n", "", 1)
    assert "driver" in faults((text, path))


def test_positions_aside_and_high_are_checked(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    added = '\n[[donor.added]]\nname = "bed"\nmass = "20 kg"\nx = "2 m"\ny = "{}"\nz = "{}"\n'
    assert read_project(text + added.format("-300 mm", "700 mm"), path).project.donor.added
    assert "lies beside the car" in faults((text + added.format("3 m", "1 m"), path))
    assert "no height above the ground" in faults((text + added.format("0 mm", "-1 mm"), path))


def test_a_key_of_a_zone_can_be_set_by_the_program(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    text += '\n[[donor.zones]]\nname = "nose"\nx = "-430 mm"\n'
    assert 'y = "20 mm"' in edit_project(text, path, {"donor.zones[nose].y": "20 mm"})


def test_bays_that_reach_into_each_other_are_told(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    bay = (
        '\n[[bays]]\nname = "{}"\nx = "1500 mm"\ny = "-300 mm"\nz = "{}"\nlength = "500 mm"\n'
        'width = "600 mm"\nheight = "300 mm"\ncable_run = "2 m"\n'
    )
    well = text + bay.format("floor", "600 mm") + bay.format("well", "300 mm")
    assert "project.bays-overlap" not in [f.code for f in read_project(well, path).cautions]
    deep = text + bay.format("floor", "600 mm") + bay.format("well", "301 mm")
    (told,) = [f for f in read_project(deep, path).cautions if f.code == "project.bays-overlap"]
    assert told.value == "500 x 600 x 1 mm in common"
    assert "well" in str(told.where)


def test_a_floor_is_named_once_and_only_if_it_is_there(pickup: tuple[str, Path]) -> None:
    text, path = pickup
    named = text.replace("[[bays]]", '[[bays]]\nfloor = "boot floor"', 1)
    assert "names a floor that the project does not have" in faults((named, path))
    floor = '\n[[floors]]\nname = "boot floor"\nmass_limit = "120 kg"\n'
    found = read_project(named + floor, path).project
    assert found.floors[0].mass_limit_g == 120_000
    assert found.bays[0].floor == "boot floor"
    assert "given twice" in faults((named + floor + floor, path))
