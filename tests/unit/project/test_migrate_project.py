"""Formats: older ones are brought up to date step by step, newer ones refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from bomplan import api
from bomplan.errors import InputError
from bomplan.project import write_template
from bomplan.project.migrate import FORMAT, STEPS, upgrade, upgrade_text

OLD = """\
# the car of my aunt
format = 1

[car]          # called so in the first format
weight = "900 kg"   # with the old spring
colour = "green"
"""


def rename(raw: Any) -> None:
    """A step as a later release might need it: a table and a key get other names."""
    raw["donor"] = raw.pop("car")
    raw["donor"]["mass"] = raw["donor"].pop("weight")


def drop(raw: Any) -> None:
    raw["donor"].pop("colour", None)


LATER = {1: rename, 2: drop}


def test_steps_are_taken_one_after_the_other() -> None:
    raw = {"format": 1, "car": {"weight": "900 kg", "colour": "green"}}
    assert upgrade(raw, "p.toml", steps=LATER, newest=3) == 1
    assert raw == {"format": 3, "donor": {"mass": "900 kg"}}
    raw = {"format": 2, "donor": {"mass": "900 kg", "colour": "green"}}
    assert upgrade(raw, "p.toml", steps=LATER, newest=3) == 2
    assert raw == {"format": 3, "donor": {"mass": "900 kg"}}


def test_a_file_keeps_its_comments() -> None:
    text = upgrade_text(OLD, "p.toml", steps=LATER, newest=3)
    assert text.startswith("# the car of my aunt\nformat = 3\n")
    assert "[donor]" in text
    assert 'mass = "900 kg"' in text
    assert "green" not in text
    assert upgrade_text(text, "p.toml", steps=LATER, newest=3) == text


def test_newer_formats_are_refused_with_what_to_do() -> None:
    with pytest.raises(InputError) as caught:
        upgrade({"format": 4}, "p.toml", steps=LATER, newest=3)
    (fault,) = caught.value.faults
    assert (fault.code, fault.value, fault.allowed) == ("project.format-newer", "4", "up to 3")
    assert fault.hint is not None
    assert "install the newest bomplan" in fault.hint


@pytest.mark.parametrize("found", [None, "1", True, 0, -1, 1.0])
def test_what_is_no_format_is_left_to_the_checks(found: object) -> None:
    raw = {"format": found, "car": {}}
    assert upgrade(raw, "p.toml", steps=LATER, newest=3) is None
    assert raw == {"format": found, "car": {}}


def test_every_format_has_its_step() -> None:
    assert set(STEPS) == set(range(1, FORMAT))


def test_the_newest_format_is_left_alone(tmp_path: Path) -> None:
    file = write_template("garden-pickup", tmp_path)[0]
    before = file.read_bytes()
    assert api.migrate_project(file) is False
    assert file.read_bytes() == before
