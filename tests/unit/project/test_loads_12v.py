"""Loads of the 12 V side by name: figures of the table, of the country, or of the project."""

from __future__ import annotations

import csv
import io
from importlib import resources
from pathlib import Path

import pytest

from bomplan.errors import InputError
from bomplan.project.countries import countries
from bomplan.project.echo import echo
from bomplan.project.load import read_project
from bomplan.project.new import load_template
from bomplan.project.records import Donor, Project
from bomplan.project.twelve_volt import (
    SYSTEM_V,
    WORST,
    mean_w,
    on_w,
    peak_w,
    reserve_w,
    usual_loads,
)
from bomplan.sizing import low_voltage

PATH = Path("project.toml")
ENTRIES = """loads_12v = [
  { load = "low-beams" },
  { load = "wipers", current = "4 A" },
  { load = "heater-blower", power = "100 W" },
  { load = "rear-window", duty = "10 %" },
  { load = "ignition" },
  { load = "winch", power = "600 W", duty = "1 %", kind = "intermittent" },
]
"""


def motorcycle(entries: str, more: str = "", country: str = "") -> Donor:
    folder = resources.files("bomplan.project") / "templates"
    text = (folder / "courier-motorcycle.toml").read_text("utf-8")
    assert 'load_12v = "50 W"\n' in text
    text = text.replace('load_12v = "50 W"\n', entries + more, 1)
    if country:
        text = text.replace("format = 1", f'format = 1\ncountry = "{country}"', 1)
    return read_project(text, PATH).project.donor


