"""Sheets to print: the plan's own figures, cautions where they belong, nothing from outside."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from sheet_pages import Reader
from sheet_plans import DRIVING, fast, induction, lead, saved
from todays_plan import todays_plan

from bomplan import api
from bomplan.design import plan_bytes
from bomplan.design.buying_order import GATES
from bomplan.design.commissioning import commissioning
from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of, parse_plan
from bomplan.design.records import Plan
from bomplan.design.uncertain import TO_KNOW
from bomplan.report.sheets.rows import MEASURE
from bomplan.report.units import Show
from bomplan.requirements.cautions import (
    COLD_CHARGE,
    DEFER,
    HYDROGEN,
    LIFTING,
    RUNAWAY,
    cautions,
    to_settle,
)
from bomplan.requirements.overspeed import wrong_gear

CHECK, CARD, FOLDER = "check-sheets.html", "drivers-card.html", "inspectors-folder.html"
NASTY = '<script>alert(1)</script><img src=x onerror="1">{{ 7 * 7 }}'


def read(plan: Plan, show: Show | None = None) -> dict[str, Reader]:
    return {name: Reader(page) for name, page in api.sheets(plan, show).items()}


def stage(page: str, title: str) -> str:
    """The HTML from one stage's title to the next, as text."""
    start = page.index(f">{title}")
    return unescape(page[start : page.index("<h3>", start)]).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("name", [CHECK, CARD, FOLDER])
def test_nothing_comes_from_outside(name: str) -> None:
    page = api.sheets(saved())[name]
    found = Reader(page)
    assert found.links == []
    assert not {"script", "link", "iframe", "img"} & set(found.tags)
    assert "url(" not in page
    assert "@import" not in page
    assert "://" not in page
    assert "default-src 'none'" in page
    assert DEFER in found.words


def test_the_same_plan_gives_the_same_bytes() -> None:
    plan = saved()
    again = parse_plan(plan_bytes(plan).decode("utf-8"), "plan.json")
    assert api.sheets(plan) == api.sheets(again)


@pytest.mark.parametrize("make", [saved, induction, lead])
def test_markup_in_names_is_text(make: Callable[[], Plan]) -> None:
    plan = make()
    project: dict[str, Any] = dict(plan.project_used)
    project["donor"] = project["donor"] | {"description": NASTY}
    project["bays"] = [project["bays"][0] | {"name": NASTY}, *project["bays"][1:]]
    placement = (plan.placement[0].model_copy(update={"bay": NASTY}), *plan.placement[1:])
    driving = DRIVING.model_copy(update={"condition": NASTY, "load_case": NASTY})
    plan = plan.model_copy(
        update={"project": NASTY, "project_used": project, "placement": placement,
                "driving": driving, "as_of": NASTY}
    )  # fmt: skip
    for name, page in api.sheets(plan).items():
        found = Reader(page)
        assert not {"script", "img"} & set(found.tags), name
        assert found.links == [], name
        assert "<script>alert(1)" in found.words, name
        assert "{{ 7 * 7 }}" in found.words, name


def test_the_card_reads_as_the_plan_drives() -> None:
    rows = Reader(api.sheets(saved())[CARD]).rows
    by_speed = {row[0]: row[1:] for row in rows if row and row[0].endswith("km/h")}
    assert by_speed == {
        "20 km/h": ["2", "16 A", "48 A", "1", "52 A", "157 A"],
        "50 km/h": ["2", "45 A", "134 A", "2", "134 A", "401 A *"],
        "80 km/h": ["3", "98 A", "294 A *", "", "too fast", ""],
    }
    hour_a = catalog_of(saved()).family("motor")[saved().core.motor].number("hour_a")  # type: ignore[union-attr]
    marked = [cell.endswith("*") for row in by_speed.values() for cell in (row[2], row[5]) if cell]
    over = [float(cell.split()[0]) > hour_a for row in by_speed.values()
            for cell in (row[2], row[5]) if cell]  # fmt: skip
    assert marked == over
    assert any(over)
    assert not all(over)
    told = " ".join(Reader(api.sheets(saved())[CARD]).words.split())
    assert f"*: above {hour_a:.0f} A, what the motor bears for an hour" in told
    volts = {row[0]: row[1:] for row in rows if row and row[0] in ("full", "half", "nearly empty")}
    for one in DRIVING.voltages:
        pull = f"{one.pull_v} V at {one.pull_a:.0f} A"
        assert volts[one.state] == [f"{one.rest_v} V", pull]


