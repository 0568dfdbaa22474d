"""``bomplan report``: a saved plan as a page, in the units that were asked for."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from shipped_examples import quick_plan

from bomplan import api
from bomplan.cli import main
from bomplan.design.planfile import plan_bytes
from bomplan.design.records import Plan
from bomplan.report.files import Written
from bomplan.report.units import Show


@pytest.fixture
def folder(make_plan: Callable[..., Plan], tmp_path: Path) -> Path:
    (tmp_path / "plan.json").write_bytes(plan_bytes(make_plan()))
    return tmp_path


def test_beside_the_plan(
    folder: Path, make_plan: Callable[..., Plan], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["report", str(folder)]) == 0
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == f"written: {folder / 'report.html'}\n"
    assert (folder / "report.html").read_text("utf-8") == api.report(make_plan())


def test_elsewhere_in_other_units(folder: Path, make_plan: Callable[..., Plan]) -> None:
    out = folder / "new" / "bericht.html"
    words = ["report", str(folder / "plan.json"), "--out", str(out), "--units", "us"]
    assert main([*words, "--decimal-comma"]) == 0
    assert out.read_text("utf-8") == api.report(make_plan(), Show("us", True))
    assert not (folder / "report.html").exists()


def test_a_report_that_somebody_wrote_in_is_kept(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["report", str(folder)]) == 0
    (folder / "report.html").write_text("my notes", "utf-8")
    assert main(["report", str(folder)]) == 0
    assert "mind: report.html had been changed" in capsys.readouterr().err
    assert (folder / "report.kept-1.html").read_text("utf-8") == "my notes"


def test_the_project_in_the_plan_says_how_unless_a_flag_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = quick_plan()
    wished = {**plan.project_used, "show": {"units": "us", "decimal_comma": True}}
    plan = plan.model_copy(update={"project_used": wished})
    (tmp_path / "plan.json").write_bytes(plan_bytes(plan))
    asked: list[Show | None] = []

    def write(_plan: Plan, path: Path, show: Show | None) -> Written:
        asked.append(show)
        return Written(path)

    monkeypatch.setattr(api, "write_report", write)
    assert main(["report", str(tmp_path)]) == 0
    assert main(["report", str(tmp_path), "--decimal-point"]) == 0
    assert asked == [Show("us", True), Show("us", False)]


def test_a_plan_that_was_edited_to_pieces(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = json.loads(plan_bytes(quick_plan()))
    data["mass"]["weights"]["states"] = []
    (tmp_path / "plan.json").write_text(json.dumps(data), "utf-8")
    assert main(["report", str(tmp_path)]) == 2
    assert "the plan does not hold together" in capsys.readouterr().err
    assert not (tmp_path / "report.html").exists()


def test_no_plan_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", str(tmp_path)]) == 2
    assert "there is no such plan" in capsys.readouterr().err
