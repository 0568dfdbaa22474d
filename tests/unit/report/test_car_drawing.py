"""The car drawing: to scale, complete, the same bytes, nothing on top of each other."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import pytest
from oracle.small_cases import make_case
from shipped_examples import NAMES, plan_of

from bomplan import api
from bomplan.design import plan_bytes
from bomplan.design.planfile import parse_plan, project_of
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project.records import Project
from bomplan.report.drawings.bay import bay_drawings
from bomplan.report.drawings.car import PIXELS_PER_MM, CarDrawing, car_svg
from bomplan.report.units import Show, Units

SVG = "{http://www.w3.org/2000/svg}"


def planned(kind: str) -> Plan:
    """A small case: bare, everything measured, on two or three wheels, or with twin tyres."""
    case = make_case(0)
    fields: dict[str, Any] = case.project.model_dump(mode="json")
    donor = fields["donor"]
    donor |= {
        "gross_limit_g": 1_500_000, "front_axle_limit_g": 900_000, "rear_axle_limit_g": 900_000,
        "added": [{"name": "<b>rack & \"co\"</b>", "mass_g": 21_000, "x_mm": -700}],
    }  # fmt: skip
    fields["targets"]["budget"] = None
    for bay in fields["bays"]:
        bay["mass_limit_g"] = None
    if kind != "bare":
        for bay in fields["bays"]:
            bay |= {"y_mm": -300, "z_mm": 350}
        fields["places"] |= {"motor_y_mm": 20, "motor_z_mm": 400, "other_z_mm": 600}
    if kind in ("measured", "twin"):
        front, rear = (donor["weighing"][f"{axle}_g"] for axle in ("front", "rear"))
        donor["weighing"] |= {
            "front_left_g": front // 2, "front_right_g": front - front // 2,
            "rear_left_g": rear // 3, "rear_right_g": rear - rear // 3,
        }  # fmt: skip
        donor |= {"track_front_mm": 1_300, "track_rear_mm": 1_260}
    if kind == "tricycle":
        donor |= {"tyres": {"front_count": 1}, "track_rear_mm": 1_260}
    if kind == "twin":
        donor["tyres"] = {"front": "195/70 R15C 104/102R", "rear": "195/70 R15C 104/102R",
                          "rear_count": 4}  # fmt: skip
    found = find_plan(Project.model_validate(fields), case.catalog)
    assert found.core is not None
    if kind == "motorcycle":
        # Drawn only: what a bill for a motorcycle holds does not matter here.
        used = found.project_used | {"donor": found.project_used["donor"] | {"kind": kind}}
        found = found.model_copy(update={"project_used": used})
    return found


@pytest.fixture(scope="module", params=["bare", "measured", "motorcycle", "twin", "tricycle"])
def made(request: pytest.FixtureRequest) -> tuple[str, Plan, CarDrawing, str]:
    plan = planned(request.param)
    assert plan.mass is not None
    assert plan.mass.weights is not None
    drawing = CarDrawing(plan, project_of(plan), plan.mass.weights)
    return request.param, plan, drawing, drawing.draw()


def test_it_is_one_sound_svg_and_always_the_same(
    made: tuple[str, Plan, CarDrawing, str],
) -> None:
    _, plan, _, text = made
    root = ElementTree.fromstring(text)
    assert root.tag == f"{SVG}svg"
    again = parse_plan(plan_bytes(plan).decode("utf-8"), "plan.json")
    assert car_svg(plan) == text == car_svg(again)
    assert "<b>" not in text
    assert 'rack & "co"' in "".join(root.itertext())
    colours = {value for one in root.iter() for key, value in one.attrib.items()
               if key in ("fill", "stroke")}  # fmt: skip
    assert colours <= {"none", "#000", "#fff", "#e4e4e4"}


def test_in_the_units_of_the_page_masses_are_pounds(
    made: tuple[str, Plan, CarDrawing, str],
) -> None:
    """The same drawing, each mass as the page's tables tell it; mm stay mm."""
    _, plan, metric, text = made
    assert plan.mass is not None
    assert plan.mass.weights is not None
    show = Show("us")
    drawing = CarDrawing(plan, project_of(plan), plan.mass.weights, show=show)
    pounds = drawing.draw()
    assert pounds == car_svg(plan, show)
    told = " ".join(ElementTree.fromstring(pounds).itertext())
    assert " lb" in told
    assert not re.search(r"\d kg|\bkg\b", told)
    for axle in plan.mass.axles:
        if axle.load_case == drawing.heaviest:
            assert show.mass(axle.limit_kg) in told
    assert [pair for pair in drawing.ink.overlaps() if pair[0] != pair[1]] == [
        pair for pair in metric.ink.overlaps() if pair[0] != pair[1]
    ]
    assert re.findall(r"wheelbase \d+ mm", told) == re.findall(r"wheelbase \d+ mm", text)