def test_the_card_of_another_drive() -> None:
    """No motor amperes where no series motor is, one gear without a column for it."""
    plan = induction()
    rows = Reader(api.sheets(plan)[CARD]).rows
    assert ["20 km/h", "2", "16 A", "1", "52 A"] in rows
    project = dict(plan.project_used)
    donor = dict(project["donor"])
    donor["driveline"] = donor["driveline"] | {"gear_ratios": [1.0]}
    one_gear = plan.model_copy(update={"project_used": project | {"donor": donor}})
    found = Reader(api.sheets(one_gear)[CARD])
    assert ["20 km/h", "16 A", "52 A"] in found.rows
    assert "gear 1" not in found.words


def test_the_card_tells_what_never_to_do() -> None:
    """Cold lithium is not charged, nor braked into; covers hide more than 60 V."""
    cold = {"charge_min_c": 2.0}
    words = read(saved(module=cold))[CARD].words.replace("\N{NO-BREAK SPACE}", " ")
    assert "Never charge with a cell below 2 °C: it may burn later." in words
    assert "up to 134.4 V, over 60 V, a touch can kill" in words
    assert "cell below 0 °C, nor brake by the motor" in read(induction())[CARD].words.replace(
        "\N{NO-BREAK SPACE}", " "
    )
    assert "Never charge" not in read(lead())[CARD].words
    low = read(saved(module={"cells_series": 3}))[CARD].words
    assert "a touch can kill" not in low


def test_the_card_tells_a_gear_s_top_speed_from_one_taken_by_mistake() -> None:
    plan = saved(motor={"max_speed_rpm": 3000.0, "burst_speed_rpm": 3600.0})
    found = commissioning(plan)
    words = " ".join(read(plan)[CARD].words.replace("\N{NO-BREAK SPACE}", " ").split())
    top = Show().speed(found.gears[0].most_kmh)
    assert (
        f"Stay below the motor's top speed of {Show().figure(3000, 'rpm')}, gear 1: {top}" in words
    )
    (told,) = wrong_gear(
        Context(found.project, catalog_of(plan)), found.drive.motor, found.drive.core.final_ratio
    )
    never = told.split(": ")[1]
    assert never.startswith("never gear 1 above ")
    assert f"A gear taken by mistake may burst the motor (3600 rpm): {never}" in words


def test_an_older_plan_leaves_the_tables_to_be_measured() -> None:
    found = Reader(api.sheets(saved(driving=None))[CARD])
    assert found.words.count(MEASURE) == 2
    assert Reader(api.sheets(saved(driving=None))[CHECK]).wanted("Speedometer") == MEASURE


def test_no_sheet_without_a_plan(make_no_plan: Callable[..., Plan]) -> None:
    assert api.sheets(make_no_plan()) == {}


def test_figures_of_the_check_sheets_are_the_plans() -> None:
    plan = saved()
    page = read(plan)[CHECK]
    figures = commissioning(plan)
    by_id = {check.id: check for check in plan.checks}
    assert page.wanted("Seconds until the bus has 95 %") == (
        f"about {by_id['precharge.time'].value:.2f} s"
    )
    assert page.wanted("Charger set to") == f"{by_id['charger.reaches-full'].value:.1f} V"
    assert page.wanted("Amperes into the pack") == f"at most {by_id['charger.current'].value:g} A"
    # 134.4 V at 100 ohm for each, rounded up to a tenth of a kilohm.
    assert page.wanted("Ohms from bus plus") == "at least 13.5 kΩ"
    assert page.wanted("Amperes from the pack there") == "below 16.1 A"
    for box in figures.found.boxes:
        assert page.wanted(f"Box {box.bay}: volts at its poles") == f"at most {box.full_v:.1f} V"
    fuse = figures.found.of("fuse")[0]
    assert page.wanted(f"{fuse.tag}, fuse of box") == ", ".join(fuse.rating)


