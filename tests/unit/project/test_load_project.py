"""Reading project files: what is understood, and what does not matter."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import tomlkit

from bomplan.errors import InputError
from bomplan.project import (
    TEMPLATES,
    echo,
    load_project,
    parse_profile,
    project_digest,
    read_project,
    write_template,
)
from bomplan.project.profiles import SCHEDULES
from bomplan.project.records import Project
from bomplan.quantities import QuantityError

EXAMPLES = [name for name in TEMPLATES if name != "empty"]


@pytest.fixture
def pickup(tmp_path: Path) -> Path:
    return write_template("garden-pickup", tmp_path)[0]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_loads_without_cautions(name: str, tmp_path: Path) -> None:
    written = write_template(name, tmp_path / "new" / "car.toml")
    assert [file.name for file in written] == ["car.toml", *TEMPLATES[name][1:]]
    loaded = load_project(written[0])
    assert loaded.cautions == ()
    assert loaded.project.targets.range


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_saved_project_opens_as_the_same(name: str, tmp_path: Path) -> None:
    project = load_project(write_template(name, tmp_path)[0]).project
    saved = json.dumps(project.model_dump(mode="json"))
    again = Project.model_validate(json.loads(saved))
    assert again == project
    assert project_digest(again) == project_digest(project)


def test_figures_arrive_in_the_units_of_the_records(tmp_path: Path) -> None:
    figures = {
        "donor.gross_limit": "6170 lb",
        "bays[bonnet].height": "14 1/2 in",
        "conditions[winter, worn].temperature": "25 °F",
        "targets.range[a leg of the tour].distance": "112 mi",
        "targets.range[a leg of the tour].profile": "constant 50 mph",
        "targets.climb[mountain pass].hold": "5 min",
        "charging.within": "11 h",
        "donor.driveline.input_torque_limit": "180 lb ft",
    }
    van = load_project(write_template("camper-van", tmp_path, figures)[0]).project
    # 6170 lb * 0.45359237 = 2798.6649 kg; 14 1/2 in = 368.3 mm; 25 °F = -3.889 °C.
    assert van.donor.gross_limit_g == 2_798_665
    assert van.bays[0].height_mm == 368
    assert van.conditions[1].temperature_c == pytest.approx(-35 / 9)
    assert van.targets.range[0].distance_m == 180_247  # 112 miles of 1609.344 m
    assert van.targets.range[0].profile == "constant 50 mph"
    assert van.targets.climb[0].hold_s == 300
    assert van.charging.hours == 11
    assert van.donor.driveline.input_torque_limit_nm == pytest.approx(244.047, abs=1e-3)


def test_every_figure_is_echoed(pickup: Path) -> None:
    loaded = load_project(pickup)
    lines = loaded.echo
    assert "donor.removed[exhaust].mass: '16 kg' read as 16 kg" in lines
    assert "donor.driveline.shift_speeds[2]: '36 km/h' read as 36 km/h" in lines
    assert "targets.climb[the hill behind the mill].grade: '12 %' read as 12 %" in lines
    written = pickup.read_text(encoding="utf-8")
    quoted = re.findall(r'^[^#\n]*?"(-?\d[\d.]* (?:kg|mm|m|km|km/h|°C|W|N m|V|A|h|min|s|%))"',
                        written, re.MULTILINE)  # fmt: skip
    echoed = [figure.written for figure in loaded.figures]
    assert len(quoted) > 60
    assert set(quoted) <= set(echoed)


def test_the_project_is_told_in_words(pickup: Path) -> None:
    lines = echo(load_project(pickup).project)
    assert "must climb 20 % from rest, winter, worn, laden" in lines
    assert "comes out: 158 kg" in "\n".join(lines)
    assert "donor.drag_area is typical of its class, give or take 10 %" in lines


def test_how_a_figure_is_known_is_kept(pickup: Path) -> None:
    known = load_project(pickup).project.provenance
    drag = known["donor.drag_area"]
    assert (drag.known, drag.spread) == ("class", "10 %")
    assert known["donor.weighing.front"].known == "measured"


def test_the_route_is_read_beside_the_project(pickup: Path) -> None:
    project = load_project(pickup).project
    points = project.routes["route garden-round.csv"]
    assert points[0].elevation_m == points[-1].elevation_m
    assert points[-1].distance_m == 35_000
    assert points[1].speed_limit_m_s == pytest.approx(50 / 3.6)
    assert list(project.routes) == ["route garden-round.csv"]


def spelt(text: str, *edits: tuple[str, str]) -> str:
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def test_what_does_not_change_the_digest(pickup: Path) -> None:
    text = pickup.read_text(encoding="utf-8")
    first = read_project(text, pickup).digest
    same = {
        "unit": spelt(text, ('wheelbase = "2480 mm"', 'wheelbase = "2.48 m"')),
        "comment": spelt(text, ("# ----", "# more ----")),
        "order": spelt(text, ('kind = "car" ', ""), ("[donor]\n", '[donor]\nkind = "car"\n')),
        "profile": spelt(text, ("route garden-round.csv", "Route  ./garden-round.csv")),
    }
    assert {
        why: read_project(other, pickup).digest for why, other in same.items()
    } == dict.fromkeys(same, first)
    assert read_project(spelt(text, ('"2480 mm"', '"2481 mm"')), pickup).digest != first
    route = pickup.parent / "garden-round.csv"
    route.write_text(route.read_text(encoding="utf-8").replace("350,50,180", "350,50,181"))
    assert read_project(text, pickup).digest != first


@pytest.mark.parametrize("ends", ["\r\n", "\r", "mixed", "mark"])
def test_line_ends_and_byte_order_mark_do_not_matter(pickup: Path, ends: str) -> None:
    digest = load_project(pickup).digest
    text = pickup.read_text(encoding="utf-8")
    if ends == "mixed":
        text = text.replace("\n", "\r\n", 40)
    elif ends != "mark":
        text = text.replace("\n", ends)
    pickup.write_bytes(text.encode("utf-8-sig" if ends == "mark" else "utf-8"))
    assert load_project(pickup).digest == digest


def test_a_file_with_decimal_commas_says_so(pickup: Path) -> None:
    text = pickup.read_text(encoding="utf-8")
    text = spelt(text, ("format = 1", "format = 1\ndecimal_comma = true"))
    text = spelt(text, ('"0.90 m²"', '"0,90 m²"'), ('"1.5 N m"', '"1,5 N m"'))
    project = read_project(text, pickup).project
    assert project.donor.drag_area_m2 == 0.9
    assert project.donor.driveline.drag_torque_nm == 1.5


def test_money_is_whole_cents(pickup: Path) -> None:
    text = pickup.read_text(encoding="utf-8")
    for written in ("12 000.50 EUR", "12000.5", "12.000,50 EUR"):
        changed = spelt(text, ("[targets]\n", f'[targets]\nbudget = "{written}"\n'))
        assert read_project(changed, pickup).project.targets.budget == 1_200_050


FILLED = {
    "name": '"x"', "wheelbase": '"2400 mm"', "gross_limit": '"1500 kg"',
    "front_axle_limit": '"800 kg"', "rear_axle_limit": '"800 kg"', "drag_area": '"0.66 m²"',
    "rolling_resistance": "0.011", "front": '"520 kg"', "rear": '"380 kg"', "fuel": '"20 kg"',
    "fuel_x": '"2200 mm"', "wheel_radius": '"280 mm"', "mass": '"20 kg"', "x": '"0 mm"',
    "length": '"500 mm"', "width": '"600 mm"', "height": '"300 mm"', "cable_run": '"1 m"',
    "distance": '"60 km"', "speed": '"80 km/h"', "description": '"car"',
}  # fmt: skip


def test_the_empty_template_lists_what_is_missing_and_loads_when_filled(tmp_path: Path) -> None:
    path = write_template("empty", tmp_path / "own.toml")[0]
    with pytest.raises(InputError) as caught:
        load_project(path)
    faults = caught.value.faults
    assert {fault.code for fault in faults} == {
        "project.empty-text", "project.too-few", "quantity.empty",
    }  # fmt: skip
    text = path.read_text(encoding="utf-8")
    empty = [line for line in text.splitlines() if re.match(r'[^#]*= (""|\[\])', line)]
    unneeded = ('description = ""', "shift_speeds = []")
    assert len(faults) == len([line for line in empty if not line.startswith(unneeded)])
    document = tomlkit.parse(text)
    filled = re.sub(
        r'^(\w+) = ""', lambda m: f"{m[1]} = {FILLED.get(m[1], chr(34) + '1 m' + chr(34))}",
        document.as_string(), flags=re.MULTILINE,
    )  # fmt: skip
    filled = spelt(filled, ("gear_ratios = []", "gear_ratios = [3.5, 1.9]"),
                   ("final_ratios = []", "final_ratios = [4.1]"),
                   ("shift_speeds = []", 'shift_speeds = ["30 km/h"]'),
                   ('x = "" }', 'x = "1 m" }'))  # fmt: skip
    assert read_project(filled, path).project.bays[0].length_mm == 500


def test_all_schedules_are_known_to_the_physics() -> None:
    from bomplan.physics.schedules import load_profile, schedule_names

    assert set(SCHEDULES) == set(schedule_names())
    for text in ("Constant 45 mph", "constant 80 km/h", "constant 20 m/s", "HWFET"):
        assert load_profile(parse_profile(text).text).length_m > 0
    with pytest.raises(QuantityError):
        parse_profile("constantly fast")


def test_a_number_from_code_must_fit_its_unit() -> None:
    from bomplan.project.records import MassAt

    assert MassAt.model_validate({"name": "engine", "mass": 1000, "x": "10 cm"}).x_mm == 100
    with pytest.raises(ValueError, match="no whole number of g"):
        MassAt.model_validate({"name": "engine", "mass": 10.5, "x": 0})


def test_settings_of_a_tool_are_not_offered_as_projects(tmp_path: Path) -> None:
    (tmp_path / "pyproject.toml").write_text("[project]\nname = 'x'\n[tool.ruff]\n", "utf-8")
    with pytest.raises(InputError) as caught:
        load_project(tmp_path / "projet.toml")
    (fault,) = caught.value.faults
    assert fault.hint == "bomplan new writes a project to start from"
    mine = tmp_path / "pickup.toml"
    mine.write_text("format = 1\n[donor]\nkind = 'car'\n", "utf-8")
    with pytest.raises(InputError) as caught:
        load_project(tmp_path / "projet.toml")
    (fault,) = caught.value.faults
    assert fault.hint == "in that folder: pickup.toml"
