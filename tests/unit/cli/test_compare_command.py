"""``bomplan compare``: what it refuses, and on the motorcycle what it prints."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from shipped_examples import generic, plan_of, project_of

from bomplan import api
from bomplan.cli import main
from bomplan.planner import find_plan

BIKE = "example:courier-motorcycle"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([BIKE, BIKE, "--by", "motor"], "several are compared as they stand"),
        ([BIKE, BIKE, "--scenarios"], "several are compared as they stand"),
        ([BIKE, "--by", "motor", "--scenarios"], "two ways to make rows"),
        ([BIKE, "--csv", "--json"], "two forms of one output"),
        ([BIKE, "--chart", "table.png"], "ends in .svg"),
        ([BIKE, "--by", "colour"], "'colour' is not one of"),
    ],
)
def test_what_cannot_go_together_is_said_at_once(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", *words]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert told in " ".join(said.err.split())


@pytest.mark.slow
def test_chemistries_of_the_motorcycle_are_its_single_plans(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    picture = tmp_path / "new" / "table.svg"
    assert main(["compare", BIKE, "--csv", "--workers", "2", "--chart", str(picture)]) == 0
    text = capsys.readouterr().out
    rows = {row["label"]: row for row in csv.DictReader(io.StringIO(text))}
    modules = generic().family("module")
    assert set(rows) == {part.text("chemistry") for part in modules.values()}
    assert picture.read_text("utf-8").startswith("<?xml")
    project = project_of("courier-motorcycle")
    for chemistry, row in rows.items():
        others = tuple(n for n, part in modules.items() if part.text("chemistry") != chemistry)
        choices = project.choices.model_copy(update={"excluded": others})
        alone = find_plan(project.model_copy(update={"choices": choices}), generic())
        if alone.core is None:
            assert row["outcome"] == alone.status == "none"
            assert row["reasons"]
            continue
        assert int(row["purchase"].replace(".", "")) == alone.objective.value
        assert (row["motor"], row["module"]) == (alone.core.motor, alone.core.module)
        assert alone.mass is not None
        assert float(row["laden_kg"]) == alone.mass.laden_kg
        assert alone.driving is not None
        new = alone.driving.ranges[0]
        assert float(row["range_new_km"]) == new.range_km
        # 14 000 km a year for 8 years at 0.30 a kilowatt-hour, to the cent.
        energy = 112_000 * new.wall_wh_per_km / 1000 * 0.30
        assert float(row["energy_cost"]) == pytest.approx(energy, abs=0.006)
        total = sum(float(row[key]) for key in ("purchase", "energy_cost", "new_packs_cost"))
        assert float(row["lifetime_cost"]) == pytest.approx(total, abs=0.006)
        assert float(row["cost_per_100_km"]) == pytest.approx(total / 1120, abs=0.006)
    assert sum(row["outcome"] == "plan" for row in rows.values()) >= 1
    # The same bytes with one worker.
    assert main(["compare", BIKE, "--csv", "--workers", "1"]) == 0
    assert capsys.readouterr().out == text


@pytest.mark.slow
def test_a_scenario_of_the_motorcycle_is_planned_alone_and_beside_the_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", BIKE, "--scenarios", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    rows = {row["label"]: row for row in found["rows"]}
    assert list(rows) == ["as it stands", "with a passenger", "villages"]
    assert rows["as it stands"]["plan"]["price"] == plan_of("courier-motorcycle").objective.value
    out = tmp_path / "out"
    words = ["plan", BIKE, "--scenario", "with a passenger", "--out", str(out), "--quiet"]
    assert main(words) == 0
    alone = api.read_plan(out / "plan.json")
    assert alone.project == "Courier motorcycle, with a passenger"
    assert alone.objective.value == rows["with a passenger"]["plan"]["price"]
    assert all(check.passed for check in api.audit(alone))
    assert alone.mass is not None
    people = [case.laden_kg for case in alone.mass.load_cases]
    assert max(people) == rows["with a passenger"]["plan"]["laden_kg"]