def test_an_inverter_asks_for_more_isolation() -> None:
    page = read(induction())[CHECK]
    assert page.wanted("Ohms from bus plus") == "at least 67.2 kΩ"
    assert "500 Ω for each volt" in page.words
    assert "Regeneration" in page.words
    assert "Regeneration" not in read(saved())[CHECK].words


def test_what_is_left_to_order_is_no_danger() -> None:
    """It stands before the first stage, below what can hurt; a danger is never among it."""
    plan = saved()
    order = "To order: of the 18 lugs of the traction cable 4 with a hole for M6."
    sag = "The cable takes up to 3.5 % of the pack's volts."
    page = api.sheets(plan.model_copy(update={"cautions": (sag, order, *plan.cautions)}))[CHECK]
    text = unescape(page).replace("\N{NO-BREAK SPACE}", " ")
    assert f'<p class="note">{order}</p>' in text
    assert f'<p class="caution">{sag}</p>' in text
    assert text.index(sag) < text.index(order) < text.index("<h2>")
    notes = re.findall(r'<p class="note">(.*?)</p>', text)
    assert all(to_settle(one) for one in notes)


def test_a_series_motor_never_spins_alone() -> None:
    page = api.sheets(saved())[CHECK]
    assert RUNAWAY in stage(page, "6  First spin")
    assert "never in neutral" in page
    other = api.sheets(induction())
    assert RUNAWAY not in unescape(other[CHECK])
    assert "never runs without load" not in other[CARD]
    assert "Brushes" not in other[CHECK]


def test_a_series_motor_without_a_gearbox_stays_joined_to_its_wheel() -> None:
    plan = saved(kind="motorcycle")
    project: dict[str, Any] = dict(plan.project_used)
    donor = dict(project["donor"])
    donor["driveline"] = donor["driveline"] | {"gear_ratios": [1.0]}
    made = read(plan.model_copy(update={"project_used": project | {"donor": donor}}))
    assert "never in neutral" not in made[CHECK].words
    assert "this motor never spins alone" in made[CHECK].words
    assert "Choose the gear" not in made[CARD].words
    assert "Choose the gear" in read(saved())[CARD].words


def test_lead_gives_off_gas_and_lithium_does_not_take_cold() -> None:
    lithium, wet = api.sheets(saved())[CHECK], api.sheets(lead())[CHECK]
    assert COLD_CHARGE in stage(lithium, "7  First charge")
    assert HYDROGEN not in unescape(lithium)
    assert "Density" not in lithium
    assert HYDROGEN in stage(wet, "7  First charge")
    assert COLD_CHARGE not in unescape(wet)
    assert "Density" in wet
    assert "monitor" not in Reader(wet).words.replace("isolation monitor", "")


def test_below_60_v_no_touch_kills() -> None:
    high, low = saved(), saved(module={"cells_series": 3})
    assert "a touch can kill" in Reader(api.sheets(high)[CHECK]).words
    words = Reader(api.sheets(low)[CHECK]).words
    assert "a touch can kill" not in words
    assert "capacitors stay charged" not in words
    assert "dropped spanner" in words


def test_a_module_above_60_v_stands_alone() -> None:
    page = read(saved(module={"cells_series": 16}))[CHECK]
    assert "above 60 V by itself" in page.words
    assert page.wanted("Box bed, section 2: volts of 1 module") == "55.6 to 67.2 V"
    assert "above 60 V by itself" not in read(saved())[CHECK].words


