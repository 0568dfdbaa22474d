"""Flag > project > user file > default, and the page that says so."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bomplan import api
from bomplan.cli import main
from bomplan.cli.settings import SETTINGS, resolve, settings_page, settings_path
from bomplan.design.records import Plan
from bomplan.errors import InputError
from bomplan.project import load_project, write_template

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "settings.md"


def write_user_file(text: str) -> None:
    settings_path().write_text(text, "utf-8")


@pytest.mark.parametrize(
    ("flag", "project", "user"),
    list(itertools.product(["us", None], ["us", None], ["us", None])),
)
def test_the_first_that_says_something_counts(
    tmp_path: Path, flag: str | None, project: str | None, user: str | None
) -> None:
    file = write_template("garden-pickup", tmp_path)[0]
    if user:
        write_user_file(f'units = "{user}"\n')
    if project:
        file.write_text(file.read_text("utf-8") + f'\n[show]\nunits = "{project}"\n', "utf-8")
    # the places above say something else than those below
    if flag and project:
        file.write_text(file.read_text("utf-8").replace('"us"', '"metric"'), "utf-8")
    found = resolve({"units": flag}, load_project(file).project)
    wanted = flag or project or user or "metric"
    home = "flag" if flag else "project" if project else "user file" if user else "default"
    assert (found.values["units"], found.homes["units"]) == (wanted, home)
    assert found.homes["workers"] == "default"


def test_each_setting_is_read_from_the_user_file() -> None:
    write_user_file('units = "us"\ndecimal_comma = true\nworkers = 3\ncolour = "never"\n')
    found = resolve()
    assert found.values == {
        "units": "us", "decimal_comma": True, "workers": 3, "colour": "never",
    }  # fmt: skip
    assert set(found.homes.values()) == {"user file"}
    assert found.show().number("1.5 km") == "1,5 km"


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda one: one.key)
def test_a_wrong_value_is_told_with_what_is_allowed(setting: Any) -> None:
    write_user_file(f"{setting.key} = 4711.5\n")
    with pytest.raises(InputError) as caught:
        resolve()
    (fault,) = caught.value.faults
    assert fault.code == "settings.value"
    assert fault.allowed == setting.allowed()


def test_every_fault_of_the_user_file_at_once() -> None:
    write_user_file('unit = "us"\nworkers = 0\ncolor = "auto"\n')
    with pytest.raises(InputError) as caught:
        resolve()
    assert [(f.where, f.hint) for f in caught.value.faults] == [
        ("unit", "did you mean units?"),
        ("workers", None),
        ("color", "did you mean colour?"),
    ]


def test_the_page_is_what_the_table_says() -> None:
    assert PAGE.read_text("utf-8") == settings_page()


def test_settings_are_shown_with_their_homes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_template("garden-pickup", tmp_path)[0]
    file.write_text(file.read_text("utf-8") + "\n[show]\ndecimal_comma = true\n", "utf-8")
    write_user_file("workers = 2\n")
    assert main(["settings", str(file)]) == 0
    out = capsys.readouterr().out
    assert "units = metric  (default; " in out
    assert "decimal_comma = true  (project; " in out
    assert "workers = 2  (user file; " in out
    assert f"user file: {settings_path()}\n" in out


def test_plan_obeys_them(
    tmp_path: Path,
    make_plan: Callable[..., Plan],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked: list[int] = []

    def plan(*_: Any, workers: int, **__: Any) -> Plan:
        asked.append(workers)
        return make_plan()

    monkeypatch.setattr(api, "plan", plan)
    write_user_file('units = "us"\ndecimal_comma = true\nworkers = 2\n')
    words = ["plan", "example:garden-pickup", "--out", str(tmp_path / "o")]
    assert main(words) == 0
    first = capsys.readouterr().out
    assert main([*words, "--units", "metric", "--decimal-point", "--workers", "1"]) == 0
    second = capsys.readouterr().out
    assert asked == [2, 1]
    assert " mi" in first
    assert "Wh/mi" in first
    assert "Wh/km" in second
    assert ",0 " in first
    assert "Wh/mi" not in second


def test_colour_never(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    from bomplan.cli.show import show
    from bomplan.report.lines import Row

    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    show([Row("bad news", "bad")])
    show([Row("bad news", "bad")], colour="never")
    assert capsys.readouterr().out == "\x1b[1;31mbad news\x1b[0m\nbad news\n"