def test_no_text_lies_on_other_text(made: tuple[str, Plan, CarDrawing, str]) -> None:
    _, _, drawing, text = made
    words = {room.words for room in drawing.ink.texts}
    assert [pair for pair in drawing.ink.overlaps() if set(pair) <= words] == []
    width, height = (float(n) for n in ElementTree.fromstring(text).attrib["viewBox"].split()[2:])
    right, bottom = drawing.ink.extent()
    assert right <= width
    assert bottom <= height


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", NAMES)
def test_no_text_of_an_example_lies_on_other_text_or_is_cut(name: str, units: Units) -> None:
    plan = plan_of(name)
    assert plan.mass is not None
    assert plan.mass.weights is not None
    drawing = CarDrawing(plan, project_of(plan), plan.mass.weights, show=Show(units))
    text = drawing.draw()
    words = {room.words for room in drawing.ink.texts}
    assert [pair for pair in drawing.ink.overlaps() if set(pair) <= words] == []
    width, height = (float(n) for n in ElementTree.fromstring(text).attrib["viewBox"].split()[2:])
    assert list(drawing.ink.astray(width, height)) == []
    assert [one for one in words if "…" in one] == []
    told = " ".join(ElementTree.fromstring(text).itertext()).split()
    for item in project_of(plan).donor.removed:
        if item.mass_g >= 1000:
            assert set(item.name.split()) <= set(told)


def test_a_long_name_takes_several_lines() -> None:
    plan = planned("bare")
    name = "starter, alternator, hydraulic pump with its hoses and the bracket that holds all three"
    assert plan.mass is not None
    assert plan.mass.weights is not None
    items = tuple(
        one.model_copy(update={"what": name}) if one.kind == "taken out" else one
        for one in plan.mass.weights.items
    )
    weights = plan.mass.weights.model_copy(update={"items": items})
    drawing = CarDrawing(plan, project_of(plan), weights)
    drawing.draw()
    shown = [room.words for room in drawing.ink.texts]
    first = next(number for number, one in enumerate(shown) if one.startswith("starter,"))
    lines = [one for one in shown[first:] if one.strip() and set(one.split()) <= set(name.split())]
    assert " ".join(lines).split() == name.split()
    assert len(lines) == 2
    assert [pair for pair in drawing.ink.overlaps() if set(pair) <= set(shown)] == []


def test_bays_and_wheels_are_to_scale(made: tuple[str, Plan, CarDrawing, str]) -> None:
    kind, _, drawing, text = made
    root = ElementTree.fromstring(text)
    said = next(t for t in root.itertext() if "printed at full size" in t)
    ratio = int(said.split("1 : ")[1].split(" ")[0])
    scale = PIXELS_PER_MM / ratio
    project = drawing.project
    boxes = [
        {key: float(one.attrib[key]) for key in ("x", "y", "width", "height")}
        for one in root.iter(f"{SVG}rect")
        if "x" in one.attrib
    ]
    wheels = [c for c in root.iter(f"{SVG}circle")
              if float(c.attrib["r"]) == pytest.approx(
                  project.donor.driveline.wheel_radius_mm * scale, abs=0.06)]  # fmt: skip
    assert len(wheels) == 2
    front, rear = sorted(float(c.attrib["cx"]) for c in wheels)
    assert rear - front == pytest.approx(project.donor.wheelbase_mm * scale, abs=0.11)
    for bay in project.bays:
        x = front + bay.x_mm * scale
        for across in (bay.width_mm, bay.height_mm):
            assert any(
                abs(box["x"] - x) < 0.2
                and abs(box["width"] - bay.length_mm * scale) < 0.11
                and abs(box["height"] - across * scale) < 0.11
                for box in boxes
            ), bay.name
    tyres = [
        box for box in boxes
        if abs(box["width"] - 2 * project.donor.driveline.wheel_radius_mm * scale) < 0.11
    ]  # fmt: skip
    assert len(tyres) == {
        "bare": 4, "measured": 4, "motorcycle": 2, "twin": 6, "tricycle": 3,
    }[kind]  # fmt: skip