def test_a_motorcycle_has_a_stand_and_no_handbrake() -> None:
    made = read(saved(kind="motorcycle"))
    for page in made.values():
        assert "andbrake" not in page.words
    assert "Side stand" in made[CHECK].words
    assert "Side stand" in made[CARD].words
    assert "Chain guard" in made[FOLDER].words
    assert "From the front edge" not in made[FOLDER].words
    assert LIFTING not in made[CHECK].words
    assert "Strap the motorcycle upright" in made[CHECK].words
    assert "andbrake" in read(saved())[CARD].words


def test_nobody_calls_a_motorcycle_a_car() -> None:
    """Neither the sheets nor the gates of buying, the cautions and what to find out first."""
    plan = saved(kind="motorcycle")
    told = [LIFTING, *(gate.words for gate in GATES), *TO_KNOW.values()]
    assert not [words for words in told if re.search(r"\bcars?\b", words)]
    for page in read(plan).values():
        found = set(re.findall(r".{0,20}\bcars?\b", page.words))
        # The guideline of the forces on boxes is one for cars, and says so.
        assert {words for words in found if "guideline for cars" not in words} == set()


def test_every_row_has_room_to_write() -> None:
    rows = [row for row in read(saved())[CHECK].rows if len(row) == 5 and row[0] != "What"]
    assert len(rows) > 60
    for what, wanted, reading, date, initials in rows:
        assert what
        assert wanted, what
        assert reading in ("", "☐")
        assert (date, initials) == ("", "")


def test_units_and_mark_are_the_readers() -> None:
    found = read(saved(), Show("us", True))
    assert "12,4 mph" in found[CARD].words
    assert "133,2 V" in found[CARD].words
    assert found[CHECK].wanted("Charger set to") == "134,4 V"
    assert "lb" in found[CHECK].wanted("Box bonnet: mass")
    assert not re.search(r"\d\.\d+ (V|A|s|kΩ|Ω|N m)\b", found[CHECK].words)


def test_what_the_sizing_counts_on_is_set_before_anything_turns() -> None:
    """A limit that nobody sets is no limit: current, motor volts, cells, temperatures."""
    for plan in (saved(), induction(), lead()):
        page, figures = read(plan)[CHECK], commissioning(plan)
        drive = figures.drive
        limit = page.wanted("Controller: battery current limit")
        assert limit == f"at most {drive.battery_limit_a:g} A"
        # The first spin below it, and back to it before the stage is signed.
        assert page.wanted("Controller's battery current limit for now") == (
            f"at most {min(50.0, drive.battery_limit_a / 4):g} A"
        )
        assert page.wanted("Battery current limit set back") == f"{drive.battery_limit_a:g} A"
        assert page.wanted("Controller: pack voltage below which") == (
            f"at least {Show().figure(drive.figures.least_v, 'V')}"
        )
        commutator = "Controller: motor voltage limit" in page.words
        assert commutator == figures.series_motor
        assert ("at which regeneration ends" in page.words) == figures.regenerates
        if figures.monitored and drive.lithium_or_sodium:
            stopped = "charger and regeneration" if figures.regenerates else "the charger stops"
            assert page.wanted(f"Monitors: cell at which {stopped}") == (
                f"at most {Show().figure(drive.module.number('cell_v_charge'), 'V')}"
            )


def test_regeneration_ends_where_the_cells_may_not_be_charged() -> None:
    """The simulation charges no cell outside its row's temperatures: so the sheets say it."""
    cold = {"charge_min_c": 3.0, "charge_max_c": 41.0}
    plan = saved(
        motor={"kind": "induction", "continuous_kw": 15.0, "hour_kw": 20.0},
        controller={"kind": "inverter", "regeneration": True},
        module=cold,
    )
    page = read(plan)[CHECK]
    assert page.wanted("Controller: no regeneration") == "below 3 °C, above 41 °C"
    assert page.wanted("Coldest and warmest cell: outside") == "3 °C to 41 °C"
    first_metres = stage(api.sheets(plan)[CHECK], "8  First metres")
    assert "Regeneration charges the cells too: none while a cell is below 3 °C or above" in (
        first_metres
    )
    for other in (saved(module=cold), lead()):
        assert "egeneration" not in read(other)[CHECK].words, other.project


