"""The rack of a bay: every module drawn once and where the plan puts it."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from oracle.small_cases import make_case

from bomplan.design import plan_bytes
from bomplan.design.planfile import parse_plan, project_of
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.report.drawings.bay import bay_drawings, file_name, in_places

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def plan() -> Plan:
    case = make_case(0)
    found = find_plan(case.project, case.catalog)
    assert found.core is not None
    return found


def test_each_bay_in_use_has_one_drawing_and_always_the_same(plan: Plan) -> None:
    drawn = bay_drawings(plan)
    assert len(drawn) == sum(bool(use.stands) for use in plan.placement) > 0
    assert drawn == bay_drawings(parse_plan(plan_bytes(plan).decode("utf-8"), "plan.json"))
    assert bay_drawings(plan.model_copy(update={"core": None, "status": "none"})) == {}


def test_rectangles_stand_where_the_plan_says(plan: Plan) -> None:
    bays = {bay.name: bay for bay in project_of(plan).bays}
    for svg, use in zip(
        bay_drawings(plan).values(), (u for u in plan.placement if u.stands), strict=True
    ):
        bay = bays[use.bay]
        shapes = [
            {k: float(e.get(k, "0")) for k in ("x", "y", "width", "height", "stroke-width")}
            for e in ElementTree.fromstring(svg).iter(f"{SVG}rect")
        ][1:]
        outlines = [s for s in shapes if s["stroke-width"] == 2.4]
        layers = {one.layer for one in use.stands}
        assert len(outlines) == len(layers) + 1
        scale = outlines[0]["width"] / bay.length_mm
        places = [s for s in shapes if s["stroke-width"] == 1.3]
        places = places[: len(use.stands)]
        assert len(places) == len(use.stands)
        for shape, one in zip(places, in_places(use.stands), strict=True):
            frame = outlines[sorted(layers).index(one.layer)]
            bottom = frame["y"] + frame["height"]
            assert shape["x"] - frame["x"] == pytest.approx(one.x_mm * scale, abs=0.3)
            # the left side of the car is at the bottom of the view from above
            lowest = bottom - shape["y"] - shape["height"]
            assert lowest == pytest.approx(one.y_mm * scale, abs=0.3)
            assert shape["width"] == pytest.approx(one.length_mm * scale, abs=0.3)


def test_the_table_gives_every_place(plan: Plan) -> None:
    for svg, use in zip(
        bay_drawings(plan).values(), (u for u in plan.placement if u.stands), strict=True
    ):
        words = [e.text or "" for e in ElementTree.fromstring(svg).iter(f"{SVG}text")]
        cells = words[words.index("terminals") + 1 :]
        rows = [tuple(cells[k : k + 9]) for k in range(0, len(cells), 9)]
        assert rows == [
            (str(n), str(s.x_mm), str(s.y_mm), str(s.z_mm), str(s.length_mm), str(s.width_mm),
             str(s.height_mm), str(s.layer + 1), s.terminals)
            for n, s in enumerate(in_places(use.stands), start=1)
        ]  # fmt: skip


@pytest.mark.parametrize(
    ("bay", "name"),
    [
        ("under bonnet", "bay-1-under-bonnet.svg"),
        ("../../etc", "bay-1-etc.svg"),
        ("COM1:", "bay-1-com1.svg"),
        ("電池", "bay-1.svg"),
        ("x" * 300, "bay-1-" + "x" * 40 + ".svg"),
    ],
)
def test_any_name_of_a_bay_makes_a_safe_file_name(bay: str, name: str) -> None:
    assert file_name(1, bay) == name
