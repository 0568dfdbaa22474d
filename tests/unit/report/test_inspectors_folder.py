"""The inspector's folder: the plan's weights, forces and circuit, no approval, a rescuer's card."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from oracle.small_cases import make_case
from sheet_pages import Reader
from sheet_plans import induction, lead, saved

from bomplan import api
from bomplan.catalog.columns import schema
from bomplan.design.circuit import circuit
from bomplan.design.commissioning import commissioning
from bomplan.design.planfile import project_of
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project.records import Bay, Project
from bomplan.report.drawings.rescue import rescue_svg
from bomplan.report.sheets.inspector import CHEMISTRIES
from bomplan.report.units import Show

FOLDER = "inspectors-folder.html"


@pytest.fixture(scope="module")
def weighed() -> Plan:
    """A small case as planned, with a weighing and tyres of its own."""
    case = make_case(0)
    fields: dict[str, Any] = case.project.model_dump(mode="json")
    fields["donor"] |= {
        "gross_limit_g": 1_500_000, "front_axle_limit_g": 900_000, "rear_axle_limit_g": 900_000,
        "tyres": {"front": "155/80 R13 79T", "rear": "155/80 R13 79T"},
    }  # fmt: skip
    fields["targets"]["budget"] = None
    for bay in fields["bays"]:
        bay["mass_limit_g"] = None
    found = find_plan(Project.model_validate(fields), case.catalog)
    assert found.core is not None
    return found.model_copy(update={"checks": api.audit(found)})


def test_the_sheets_are_written_beside_the_plan(weighed: Plan, tmp_path: Path) -> None:
    show = Show("us", True)
    api.write_outputs(weighed, tmp_path, show=show)
    written = {path.name: path.read_text("utf-8") for path in (tmp_path / "sheets").iterdir()}
    assert written == api.sheets(weighed, show)
    assert set(written) == {"check-sheets.html", "drivers-card.html", FOLDER}


def test_the_weighing_sheet_holds_the_plans_loads(weighed: Plan) -> None:
    rows = Reader(api.sheets(weighed)[FOLDER]).rows
    assert weighed.mass is not None
    assert weighed.mass.weights is not None
    show = Show()
    donor = project_of(weighed).donor
    for one in weighed.mass.weights.states:
        if one.stage == "before":
            continue
        before = next(
            other for other in weighed.mass.weights.states
            if (other.stage, other.load_case) == ("before", one.load_case)
        )  # fmt: skip
        for axle, was, now, limit in (
            ("front", before.front_kg, one.front_kg, donor.front_axle_limit_g),
            ("rear", before.rear_kg, one.rear_kg, donor.rear_axle_limit_g),
            ("together", before.mass_kg, one.mass_kg, donor.gross_limit_g),
        ):
            name = one.load_case or "nobody in it"
            figures = [show.figure(value, "kg") for value in (was, now, limit / 1000)]
            assert [name, axle, *figures, "", ""] in rows
    # Two tyres of load index 79: 437 kg each.
    assert ["front", "155/80 R13 79T", "2", "874 kg", "", ""] in rows


def test_forces_are_those_of_the_mass_in_the_bay(weighed: Plan) -> None:
    page = Reader(api.sheets(weighed)[FOLDER])
    assert weighed.mass is not None
    assert weighed.mass.weights is not None
    for use in weighed.placement:
        mass = sum(one.mass_kg for one in weighed.mass.weights.items if one.bay == use.bay)
        row = next(row for row in page.rows if row and row[0] == use.bay)
        assert row[1] == Show().figure(mass, "kg")
        assert row[2] == Show().figure(mass * 20 * 9.81 / 1000, "kN")
        assert row[5] == Show().figure(mass * 10 * 9.81 / 1000, "kN")


def test_sections_are_those_of_the_plans_series_order(weighed: Plan) -> None:
    page = Reader(api.sheets(weighed)["check-sheets.html"])
    shown = [row for row in page.rows if row and ", section " in row[0]]
    wanted = [
        (use.bay, one.first, one.last) for use in weighed.placement for one in use.sections
    ] * (weighed.core.parallel if weighed.core and weighed.core.topology == "strings" else 1)
    assert wanted
    assert len(shown) == len(wanted)
    for row, (bay, first, last) in zip(shown, wanted, strict=True):
        assert row[0].startswith(f"Box {bay}")
        place = f"place {first}" if first == last else f"places {first} to {last}"
        assert f", {place}" in row[0]
    for link in (link for use in weighed.placement for link in use.links if link.last):
        words = f"{link.first}{link.first_pole} to {link.second}{link.second_pole}"
        assert words in page.words or "see the drawings of the bays" in page.words


def test_it_says_what_it_is_not(weighed: Plan) -> None:
    words = Reader(api.sheets(weighed)[FOLDER]).words
    assert "no approval" in words
    assert words.index("no approval") < words.index("Weighing sheet")


def test_the_circuit_stands_in_it_with_the_ids_of_the_bill() -> None:
    plan = saved()
    page = Reader(api.sheets(plan)[FOLDER])
    assert page.tags.count("svg") == 2
    assert "isolation boundary" in page.words
    ids = {row[1] for row in page.rows if len(row) == 3}
    assert {line.part for line in plan.lines if line.family != "shipping"} <= ids
    for box in circuit(plan).boxes:
        assert page.wanted(f"Bonding, box {box.bay}") == "at most 0.10 Ω"


def test_isolation_by_rule_and_the_metal_of_this_plan() -> None:
    series, inverter = (Reader(api.sheets(one)[FOLDER]) for one in (saved(), induction()))
    assert series.wanted("Isolation, pack side, plus") == "at least 13.5 kΩ"
    assert inverter.wanted("Isolation, pack side, plus") == "at least 67.2 kΩ"
    assert "The motor does not brake." in series.words
    assert "The motor brakes as well" in inverter.words


def test_gas_asks_for_air() -> None:
    dry, wet = (Reader(api.sheets(one)[FOLDER]).words for one in (saved(), lead()))
    assert "give off no gas" in dry
    assert "may burn again" in dry
    gas = commissioning(lead()).gas
    assert gas is not None
    assert Show().figure(gas.wanted_m3_h, "m³/h") in wet
    assert "Acid may run out" in wet
    assert "may burn again" not in wet
    assert "lead-acid, wet cells" in wet


def test_below_60_v_nothing_is_said_of_live_cables() -> None:
    assert "stay live" in Reader(api.sheets(saved())[FOLDER]).words
    low = Reader(api.sheets(saved(module={"cells_series": 3}))[FOLDER]).words
    assert "stay live" not in low
    assert "class A" in low


def test_every_chemistry_has_words() -> None:
    column = schema()["module"].columns["chemistry"]
    assert set(CHEMISTRIES) == set(column.choices)


@pytest.mark.parametrize("sides", [False, True])
def test_the_rescuers_drawing_shows_every_box(sides: bool) -> None:
    project = project_of(saved())
    used = tuple(
        bay.model_copy(update={"y_mm": -200 if sides else None, "inside_cabin": True})
        for bay in project.bays
    )
    text = rescue_svg(project, used, (1_000, 300) if sides else None)
    for number, bay in enumerate(used, start=1):
        assert f"{number} = battery, {bay.name}, inside the cabin" in text
    assert ("its side is not known" in text) is not sides
    assert ("Q = the driver" in text) is sides
    assert ("Mark with a pen" in text) is not sides


def test_boxes_above_each_other_keep_their_numbers_apart() -> None:
    project = project_of(saved())
    bay: Bay = project.bays[0]
    above = bay.model_copy(update={"name": "above"})
    text = rescue_svg(project, (bay, above), None)
    places = [line for line in text.splitlines() if "<circle" in line]
    assert len(set(places)) == 2


@pytest.mark.parametrize(
    ("front", "rear", "tracks"),
    [(1, 2, (None, 1_300)), (2, 1, (1_250, None)), (2, 4, (1_300, 1_300)), (None, None, (0, 0))],
)
def test_the_rescuers_drawing_has_the_wheels_that_there_are(
    front: int | None, rear: int | None, tracks: tuple[int | None, int | None]
) -> None:
    project = project_of(saved())
    tyres = project.donor.tyres.model_copy(update={"front_count": front, "rear_count": rear})
    donor = project.donor.model_copy(
        update={
            "kind": "car", "tyres": tyres,
            "track_front_mm": tracks[0] or None, "track_rear_mm": tracks[1] or None,
        }
    )  # fmt: skip
    text = rescue_svg(project.model_copy(update={"donor": donor}), (), None)
    sheet, *wheels = (
        {key: float(box.attrib.get(key, 0)) for key in ("x", "y", "width", "height")}
        for box in ElementTree.fromstring(text).iter("{http://www.w3.org/2000/svg}rect")
    )
    ahead = [one for one in wheels if one["x"] < sheet["width"] / 2]
    assert (len(ahead), len(wheels) - len(ahead)) == (front or 2, rear or 2)
    middles = {one["y"] + one["height"] / 2 for one in ahead}
    assert len(middles) == len(ahead)
    for one in wheels:
        assert 0 < one["y"] < sheet["height"] - one["height"]