def test_the_commutator_s_limit_is_that_of_the_simulation() -> None:
    """Two voltages and the line between; for a controller that knows one, what it costs."""
    page, found = read(fast())[CHECK], commissioning(fast()).commutator
    assert found is not None
    few = "Controller: motor voltage limit, at few amperes"
    assert page.wanted(few) == f"at most {Show().figure(found.low_v, 'V')}"
    many = f"Controller: motor voltage limit, at {found.high_a:g} A of the motor and above"
    assert page.wanted(many) == f"at most {Show().figure(found.high_v, 'V')}"
    one = "Controller: motor voltage limit, if it knows one figure only"
    assert page.wanted(one) == f"at most {Show().figure(found.one_v, 'V')}"
    assert found.beyond
    for speed in found.beyond:
        assert (
            f"{speed.speed_kmh:g} km/h in gear {speed.gear}"
            in (page.words.replace("\N{NO-BREAK SPACE}", " ").split("not reached")[1])
        )
    # A motor that bears the same at any current has one row.
    flat = read(saved(motor={"max_motor_v_high_current": found.low_v}))[CHECK]
    assert flat.words.count("Controller: motor voltage limit") == 1


def test_the_order_of_the_coils_is_tried_on_the_12_v_side() -> None:
    low = stage(api.sheets(todays_plan())[CHECK], "12 V side, pack still open")
    assert "Not all at once: K3 and K2 close first, K1 at least" in low
    own = saved(without=("precharge_resistor", "precharge_relay"))
    assert "Not all at once" not in read(own)[CHECK].words


def test_no_ohmmeter_is_put_on_live_poles() -> None:
    """A section is live with its links open; the bus is not, once its volts are gone."""
    made = api.sheets(saved())
    check, inspector = Reader(made[CHECK]), Reader(made[FOLDER])
    assert "ohms from each pole" not in check.words
    for box in commissioning(saved()).found.boxes:
        row = f"Box {box.bay}: each section alone, links open: isolation of its poles"
        assert check.wanted(row) == "at least 13.5 kΩ"
    for page in (check, inspector):
        assert "No ohmmeter is put on poles that are live" in page.words
        assert "ohms = R × V × (1/V2 − 1/V1)" in page.words
    opened = stage(made[CHECK], "0  Everything open")
    assert opened.index("Volts between bus") < opened.index("Ohms from bus plus")
    assert "pack side, plus to chassis (two readings, as above)" in inspector.words


def test_volts_are_read_where_there_are_volts() -> None:
    """With the fuses out nothing reaches the junction box: cables ring through, signs later."""
    page = api.sheets(saved())[CHECK]
    open_still, closed = stage(page, "Traction wiring"), stage(page, "2  Pack closed")
    assert "fuses out" in open_still
    assert "volts by meter" not in open_still
    assert "rings through from end to end" in open_still
    assert "Plus is plus at every box and in the junction box" in closed


@pytest.mark.parametrize("make", [saved, induction, lead])
def test_a_plan_s_cautions_warn_of_braking_into_cold_lithium_cells(
    make: Callable[[], Plan],
) -> None:
    plan = make()
    drive, found = commissioning(plan).drive, commissioning(plan)
    told = cautions(drive, plan.checks, regenerates=found.regenerates)
    assert any("Regeneration charges" in one for one in told) == (make is induction)


def test_the_pre_charge_is_tried_before_the_contactor_can_close() -> None:
    page = api.sheets(saved())[CHECK]
    tried = stage(page, "3  Pre-charge")
    order = ("unplugged at its coil", "Seconds until the bus", "find out why", "plugged in again")
    assert [tried.index(words) for words in order] == sorted(tried.index(one) for one in order)
    closed = stage(page, "2  Pack closed")
    assert closed.index("Service disconnect in") < closed.index("volts at its poles")


