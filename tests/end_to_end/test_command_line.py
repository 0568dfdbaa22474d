"""The real command in a process of its own: examples, refusals, interrupts."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest

from bomplan.project import write_template

EXAMPLES = ("garden-pickup", "courier-motorcycle", "camper-van")


def bomplan(
    words: Sequence[str], folder: Path, *, seed: str = "0", timeout: float = 600
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "bomplan", *words],
        cwd=folder,
        env={**os.environ, "PYTHONHASHSEED": seed},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=timeout,
        check=False,
    )


def edited_example(folder: Path, *edits: tuple[str, str]) -> Path:
    """The garden pickup with each first text replaced by the second."""
    write_template("garden-pickup", folder)
    file = folder / "project.toml"
    text = file.read_text("utf-8")
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    file.write_text(text, "utf-8")
    return folder


@pytest.mark.slow
@pytest.mark.parametrize("name", EXAMPLES)
def test_example_from_start_to_finish(name: str, tmp_path: Path) -> None:
    done = bomplan(["plan", f"example:{name}", "--out", "one"], tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "PROVEN CHEAPEST" in done.stdout
    plan = json.loads((tmp_path / "one" / "plan.json").read_text("utf-8"))
    assert plan["status"] == "optimal"
    assert plan["objective"]["value"] == plan["objective"]["bound"]
    assert plan["objective"]["value"] == sum(line["price"] for line in plan["lines"])
    assert all(check["passed"] for check in plan["checks"])

    audited = bomplan(["audit", "one"], tmp_path)
    assert audited.returncode == 0, audited.stdout
    assert "every check passes" in audited.stdout

    book = openpyxl.load_workbook(tmp_path / "one" / "bom.xlsx", data_only=True)
    assert round(book["Bill"]["I3"].value * 100) == plan["objective"]["value"]

    again = bomplan(
        ["plan", f"example:{name}", "--out", "two", "--workers", "2"], tmp_path, seed="4711"
    )
    assert again.returncode == 0, again.stderr
    names = ("plan.json", "bom.xlsx", "report.html", "drawings/car.svg", "sheets/check-sheets.html")
    for file in names:
        one, two = (tmp_path / folder / file for folder in ("one", "two"))
        assert one.read_bytes() == two.read_bytes(), file


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize("after_s", [1.2, 4.0, 9.0])
def test_interrupted_run_writes_whole_files(after_s: float, tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "bomplan", "plan", "example:camper-van", "--out", "o"],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    ) as process:
        time.sleep(after_s)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=120)
    plan = json.loads((tmp_path / "o" / "plan.json").read_text("utf-8"))
    run = json.loads((tmp_path / "o" / "run.json").read_text("utf-8"))
    assert process.returncode == run["exit_status"]
    assert "Traceback" not in err
    assert openpyxl.load_workbook(tmp_path / "o" / "bom.xlsx").sheetnames[0] == "Summary"
    if run["stopped"] and plan["status"] in ("feasible", "unknown"):
        assert process.returncode == 4
        assert "PROVEN CHEAPEST" not in out
        assert "stopping" in err


def test_no_plan_is_told_and_written(tmp_path: Path) -> None:
    project = edited_example(
        tmp_path / "p", ("[choices]", '[choices]\nmotor = "motor-induction-72v-20kw"')
    )
    done = bomplan(["plan", str(project), "--out", "o"], tmp_path)
    assert done.returncode == 1, done.stderr
    assert "NO PLAN (PROVEN)" in done.stdout
    assert "motor-induction-72v-20kw mounts on" in " ".join(done.stdout.split())
    plan = json.loads((tmp_path / "o" / "plan.json").read_text("utf-8"))
    assert plan["status"] == "none"
    assert plan["core"] is None
    assert bomplan(["audit", "o"], tmp_path).returncode == 1


def test_every_fault_at_once_and_nothing_written(tmp_path: Path) -> None:
    project = edited_example(
        tmp_path / "p",
        ("wheelbase =", "wheelbse ="),
        ('"0.90 m²"', '"0,9,0 m²"'),
        ('distance = "70 km"', 'distance = "70 kg"'),
    )
    before = sorted(project.iterdir())
    done = bomplan(["plan", str(project)], tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    for words in ("wheelbse", "wheelbase", "0,9,0 m²", "70 kg"):
        assert words in done.stderr
    assert sorted(project.iterdir()) == before


def test_unknown_catalogue_is_named(tmp_path: Path) -> None:
    done = bomplan(["plan", "example:garden-pickup", "--catalog", "generc"], tmp_path)
    assert done.returncode == 2
    assert "did you mean generic?" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_shipped_catalogue_has_nothing_to_complain_of(tmp_path: Path) -> None:
    done = bomplan(["catalog", "check", "generic", "--as-of", "2026-12-01"], tmp_path)
    assert done.returncode == 0, done.stdout
    assert done.stdout.startswith("generic: nothing to complain of")


def test_own_catalogue_beside_the_project(tmp_path: Path) -> None:
    project = edited_example(tmp_path / "p", ('["generic"]', '["generic", "mine"]'))
    (project / "mine").mkdir()
    (project / "mine" / "throttle.csv").write_text(
        "id,description,mass_kg,price,currency,price_date,source,channels,vehicle\n"
        "my-throttle,from the shelf,minus one,5,EUR,2026-01-01,measured,1,car\n",
        "utf-8",
    )
    done = bomplan(["plan", str(project)], tmp_path)
    assert done.returncode == 2
    assert "throttle" in done.stderr
    assert "minus one" in done.stderr


def test_api_in_five_lines(tmp_path: Path) -> None:
    edited_example(tmp_path / "p", ("[choices]", '[choices]\nmotor = "motor-induction-72v-20kw"'))
    code = (
        "from bomplan import api\n"
        "project = api.load_project('p')\n"
        "plan = api.plan(project)\n"
        "print(api.summary(plan))\n"
        "api.write_outputs(plan, 'o')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "NO PLAN (PROVEN)" in done.stdout
    assert (tmp_path / "o" / "bom.xlsx").is_file()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["small-car", "motorcycle"])
def test_a_class_plans_as_it_is(name: str, tmp_path: Path) -> None:
    assert bomplan(["new", "car", "--from", name], tmp_path).returncode == 0
    done = bomplan(["plan", "car", "--out", "o", "--lock"], tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "PROVEN CHEAPEST" in done.stdout
    assert "locked in car/project.toml" in done.stderr.replace("\\", "/")
    plan = json.loads((tmp_path / "o" / "plan.json").read_text("utf-8"))
    text = (tmp_path / "car" / "project.toml").read_text("utf-8")
    assert f'motor = "{plan["core"]["motor"]}"' in text
    assert "# these three stand" in text
    again = bomplan(["plan", "car", "--out", "again"], tmp_path)
    assert again.returncode == 0, again.stderr
    locked = json.loads((tmp_path / "again" / "plan.json").read_text("utf-8"))
    assert locked["core"] == plan["core"]
    assert locked["objective"]["value"] == plan["objective"]["value"]
