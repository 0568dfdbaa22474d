"""Changes by the program: comments, order, spacing and line ends stay, faults stop them."""

from __future__ import annotations

import difflib
from pathlib import Path

import pytest

from bomplan import api
from bomplan.errors import InputError
from bomplan.project import edit_project, load_project, typed, write_template


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return write_template("garden-pickup", tmp_path)[0]


def changed_lines(before: str, after: str) -> list[str]:
    return [
        line
        for line in difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
        if not line.startswith(("---", "+++", "@@"))
    ]


def test_only_the_line_of_the_key_changes(file: Path) -> None:
    before = file.read_text("utf-8")
    after = edit_project(before, file, {"donor.gross_limit": "1720 kg"})
    removed, added = changed_lines(before, after)
    assert removed.startswith('-gross_limit = "1680 kg"       # these three stand')
    assert added.startswith('+gross_limit = "1720 kg"       # these three stand')


def test_keys_in_lists_by_name_and_by_number(file: Path) -> None:
    before = file.read_text("utf-8")
    after = edit_project(
        before,
        file,
        {
            "bays[bed].length": "580 mm",
            "donor.removed[2].mass": "14 kg",
            "targets.range[the round in summer].distance": "71 km",
            "load_cases[laden].items[crates].mass": "250 kg",
        },
    )
    project = load_written(file, after)
    assert project.bays[1].length_mm == 580
    assert project.donor.removed[1].mass_g == 14_000
    assert project.targets.range[1].distance_m == 71_000
    assert project.load_cases[1].items[1].mass_g == 250_000
    assert len(changed_lines(before, after)) == 8


def load_written(file: Path, text: str):  # type: ignore[no-untyped-def]
    file.write_text(text, "utf-8")
    return load_project(file).project


def test_new_keys_and_tables_are_added(file: Path) -> None:
    text = edit_project(
        file.read_text("utf-8"),
        file,
        {
            "choices.excluded": ["lfp-cell-20"],
            "choices.parts.throttle": "throttle-pedal-dual",
            "show.units": "us",
            "choices.parallel_max": 2,
        },
    )
    project = load_written(file, text)
    assert project.choices.excluded == ("lfp-cell-20",)
    assert project.choices.parts == {"throttle": "throttle-pedal-dual"}
    assert project.show.units == "us"
    assert project.choices.parallel_max == 2


def test_none_takes_a_key_out(file: Path) -> None:
    project = load_written(
        file, edit_project(file.read_text("utf-8"), file, {"bays[bed].mass_limit": None})
    )
    assert project.bays[1].mass_limit_g is None


def test_an_edit_back_gives_the_same_bytes(file: Path) -> None:
    before = file.read_text("utf-8")
    width = load_project(file).project.bays[0].width_mm
    there = edit_project(before, file, {"bays[bonnet].width": "600 mm"})
    assert there != before
    assert edit_project(there, file, {"bays[bonnet].width": f"{width} mm"}) == before


def test_windows_line_ends_stay(file: Path) -> None:
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    api.change_project(file, {"donor.gross_limit": "1720 kg"})
    data = file.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") > 100
    assert load_project(file).project.donor.gross_limit_g == 1_720_000


def test_what_would_be_wrong_is_not_written(file: Path) -> None:
    before = file.read_bytes()
    with pytest.raises(InputError) as caught:
        api.change_project(
            file, {"donor.gross_limit": "-5 kg", "donor.gros": "1 kg", "bays[bed].length": "5 kg"}
        )
    assert {fault.code for fault in caught.value.faults} == {
        "quantity.negative",
        "project.unknown-key",
        "quantity.wrong-kind",
    }
    assert file.read_bytes() == before
    assert sorted(p.name for p in file.parent.iterdir()) == ["garden-round.csv", "project.toml"]


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("bays[attic].length", "nothing is called attic there"),
        ("bays[9].length", "nothing is called 9 there"),
        ("donor.gross_limit.more", "gross_limit is a value, not a table"),
        ("donor[1].mass", "has brackets after a key that is no list"),
        ("bays[bed]", "is a whole table"),
        ("", "is no key"),
        ("a..b", "is no key"),
    ],
)
def test_a_key_that_leads_nowhere(file: Path, key: str, said: str) -> None:
    with pytest.raises(InputError, match=r"project\.no-such-key") as caught:
        edit_project(file.read_text("utf-8"), file, {key: "1 kg"})
    assert said in caught.value.faults[0].message


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("donor.gross_limit", "1680 kg", "1680 kg"),
        ("donor.gross_limit", "1680", "1680"),
        ("donor.rolling_resistance", "0.011", 0.011),
        ("choices.series", "24", 24),
        ("donor.brake_booster", "false", False),
        ("choices.owned.lfp-cell-100", "4", 4),
        ("choices.excluded", "[a, 'b']", ["a", "b"]),
        ("donor.driveline.gear_ratios", "[3.5, 2]", [3.5, 2.0]),
        ("bays[bed].mass_limit", "", None),
        ("name", "12", "12"),
    ],
)
def test_what_is_typed_becomes_what_the_key_takes(key: str, text: str, value: object) -> None:
    assert typed(key, text) == value
    assert type(typed(key, text)) is type(value)


def test_a_link_stays_a_link(file: Path, tmp_path: Path) -> None:
    link = tmp_path / "linked.toml"
    link.symlink_to(file)
    api.change_project(link, {"donor.gross_limit": "1720 kg"})
    assert link.is_symlink()
    assert load_project(file).project.donor.gross_limit_g == 1_720_000