def test_every_tag_of_a_cable_has_the_section_that_it_is_bought_in() -> None:
    plan = saved()
    rows = [row for row in read(plan)[CHECK].rows if "printed section" in row[0]]
    told = {row[0].split(": ")[0]: row[1] for row in rows}
    assert len(told) >= 2
    for wire in commissioning(plan).found.wires:
        if wire.kind not in ("cable", "branch"):
            continue
        number = int(wire.tag[1:])
        for words, section in told.items():
            for run in words.split("cables ")[1].split(", "):
                first, _, last = run.partition("-")
                if int(first[1:]) <= number <= int((last or first)[1:]):
                    assert section == wire.section, wire.tag


def test_every_piece_of_cable_is_cut_once_with_both_its_ends() -> None:
    plan = todays_plan()
    rows = [row for row in read(plan)[CHECK].rows if " cut: " in row[0]]
    told = {}
    for words, wanted, *_ in rows:
        ends = words.replace("\N{NO-BREAK SPACE}", " ").split(" cut: ")[1]
        for tag, start, end in re.findall(
            r"(W\d+) from ([A-Z]\d+|earth).*? to ([A-Z]\d+|earth)", ends
        ):
            assert tag not in told
            told[tag] = (start, end, wanted.replace("\N{NO-BREAK SPACE}", " "))
    show = Show()
    for wire in commissioning(plan).found.wires:
        if wire.kind in ("cable", "branch", "feed") and wire.length_mm:
            start, end, wanted = told.pop(wire.tag)
            assert start in (wire.start.tag, "earth"), wire.tag
            assert end in (wire.end.tag, "earth"), wire.tag
            assert show.figure(wire.length_mm / 1000, "m") in wanted, wire.tag
    assert told == {}


def test_a_cable_s_least_bend_stands_where_it_is_laid() -> None:
    """Of the traction cable of 13 mm: four diameters, and six towards the motor."""
    plan = todays_plan()
    found = catalog_of(plan)
    cable = next(line.part for line in plan.lines if line.family == "cable")
    diameter = found.family("cable")[cable].number("outer_diameter_mm")
    still, moving = (3, 5) if diameter <= 12 else (4, 6)
    rows = {row[0]: row[1] for row in read(plan)[CHECK].rows if "tightest bend" in row[0]}
    wanted = {
        words: float(text.replace("\N{NO-BREAK SPACE}", " ").split()[2])
        for words, text in rows.items()
    }
    assert len(wanted) == 4
    for words, radius in wanted.items():
        if words.startswith("Traction"):
            times = moving if "to the motor" in words else still
            assert radius - 1 < times * diameter <= radius, words
    line = next(one for one in plan.lines if one.family == "cable")
    assert f"no tighter than {math.ceil(still * diameter)} mm" in line.why
    assert "IEC 62440" in line.why


def test_the_card_says_which_range_hangs_at_a_hill() -> None:
    plan = saved()
    assert plan.performance is not None
    target = plan.performance.ranges[0].target
    assert "falls short at a hill" not in read(plan)[CARD].words
    told = f"Do not lean on the 46.0 km of {target}: with a tenth more resistance in the circuit"
    hangs = plan.model_copy(update={"cautions": (told,)})
    words = read(hangs)[CARD].words
    assert words.count("falls short at a hill") == sum(
        one.target == target for one in plan.performance.ranges
    )


def test_a_direction_without_a_figure_is_not_told_as_no_force() -> None:
    """UN R100 asks for nothing upward; 0 kN would read as if nothing pulled there."""
    plan = saved()
    project: dict[str, Any] = dict(plan.project_used) | {"country": "un-r100-m1-n1"}
    words = read(plan.model_copy(update={"project_used": project}))[FOLDER].words
    assert "no figure up" in words
    assert not re.search(r"(?<![\d.])0 (g|kN)", words)
