"""The drawing of the circuit: legible for any plan, sound, always the same bytes."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from circuit_fusing import unfused
from shipped_examples import NAMES, plan_of
from todays_plan import todays_plan

from bomplan.design.circuit import circuit
from bomplan.design.planfile import read_plan
from bomplan.design.records import Plan
from bomplan.report.drawings.circuit import circuit_svg, sheet, sized_sheet
from bomplan.report.drawings.circuit_key import closing_order, key_rows, pole_contactors
from bomplan.report.drawings.ink import FIT_PAPER, Ink, fit, wrap
from bomplan.report.page.inline import inline_svg

SAVED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"
NASTY = '<script>alert(1)</script> "&\u202e\x07 名名名 and much more than fits into a box'


def changed(boxes: int, strings: int, *, without: tuple[str, ...] = (), name: str = "bay") -> Plan:
    """The saved plan with so many boxes and strings, less some families."""
    plan = read_plan(SAVED)
    assert plan.core is not None
    project: dict[str, Any] = dict(plan.project_used)
    first = project["bays"][0]
    project["bays"] = [{**first, "name": f"{name} {number}"} for number in range(boxes)]
    topology = "strings" if strings > 1 else "groups"
    core = plan.core.model_copy(
        update={"series": 3 * boxes, "parallel": strings, "topology": topology}
    )
    placement = tuple(
        plan.placement[0].model_copy(
            update={"bay": f"{name} {number}", "series": 3, "modules": 3 * strings, "stands": ()}
        )
        for number in range(boxes)
    )
    pieces = {
        "fuse": boxes * strings,
        "service_disconnect": strings,
        "module": 3 * boxes * strings,
        "cable": 100 * boxes * strings,
    }
    lines = tuple(
        line.model_copy(update={"quantity": pieces.get(line.family, line.quantity)})
        for line in plan.lines
        if line.family not in without
    )
    return plan.model_copy(
        update={"core": core, "placement": placement, "lines": lines, "project_used": project}
    )


CASES = [(boxes, strings) for boxes in (1, 2, 5) for strings in (1, 2, 6)]
WITHOUT: list[tuple[str, ...]] = [
    (),
    ("heater", "heater_relay"),
    ("precharge_resistor", "precharge_relay"),
    ("isolation_monitor", "monitor"),
    ("charger", "charge_inlet"),
    ("dcdc",),
]


@pytest.mark.parametrize(("boxes", "strings"), CASES)
def test_nothing_lies_on_text_however_many_boxes_and_strings(boxes: int, strings: int) -> None:
    plan = changed(boxes, strings)
    found = circuit(plan)
    assert len(found.runs) == boxes * strings
    assert unfused(found) == ()
    assert list(sheet(found, plan.project).overlaps()) == []


@pytest.mark.parametrize("without", WITHOUT)
def test_nothing_lies_on_text_whatever_is_left_out(without: tuple[str, ...]) -> None:
    plan = changed(2, 2, without=without)
    assert list(sheet(circuit(plan), plan.project).overlaps()) == []


def test_nothing_lies_on_text_where_every_branch_has_its_fuse_and_its_cable() -> None:
    plan = todays_plan()
    found = circuit(plan)
    ink = sheet(found, plan.project)
    assert list(ink.overlaps()) == []
    text = circuit_svg(plan)
    for wire in found.wires:
        if wire.kind in ("branch", "cable"):
            assert wire.length_mm is not None, wire.tag
    assert found.branch_cable in text
    for fuse in found.branches.values():
        assert f">{fuse}</text>" in text


def cut_short(plan: Plan) -> list[str]:
    """Texts that were cut with an ellipsis, but for the builder's own names."""
    own = {fit(use.bay, 20) for use in plan.placement} | {fit(plan.project, 80)}
    ink = sheet(circuit(plan), plan.project)
    heading = {fit(f"Power circuit: {plan.project}", 80)}
    return [
        one.words
        for one in (*ink.texts, *ink.framed)
        if "…" in one.words and one.words not in own | heading
    ]


def misplaced(plan: Plan) -> list[str]:
    ink, width, height = sized_sheet(circuit(plan), plan.project)
    return list(ink.astray(width, height))


@pytest.mark.parametrize(("boxes", "strings"), CASES)
def test_no_text_leaves_its_frame_or_the_sheet(boxes: int, strings: int) -> None:
    assert misplaced(changed(boxes, strings)) == []


@pytest.mark.parametrize("without", WITHOUT)
def test_no_text_leaves_its_frame_whatever_is_left_out(without: tuple[str, ...]) -> None:
    assert misplaced(changed(2, 2, without=without)) == []


def todays(boxes: int, strings: int) -> Plan:
    """Today's plan, 12 V side and all, with so many boxes and strings."""
    plan, shape = todays_plan(), changed(boxes, strings)
    assert shape.core is not None
    lines = {line.family: line.quantity for line in shape.lines}
    lines |= {"feed_wire": 5, "feed_lug": 10, "feed_fuse": 2, "wire_12v": 40, "branch_cable": 20}
    return shape.model_copy(
        update={
            "lines": tuple(
                line.model_copy(update={"quantity": lines.get(line.family, line.quantity)})
                for line in plan.lines
            ),
            "parts_used": plan.parts_used,
        }
    )


@pytest.mark.parametrize(("boxes", "strings"), CASES)
def test_todays_families_have_their_room_too(boxes: int, strings: int) -> None:
    plan = todays(boxes, strings)
    assert misplaced(plan) == []
    assert list(sheet(circuit(plan), plan.project).overlaps()) == []
    assert cut_short(plan) == []


SHIPPED = [
    pytest.param(name, marks=() if name == "courier-motorcycle" else pytest.mark.slow)
    for name in NAMES
]


