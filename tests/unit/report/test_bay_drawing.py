"""The rack of a bay: every module drawn once where the plan puts it, numbered, with its poles."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from shipped_examples import NAMES, plan_of, quick_plan

from bomplan import api
from bomplan.design import plan_bytes
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.planfile import catalog_of, parse_plan, project_of
from bomplan.design.records import BayUse, Plan
from bomplan.design.series import in_series_order
from bomplan.packing import BayBox, ModuleBox, check_layout, clamped_rows, end_plates, layout
from bomplan.project.records import Bay
from bomplan.report.drawings.bay import Rack, bay_drawings, file_name, in_places
from bomplan.report.drawings.ink import Ink
from bomplan.report.units import Show, Units

SVG = "{http://www.w3.org/2000/svg}"
RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"


@pytest.fixture(scope="module")
def old() -> Plan:
    """From before there was a series order."""
    return api.read_plan(RELEASED)


@pytest.fixture(scope="module")
def plan(old: Plan) -> Plan:
    """Groups of three in two bays, one of them with two layers."""
    context = Context(project_of(old), catalog_of(old))
    assert old.core is not None
    drive = resolve(context, old.core)
    return old.model_copy(update={"placement": in_series_order(context, drive, old.placement)})


def drawn(plan: Plan) -> list[tuple[BayUse, ElementTree.Element]]:
    uses = [use for use in plan.placement if use.stands]
    return [
        (use, ElementTree.fromstring(svg))
        for use, svg in zip(uses, bay_drawings(plan).values(), strict=True)
    ]


def rectangles(root: ElementTree.Element, weight: float) -> list[dict[str, float]]:
    return [
        {k: float(e.get(k, "0")) for k in ("x", "y", "width", "height")}
        for e in root.iter(f"{SVG}rect")
        if e.get("stroke-width") == f"{weight:g}" and e.get("stroke") != "none"
    ]


def words(root: ElementTree.Element) -> list[str]:
    return [e.text or "" for e in root.iter(f"{SVG}text")]


def test_each_bay_in_use_has_one_drawing_and_always_the_same(plan: Plan) -> None:
    drawn = bay_drawings(plan)
    assert len(drawn) == sum(bool(use.stands) for use in plan.placement) > 0
    assert drawn == bay_drawings(parse_plan(plan_bytes(plan).decode("utf-8"), "plan.json"))
    assert bay_drawings(plan.model_copy(update={"core": None, "status": "none"})) == {}


def test_rectangles_stand_where_the_plan_says(plan: Plan) -> None:
    bays = {bay.name: bay for bay in project_of(plan).bays}
    for use, root in drawn(plan):
        bay = bays[use.bay]
        outlines = rectangles(root, 2.4)
        layers = sorted({one.layer for one in use.stands})
        assert len(outlines) == len(layers) + 1
        places = rectangles(root, 1.3)
        listed = sorted(in_places(use.stands), key=lambda one: one.layer)
        for shape, one in zip(places, listed, strict=False):
            frame = outlines[layers.index(one.layer)]
            scale = frame["width"] / bay.length_mm
            assert shape["x"] - frame["x"] == pytest.approx(one.x_mm * scale, abs=0.3)
            # the left side of the car is at the bottom of the view from above
            lowest = frame["y"] + frame["height"] - shape["y"] - shape["height"]
            assert lowest == pytest.approx(one.y_mm * scale, abs=0.3)
            assert shape["width"] == pytest.approx(one.length_mm * scale, abs=0.3)
            assert shape["height"] == pytest.approx(one.width_mm * scale, abs=0.3)
        assert len(places) > len(listed)  # and those seen from the side


def test_the_table_gives_every_module_in_series_order(plan: Plan) -> None:
    lies = {"x-": "front", "x+": "rear", "y-": "left", "y+": "right"}
    faces = {"up": "up", "x": "rear", "y": "right"}
    for use, root in drawn(plan):
        said = words(root)
        cells = said[said.index("+ lies") + 1 :]
        rows = [tuple(cells[k : k + 10]) for k in range(0, len(cells), 10)]
        assert rows == [
            (f"{s.place}{'abc'[s.beside - 1]}", str(s.x_mm), str(s.y_mm), str(s.z_mm),
             str(s.length_mm), str(s.width_mm), str(s.height_mm), str(s.layer + 1),
             faces[s.terminals], lies[s.plus])
            for s in sorted(use.stands, key=lambda s: (s.place, s.beside))
        ]  # fmt: skip


def test_every_pole_and_every_link_is_drawn(plan: Plan) -> None:
    for use, root in drawn(plan):
        circles = list(root.iter(f"{SVG}circle"))
        # two poles of each module; one circle more where a cable or a disconnect leads on
        assert 2 * len(use.stands) < len(circles) <= 2 * len(use.stands) + 4
        here = [e for e in root.iter(f"{SVG}polyline") if e.get("stroke-width") in ("4", "2.4")]
        assert len(here) == sum(link.joins == "neighbours" for link in use.links)


def test_sections_last_links_and_disconnects_are_told(plan: Plan) -> None:
    for use, root in drawn(plan):
        text = " ".join(words(root))
        for part in use.sections:
            assert f"({part.full_v:g} V)" in text
        last = [link for link in use.links if link.last]
        for number, link in enumerate(last, start=1):
            assert f"L{number} {link.first}- to {link.second}+" in text
            assert f"L{number}" in words(root)
        for cut in use.disconnects:
            assert f"from - of series place {cut} to + of {cut + 1}" in text


def test_links_longer_than_the_bar_of_the_bill_are_told(plan: Plan) -> None:
    for use, root in drawn(plan):
        text = " ".join(words(root))
        assert f"{len(use.links)} of the links are longer than the link of the bill" in text


def test_a_plan_without_an_order_counts_places_and_shows_no_poles(old: Plan) -> None:
    for use, root in drawn(old):
        assert not list(root.iter(f"{SVG}circle"))
        assert any("Numbers count places" in text for text in words(root))
        labels = set(words(root)) & {str(n) for n in range(1, len(use.stands) + 1)}
        assert labels == {str(n) for n in range(1, len(use.stands) + 1)}


def test_dimensions_and_scale_bars_stand_beside_each_view(plan: Plan) -> None:
    bays = {bay.name: bay for bay in project_of(plan).bays}
    for use, root in drawn(plan):
        said, bay = words(root), bays[use.bay]
        views = len({one.layer for one in use.stands}) + 1
        assert said.count(str(bay.length_mm)) == views
        assert said.count(str(bay.width_mm)) == views - 1
        bars = [text for text in said if text.endswith("mm in this view")]
        assert len(bars) == views
        frames = rectangles(root, 2.4)
        fills = [e for e in root.iter(f"{SVG}rect") if e.get("fill") == "#000"]
        for frame, text, half in zip(frames, bars, fills, strict=True):
            scale = frame["width"] / bay.length_mm
            assert 2 * float(half.get("width", "0")) == pytest.approx(
                int(text.split()[0]) * scale, abs=0.3
            )


def sheets_of(
    plan: Plan, show: Show, monkeypatch: pytest.MonkeyPatch
) -> list[tuple[Ink, float, float]]:
    """What is drawn on every bay's sheet, and how large each is."""
    sheets: list[tuple[Ink, float, float]] = []
    made = Ink.svg

    def keep(self: Ink, width: float, height: float, *words: str) -> str:
        sheets.append((self, width, height))
        return made(self, width, height, *words)

    monkeypatch.setattr(Ink, "svg", keep)
    bay_drawings(plan, show)
    assert sheets
    return sheets


