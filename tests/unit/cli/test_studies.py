"""The commands that plan many times: what they print, refuse and end with."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from shipped_examples import plan_of

from bomplan import api
from bomplan.cli import main
from bomplan.outlook.solving import Solver


@pytest.fixture(scope="module")
def impossible(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A motorcycle that is to carry a motor which its donor cannot take: refused at once."""
    folder = tmp_path_factory.mktemp("impossible")
    assert main(["new", str(folder / "bike"), "--from", "courier-motorcycle"]) == 0
    api.change_project(
        folder / "bike" / "project.toml", {"choices.motor": "motor-series-232mm-used"}
    )
    return folder / "bike"


@pytest.mark.parametrize("command", ["binds", "alternatives", "front"])
def test_without_a_plan_there_is_nothing_to_compare(
    command: str, impossible: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, str(impossible)]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "no plan (proven)" in told.err
    assert "bomplan clash" in told.err


@pytest.mark.slow
def test_a_clash_names_the_choice_that_cannot_be(
    impossible: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["clash", str(impossible), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert [one["lever"] for one in found["members"]] == ["choices.motor"]
    assert found["members"][0]["helps"]
    # Without it the motorcycle is the example as it is shipped.
    assert found["members"][0]["price"] == plan_of("courier-motorcycle").objective.value


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["binds", "--only", "nothing"], "'nothing' is no target or limit; there are: range."),
        (["front", "--target", "nix"], "'nix' is no range target; there are: a day's deliveries"),
    ],
)
def test_an_unknown_name_is_met_with_the_known_ones_before_anything_is_searched(
    words: list[str],
    named: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def search(*_: object) -> None:
        raise AssertionError("searched")

    monkeypatch.setattr(Solver, "plan", search)
    assert main([words[0], "example:courier-motorcycle", *words[1:]]) == 2
    assert named in capsys.readouterr().err


RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"


def test_chances_of_a_plan_that_fails_its_audit_say_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The plan of an older version states what is reckoned otherwise now."""
    (tmp_path / "plan.json").write_bytes(RELEASED.read_bytes())
    arguments = ["chances", str(tmp_path), "--draws", "100", "--workers", "1", "--json"]
    assert main(arguments) == 0
    told = capsys.readouterr()
    assert "fail in the audit of this plan" in told.err
    assert json.loads(told.out)["draws"] == 100


def test_chances_of_a_plan_without_its_lines_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = json.loads(RELEASED.read_text("utf-8")) | {"lines": []}
    (tmp_path / "plan.json").write_text(json.dumps(data), "utf-8")
    assert main(["chances", str(tmp_path), "--draws", "100", "--workers", "1"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("error: ")