@pytest.mark.parametrize("name", SHIPPED)
def test_the_examples_are_drawn_whole(name: str) -> None:
    plan = plan_of(name)
    assert misplaced(plan) == []
    assert list(sheet(circuit(plan), plan.project).overlaps()) == []
    assert cut_short(plan) == []
    text = circuit_svg(plan)
    found = circuit(plan)
    shown = " ".join(ElementTree.fromstring(text).itertext())
    for block in found.blocks.values():
        if block.kind not in ("stud", "earth point"):
            assert re.search(rf"\b{block.tag}\b", shown), block.tag
            rating = "".join("".join(block.rating).split())
            assert rating in "".join(shown.split()) or block.kind == "12 V load", block.tag
    for wire in found.wires:
        if wire.length_mm:
            assert wire.section in shown, wire.tag
        if wire.kind in ("cable", "branch") and wire.length_mm:
            assert wire.tag in named(shown), wire.tag
            for end in (wire.start, wire.end):
                assert re.search(rf"\b{end.tag}\b", shown), end


def named(shown: str) -> set[str]:
    """Every tag of a wire that a drawing shows, those within a run of tags too."""
    found = set()
    for first, last in re.findall(r"\bW(\d+)(?:-W(\d+))?\b", shown.split("12 V side:")[0]):
        found |= {f"W{number}" for number in range(int(first), int(last or first) + 1)}
    return found


def test_the_main_contactor_is_told_to_close_last() -> None:
    """Coils in one chain alone would close past the resistor."""
    found = circuit(todays_plan())
    (resistor,), (relay,) = found.of("precharge resistor"), found.of("precharge relay")
    assert found.precharge_s is not None
    assert found.precharge_s == pytest.approx(
        next(one.value for one in todays_plan().checks if one.id == "precharge.time")
    )
    shown = " ".join("".join(circuit_texts(todays_plan())).split())
    first = " and ".join([relay.tag, *(one.tag for one in pole_contactors(found, "-"))])
    last = " and ".join(one.tag for one in pole_contactors(found, "+"))
    assert f"Not all at once: {first} close first, {last} at least" in shown
    told = re.search(r"at least ([\d.]+) s later", shown)
    assert told is not None
    assert found.precharge_s <= float(told[1]) < found.precharge_s + 0.1
    assert f"{resistor.tag} is bypassed" in shown
    without = circuit(changed(1, 1, without=("precharge_resistor", "precharge_relay")))
    assert closing_order(without) == ""


def test_the_mains_side_has_its_earth() -> None:
    shown = " ".join("".join(circuit_texts(todays_plan())).split())
    charger = circuit(todays_plan()).of("charger")[0].tag
    assert f"PE to {charger}'s case and the chassis" in shown
    assert "residual-current device, 30 mA" in shown
    uncharged = changed(1, 1, without=("charger", "charge_inlet"))
    assert "residual-current" not in " ".join(circuit_texts(uncharged))


def circuit_texts(plan: Plan) -> list[str]:
    """Every text of the drawing, in the order in which they are written, each with a space."""
    return [f"{one.words} " for one in sheet(circuit(plan), plan.project).texts]


def test_text_astray_is_seen() -> None:
    ink = Ink()
    ink.rectangle(10, 10, 50, 30)
    ink.text(12, 24, "fits", inside=True)
    assert list(ink.astray(100, 100)) == []
    ink.text(12, 38, "far too long for it", inside=True)
    ink.text(90, 60, "out")
    assert set(ink.astray(100, 100)) == {"out", "far too long for it"}


def test_a_browser_prints_its_file_whole_and_a_page_takes_no_style_from_it() -> None:
    """What has a scale is printed at it; the circuit has none."""
    style = "{http://www.w3.org/2000/svg}style"
    text = circuit_svg(changed(2, 2))
    root = ElementTree.fromstring(text)
    (found,) = root.iter(style)
    assert found.text == FIT_PAPER
    assert root.attrib["viewBox"] == f"0 0 {root.attrib['width']} {root.attrib['height']}"
    assert "style" not in inline_svg(text, "draw")
    assert "<style" not in Ink().svg(10, 10, "to scale", "a box")


def test_markup_in_names_is_text() -> None:
    plan = changed(2, 1, name=NASTY).model_copy(update={"project": NASTY})
    text = circuit_svg(plan)
    root = ElementTree.fromstring(text)
    assert "<script" not in text
    assert not [one for one in root.iter() if one.tag.endswith("script")]
    assert "<script>alert(1)" in "".join(root.itertext())
    assert list(sheet(circuit(plan), plan.project).overlaps()) == []


def test_the_same_plan_gives_the_same_bytes_in_black_and_white() -> None:
    plan = read_plan(SAVED)
    text = circuit_svg(plan)
    assert text == circuit_svg(read_plan(SAVED))
    colours = {
        value
        for one in ElementTree.fromstring(text).iter()
        for key, value in one.attrib.items()
        if key in ("fill", "stroke")
    }
    assert colours == {"#000", "#fff", "none"}
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_every_line_of_the_bill_has_its_id_in_the_key() -> None:
    plan = read_plan(SAVED)
    ids = {part for _, part, _ in key_rows(circuit(plan))}
    assert ids == {line.part for line in plan.lines if line.family != "shipping"}


def test_overlaps_are_seen() -> None:
    ink = Ink()
    ink.text(10, 20, "one")
    ink.text(20, 22, "two")
    ink.line((0, 18), (40, 18))
    assert ("one", "two") in list(ink.overlaps())
    assert ("one", "line") in list(ink.overlaps())


def test_long_words_are_cut_to_their_room() -> None:
    assert fit("名名名名", 5) == "名名…"
    assert wrap("service-disconnect-200v", 10, 2) == ("service-", "disconnec…")