def test_everything_with_a_mass_stands_in_its_table(
    made: tuple[str, Plan, CarDrawing, str],
) -> None:
    _, plan, _, text = made
    shown = list(ElementTree.fromstring(text).itertext())
    assert plan.mass is not None
    assert plan.mass.weights is not None
    bought = sum(i.mass_kg for i in plan.mass.weights.items if i.kind == "bought")
    start = next(i for i, one in enumerate(shown) if one == "above ground")
    rows: list[float] = []
    kind = ""
    for one in shown[start:]:
        if one in ("bay", "new"):
            kind = one
        elif kind and one.replace(".", "").isdigit() and "." in one:
            rows.append(float(one))
            kind = ""
    assert sum(rows) == pytest.approx(bought, abs=0.05 * len(rows) + 0.001)
    for state in plan.mass.weights.states:
        if not state.load_case:
            assert f"{state.mass_kg:.1f}" in shown


def test_what_was_not_measured_is_said(made: tuple[str, Plan, CarDrawing, str]) -> None:
    kind, _, drawing, text = made
    said = " ".join(drawing.notes)
    assert ("tracks are not given" in said) == (kind == "bare")
    assert ("Bays without a height" in said) == (kind == "bare")
    assert ("centre of gravity is not known" in said) == (kind == "bare")
    assert ('stroke-dasharray="6 3"' in text) == (kind == "bare")
    shown = "".join(ElementTree.fromstring(text).itertext())
    assert ("left " in shown and "right " in shown) or kind in ("bare", "motorcycle", "tricycle")


def test_a_plan_without_a_weighing_has_no_drawing() -> None:
    plan = planned("bare")
    assert plan.mass is not None
    old = plan.model_copy(update={"mass": plan.mass.model_copy(update={"weights": None})})
    assert car_svg(old) is None
    assert car_svg(plan.model_copy(update={"core": None, "status": "none"})) is None


def test_it_is_written_beside_the_plan_and_an_edited_one_is_kept(tmp_path: Any) -> None:
    plan = planned("bare")
    api.write_outputs(plan, tmp_path)
    target = tmp_path / "drawings" / "car.svg"
    assert target.read_text("utf-8") == car_svg(plan)
    target.write_text("<svg/>", "utf-8")
    written = {one.path.name: one for one in api.write_outputs(plan, tmp_path)}
    assert written["car.svg"].kept == tmp_path / "drawings" / "car.kept-1.svg"
    assert (tmp_path / "drawings" / "car.kept-1.svg").read_text("utf-8") == "<svg/>"
    assert {one.kept for name, one in written.items() if name != "car.svg"} == {None}
    names = {p.name for p in (tmp_path / "drawings").iterdir()}
    assert names == {"car.kept-1.svg", "car.svg", "circuit.svg", *bay_drawings(plan)}


def test_the_right_side_is_up_when_the_front_is_left(
    made: tuple[str, Plan, CarDrawing, str],
) -> None:
    """A bay moved to the right moves towards the top of the view from above, by as much."""
    kind, plan, _, _ = made
    if kind != "measured":
        pytest.skip("one of them is enough")
    tops = []
    for y_mm in (-300, 200):
        bays = [bay | {"y_mm": y_mm} for bay in plan.project_used["bays"]]
        moved = plan.model_copy(update={"project_used": plan.project_used | {"bays": bays}})
        text = car_svg(moved)
        assert text is not None
        root = ElementTree.fromstring(text)
        said = next(words for words in root.itertext() if "printed at full size" in words)
        scale = PIXELS_PER_MM / int(said.split("1 : ")[1].split(" ")[0])
        bay = project_of(moved).bays[0]
        middle = next(
            float(one.attrib["points"].split(",")[-1])
            for one in root.iter(f"{SVG}polyline")
            if one.attrib.get("stroke-dasharray") == "12 3 2 3"
        )
        tops.append(
            min(
                float(one.attrib["y"]) - middle
                for one in root.iter(f"{SVG}rect")
                if abs(float(one.attrib.get("width", 0)) - bay.length_mm * scale) < 0.11
                and abs(float(one.attrib["height"]) - bay.width_mm * scale) < 0.11
            )
        )
    assert tops[0] - tops[1] == pytest.approx(500 * scale, abs=0.3)


def test_room_is_never_more_than_there_is() -> None:
    """Rounded down as in the terminal: 27.86 kg left are 27."""
    plan = planned("bare")
    assert plan.mass is not None
    assert plan.mass.weights is not None
    drawing = CarDrawing(plan, project_of(plan), plan.mass.weights)
    assert drawing._left(27.86) == "27 kg left"
    assert drawing._left(-0.6) == "1 kg TOO MUCH"