def test_every_row_is_whole() -> None:
    text = (resources.files("bomplan.project") / "loads_12v.csv").read_text("utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len({(row["load"], row["country"]) for row in rows}) == len(rows) > 30
    for row in rows:
        assert row["country"] in ("", *countries())
        assert None not in row.values()
        assert 0 <= float(row["amps"]) <= float(row["peak_amps"]) <= 100
        for key in ("day", "night", "rain", "winter", "reserve"):
            assert 0 <= float(row[key]) <= 1
        assert row["kind"] in ("continuous", "intermittent", "gone", "bill")
        away = row["kind"] in ("gone", "bill")
        assert away == (float(row["amps"]) == 0)
        assert away or "common practice" in row["source"]
    assert low_voltage.SYSTEM_V == SYSTEM_V


def test_figures_are_filled_in_and_own_ones_stand() -> None:
    loads = {load.name: load for load in motorcycle(ENTRIES).loads_12v}
    assert loads["low-beams"].power_w == pytest.approx(9 * 13.8)
    assert (loads["low-beams"].day, loads["low-beams"].night) == (0, 1)
    assert loads["wipers"].power_w == pytest.approx(4 * 13.8)
    assert loads["wipers"].rain == 1
    assert loads["heater-blower"].power_w == 100
    assert loads["heater-blower"].source == "power: the project; duty: common practice"
    assert "service book" in loads["low-beams"].source
    assert {loads["rear-window"].duty_in((one,)) for one in WORST} == {0.1}
    assert loads["winch"].title == "winch"
    assert loads["winch"].source == "the project"
    assert loads["ignition"].kind == "gone"


def test_sums_by_hand() -> None:
    loads = motorcycle(ENTRIES).loads_12v
    # low beams 124.2, wipers 55.2, blower 100, a tenth of 303.6, a hundredth of 600
    assert mean_w(loads, WORST) == 316  # 124.2 + 55.2 + 100 + 30.36 + 6 = 315.76
    assert mean_w(loads, ()) == 67  # 0.3 x 100 + 30.36 + 6
    assert mean_w(loads, ("night",)) == 191
    assert on_w(loads, "continuous") == 280  # 279.4
    assert on_w(loads, "intermittent") == 904  # 903.6
    assert peak_w(loads) == 1183  # 124.2 + 55.2 + 100 + 303.6 + 600
    assert reserve_w(loads) == 180  # low beams and wipers


def test_ranges_count_what_their_conditions_have() -> None:
    """Cold means below 5 °C; the motorcycle has one condition at 2 °C, none that is wet."""
    assert motorcycle(ENTRIES).load_12v_w == mean_w(
        motorcycle(ENTRIES).loads_12v, ("night", "winter")
    )
    by_day = motorcycle(ENTRIES, "load_12v_in = []\n")
    assert by_day.load_12v_w == 67
    assert by_day.worst_12v_w == 316
    assert by_day.beyond_mean_12v_w == 316 - 67


def test_a_measured_mean_wins_and_the_table_still_sizes_the_converter() -> None:
    donor = motorcycle(ENTRIES, 'load_12v = "140 W"\n')
    assert donor.load_12v_w == 140
    assert donor.worst_12v_w == 316
    more = motorcycle(ENTRIES, 'load_12v = "400 W"\n')
    assert (more.load_12v_w, more.worst_12v_w, more.beyond_mean_12v_w) == (400, 400, 0)


def test_a_project_without_the_table_is_what_it_was() -> None:
    donor = motorcycle("", 'load_12v = "50 W"\n')
    assert (donor.load_12v_w, donor.worst_12v_w, donor.beyond_mean_12v_w) == (50, 50, 0)
    assert donor.loads_12v == ()


def test_a_country_has_rows_of_its_own() -> None:
    entries = 'loads_12v = [{ load = "tail-lamps" }]\n'
    here = motorcycle(entries).loads_12v[0]
    there = motorcycle(entries, country="united-states").loads_12v[0]
    assert here.power_w == pytest.approx(2.7 * 13.8)
    assert there.power_w == pytest.approx(4.0 * 13.8)
    assert "side marker" in there.title
    assert usual_loads("australia")["tail-lamps"] == usual_loads("general")["tail-lamps"]


def test_a_saved_project_is_the_same_project() -> None:
    project = load_template("courier-motorcycle").project
    donor = motorcycle(ENTRIES)
    changed = project.model_copy(update={"donor": donor})
    again = Project.model_validate(changed.model_dump(mode="json"))
    assert again == changed
    assert again.donor.worst_12v_w == donor.worst_12v_w


def test_what_was_understood_is_said() -> None:
    project = load_template("courier-motorcycle").project
    assert not any(line.startswith("12 V side") for line in echo(project))
    (said,) = (
        line
        for line in echo(project.model_copy(update={"donor": motorcycle(ENTRIES)}))
        if line.startswith("12 V side")
    )
    # night and winter: 124.2 + 0.3 x 55.2 + 100 + 30.36 + 6 = 277.1
    assert said.startswith("12 V side: 278 W in every range, 316 W on a wet winter's night (")
    assert "low-beams 124.2 W, wipers 55.2 W" in said
    assert "ignition gone with the engine" in said


@pytest.mark.parametrize(
    ("entries", "codes"),
    [
        ('{ load = "wiper" }', ["project.no-such-load"]),
        ('{ load = "wipers" }, { load = "wipers" }', ["project.load-twice"]),
        (
            '{ load = "wipers", power = "40 W", current = "3 A" }',
            ["project.load-two-figures"],
        ),
    ],
)
def test_what_is_wrong_is_told(entries: str, codes: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        motorcycle(f"loads_12v = [{entries}]\n")
    assert [fault.code for fault in caught.value.faults] == codes


@pytest.mark.parametrize(
    "name",
    ["empty", "class-car", "class-motorcycle", "garden-pickup", "camper-van", "courier-motorcycle"],
)
def test_the_lines_that_templates_offer_can_be_taken(name: str) -> None:
    folder = resources.files("bomplan.project") / "templates"
    lines = (folder / f"{name}.toml").read_text("utf-8").splitlines()
    first = lines.index("# loads_12v = [")
    last = lines.index("# ]", first)
    offered = "\n".join(line.removeprefix("# ") for line in lines[first : last + 1])
    donor = motorcycle(offered + "\n")
    assert len(donor.loads_12v) >= 5
    assert donor.worst_12v_w >= donor.load_12v_w > 50