def hidden(sheets: list[tuple[Ink, float, float]]) -> list[object]:
    """Texts over others, and texts outside the sheet."""
    found: list[object] = []
    for ink, width, height in sheets:
        texts = {room.words for room in ink.texts}
        found += [pair for pair in ink.overlaps() if set(pair) <= texts]
        found += ink.astray(width, height)
    return found


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_text_covers_another_or_leaves_the_sheet(
    plan: Plan, units: Units, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert hidden(sheets_of(plan, Show(units), monkeypatch)) == []


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", NAMES)
def test_no_text_of_an_example_covers_another_or_leaves_the_sheet(
    name: str, units: Units, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert hidden(sheets_of(plan_of(name), Show(units), monkeypatch)) == []


def test_texts_that_cover_others_or_leave_the_sheet_are_seen() -> None:
    ink = Ink()
    ink.text(10, 20, "one")
    ink.text(12, 22, "two")
    ink.text(95, 50, "three")
    assert hidden([(ink, 100.0, 100.0)]) == [("one", "two"), "three"]


def test_with_us_units_lengths_to_build_by_have_inches_behind_them() -> None:
    plan = plan_of("camper-van")
    use = plan.placement[0]
    bay = next(one for one in project_of(plan).bays if one.name == use.bay)
    said = words(ElementTree.fromstring(next(iter(bay_drawings(plan, Show("us")).values()))))
    assert f"{bay.length_mm} ({bay.length_mm / 25.4:.2f} in)" in said
    assert f"({bay.width_mm / 25.4:.2f} in)" in said
    (first,) = (one for one in use.stands if one.place == 1)
    begin = said.index("+ lies") + 1
    assert said[begin : begin + 10] == [
        "1",
        *(
            f"{mm} ({mm / 25.4:.2f})"
            for mm in (first.x_mm, first.y_mm, first.z_mm, first.length_mm, first.width_mm,
                       first.height_mm)
        ),
        "1", "up", said[begin + 9],
    ]  # fmt: skip
    # 54 mm are 2.1260 in, and 25.4 mm an inch.
    assert "38 of 54 mm (2.13 in)" in " ".join(said)
    assert Show("us").length(254) == "254 (10.00 in)"
    assert Show("metric").length(254) == "254"
    assert Show("us", decimal_comma=True).length(254) == "254 (10,00 in)"
    metric = words(ElementTree.fromstring(next(iter(bay_drawings(plan).values()))))
    assert not any(" in)" in one for one in metric)


def test_files_and_page_have_inches_where_the_project_asks(tmp_path: Path) -> None:
    plan = quick_plan()
    api.write_outputs(plan, tmp_path / "metric")
    api.write_outputs(
        plan.model_copy(update={"project_used": plan.project_used | {"show": {"units": "us"}}}),
        tmp_path / "us",
    )
    for folder, wanted in (("metric", False), ("us", True)):
        drawing = (tmp_path / folder / "drawings" / "bay-1-bonnet.svg").read_text("utf-8")
        page = (tmp_path / folder / "report.html").read_text("utf-8")
        assert (" in)" in drawing) == wanted
        assert (" in)</text>" in page) == wanted


def test_lying_modules_are_faced_where_their_poles_are(plan: Plan) -> None:
    """Every stand turned on its side: poles one above the other, seen from the rear."""
    bay = project_of(plan).bays[0]
    use = plan.placement[0]
    lying = tuple(
        stand.model_copy(update={"terminals": "x", "plus": "y+", "layer": 0})
        for stand in use.stands
    )
    assert plan.core is not None
    root = ElementTree.fromstring(
        Rack(plan, plan.core, bay, use.model_copy(update={"stands": lying})).svg()
    )
    faces = {stand.x_mm + stand.length_mm for stand in lying}
    headings = [text for text in words(root) if "onto the terminals" in text]
    assert headings == [f"Layer 1 from the rear, onto the terminals at x = {x}"
                        for x in sorted(faces)]  # fmt: skip
    assert len(list(root.iter(f"{SVG}circle"))) >= 2 * len(lying)


def test_end_plates_touch_the_rows_and_stay_in_the_box() -> None:
    cell = ModuleBox(174, 54, 207, gap_mm=1, end_plate_mm=24)
    bay = BayBox(1000, 600, 500)
    found = layout(bay, cell)
    assert check_layout(bay, cell, found) == ()
    plates = end_plates(found.positions, cell)
    assert len(plates) == 2 * clamped_rows(found, cell, found.count) > 0
    for plate in plates:
        assert {plate.length_mm, plate.width_mm} == {24, 174}
        assert min(plate.x_mm, plate.y_mm) >= 10
        assert plate.x_mm + plate.length_mm <= 990
        assert plate.y_mm + plate.width_mm <= 590
        assert not any(
            plate.layer == s.layer
            and plate.x_mm < s.x_mm + s.length_mm
            and s.x_mm < plate.x_mm + plate.length_mm
            and plate.y_mm < s.y_mm + s.width_mm
            and s.y_mm < plate.y_mm + plate.width_mm
            for s in found.positions
        )
    assert end_plates(found.positions, ModuleBox(174, 54, 207)) == ()


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
    assert re.fullmatch(r"[a-z0-9.-]+", name)


def test_what_is_no_room_is_hatched_and_told_in_figures(plan: Plan) -> None:
    """A step at the rear, not as high as the bay, and a rail that does not go through."""
    use = plan.placement[0]
    project = project_of(plan)
    bay = next(one for one in project.bays if one.name == use.bay)
    end = max(one.x_mm + one.length_mm for one in use.stands)
    data = bay.model_dump()
    data["length_mm"] = end + 200
    data["blocked"] = [
        {"x_mm": end + 100, "height_mm": 90, "width_mm": None, "length_mm": None},
        {"x_mm": end + 20, "height_mm": 15, "width_mm": 60, "length_mm": 30},
    ]
    shaped = Bay.model_validate(data)
    assert plan.core is not None
    root = ElementTree.fromstring(Rack(plan, plan.core, shaped, use).svg())
    said = " ".join(words(root))
    assert f"x {end + 100} to {end + 200}, y 0 to {bay.width_mm}, z 0 to 90" in said
    assert f"x {end + 20} to {end + 50}, y 0 to 60, z 0 to 15" in said
    strokes = [e for e in root.iter(f"{SVG}polyline") if e.get("stroke-width") == "0.4"]
    assert len(strokes) > 20
    # every stroke lies in a bay's outline, at 45 degrees
    frames = rectangles(root, 2.4)
    for one in strokes:
        x1, y1, x2, y2 = map(float, re.split("[ ,]", one.get("points", "")))
        assert abs((x2 - x1) + (y2 - y1)) < 0.05
        assert any(
            f["x"] - 0.1 <= min(x1, x2) <= max(x1, x2) <= f["x"] + f["width"] + 0.1
            and f["y"] - 0.1 <= min(y1, y2) <= max(y1, y2) <= f["y"] + f["height"] + 0.1
            for f in frames
        )
    plain = ElementTree.fromstring(Rack(plan, plan.core, bay, use).svg())
    assert "No room" not in " ".join(words(plain))
    assert not [e for e in plain.iter(f"{SVG}polyline") if e.get("stroke-width") == "0.4"]


def test_the_edges_tell_where_the_last_module_ends(plan: Plan) -> None:
    for use, root in drawn(plan):
        told = words(root)
        for axis, size in (("x_mm", "length_mm"), ("y_mm", "width_mm"), ("z_mm", "height_mm")):
            end = max(getattr(one, axis) + getattr(one, size) for one in use.stands)
            assert str(end) in told
