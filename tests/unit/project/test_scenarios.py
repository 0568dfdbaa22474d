"""Scenarios: the file's own project with some keys set anew, checked like any other."""

from __future__ import annotations

from pathlib import Path

import pytest

from bomplan import api
from bomplan.errors import InputError
from bomplan.project import LoadedProject, edit_project, load_project, write_template


def with_scenarios(folder: Path, text: str) -> Path:
    file = write_template("garden-pickup", folder)[0]
    file.write_text(file.read_text("utf-8") + "\n" + text, "utf-8")
    return file


def read(folder: Path, text: str) -> LoadedProject:
    return load_project(with_scenarios(folder, text))


def faults(folder: Path, text: str) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, text)
    return str(caught.value)


TOWN = """
[[scenarios]]
name = "town and a trailer"
remove = ["targets.top_speed"]
[scenarios.changes]
donor.drag_area = { value = "1.3 m²", known = "guess" }
"targets.range[the round in summer].profile" = "ece-15"
"load_cases[laden].items[trailer's hitch load]" = { mass = "50 kg", x = "3600 mm" }
bays = [{ name = "bed", x = "1500 mm", length = "600 mm", width = "1200 mm", height = "350 mm", \
cable_run = "2 m", ambient = "25 °C" }]
"""


def test_a_scenario_is_the_file_with_these_keys_changed(tmp_path: Path) -> None:
    loaded = read(tmp_path, TOWN)
    base, town = loaded.project, loaded.scenario("town and a trailer").project
    assert town.name == f"{base.name}, town and a trailer"
    assert town.donor.drag_area_m2 == 1.3
    assert town.provenance["donor.drag_area"].known == "guess"
    assert town.targets.top_speed == ()
    by_name = {target.name: target.profile for target in town.targets.range}
    assert by_name["the round in summer"] == "ece-15"
    assert [bay.name for bay in town.bays] == ["bed"]
    laden = next(case for case in town.load_cases if case.name == "laden")
    assert [item.name for item in laden.items][-1] == "trailer's hitch load"
    assert laden.items[-1].mass_g == 50_000
    # All the rest is the same, and the project itself is as it was.
    assert town.donor.weighing == base.donor.weighing
    assert town.scenarios == ()
    assert base.donor.drag_area_m2 != 1.3
    assert base.targets.top_speed


def test_it_is_what_the_edited_file_would_be(tmp_path: Path) -> None:
    changes = {"bays[bed].length": "650 mm", "donor.gross_limit": "1700 kg"}
    lines = "\n".join(f'"{key}" = "{value}"' for key, value in changes.items())
    file = with_scenarios(tmp_path, f'[[scenarios]]\nname = "x"\n[scenarios.changes]\n{lines}\n')
    scenario = load_project(file).scenario("x").project
    plain = write_template("garden-pickup", tmp_path / "plain")[0]
    edited = edit_project(plain.read_text("utf-8"), plain, dict(changes))
    plain.write_text(edited, "utf-8")
    # What the file says of itself is all that differs.
    project = load_project(plain).project
    assert scenario.model_copy(update={"name": project.name}) == project


def test_it_is_asked_for_by_name(tmp_path: Path) -> None:
    file = with_scenarios(tmp_path, TOWN)
    assert api.load_project(file, "town and a trailer").donor.drag_area_m2 == 1.3
    with pytest.raises(InputError, match=r'did you mean "town and a trailer"'):
        api.load_project(file, "town and trailer")


def test_faults_are_those_of_a_project_and_name_the_scenario(tmp_path: Path) -> None:
    told = faults(
        tmp_path,
        '[[scenarios]]\nname = "heavy"\n[scenarios.changes]\n'
        'donor.gross_limit = "1700"\n"targets.range[the round in summer].condition" = "sumer"\n'
        "donor.gros = 1\n",
    )
    assert "scenario heavy, donor.gross_limit" in told
    assert "[quantity.no-unit]" in told
    assert "scenario heavy, targets.range[the round in summer].condition" in told
    assert "[project.no-such-name]" in told
    assert "[project.unknown-key]" in told


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('"bays[trunk].length" = "600 mm"', "nothing is called trunk there"),
        ('"bays.length" = "600 mm"', "is a key of a list, not of one entry"),
        ('"donor.gross_limit.value" = "600 kg"', "gross_limit is a value, not a table"),
        ('"donor[x].gross_limit" = "600 kg"', "has brackets after a key that is no list"),
        ('"bays[bed]" = "600 mm"', "is a whole table, not a key of one"),
        ('currency = "USD"', "belongs to the file as a whole"),
        ('scenarios = "none"', "belongs to the file as a whole"),
        ('name = "other"', "belongs to the file as a whole"),
        ('"donor..x" = 1', "is no key"),
    ],
)
def test_a_key_that_leads_nowhere_is_told(line: str, told: str, tmp_path: Path) -> None:
    text = faults(tmp_path, f'[[scenarios]]\nname = "s"\n[scenarios.changes]\n{line}\n')
    assert told in text
    assert "[project.no-such-key]" in text


@pytest.mark.parametrize("key", ["targets.acceleration[rocket]", "donor.colour", "bays.length"])
def test_what_is_not_there_cannot_be_taken_out(key: str, tmp_path: Path) -> None:
    text = faults(tmp_path, f'[[scenarios]]\nname = "s"\nremove = ["{key}"]\n')
    assert "[project.no-such-key]" in text


def test_names_are_given_once(tmp_path: Path) -> None:
    text = faults(tmp_path, '[[scenarios]]\nname = "s"\n[[scenarios]]\nname = "s"\n')
    assert "[project.name-twice]" in text


@pytest.mark.parametrize("key", ["bays.length", "bays.x.y"])
def test_a_key_of_a_whole_list_stops_an_edit_too(key: str, tmp_path: Path) -> None:
    file = write_template("garden-pickup", tmp_path)[0]
    with pytest.raises(InputError, match="is a key of a list, not of one entry"):
        edit_project(file.read_text("utf-8"), file, {key: "600 mm"})


def test_shipped_scenarios_are_read() -> None:
    loaded = api.open_project("example:courier-motorcycle")
    assert list(loaded.scenarios) == ["with a passenger", "villages"]
