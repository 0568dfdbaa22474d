"""Whatever a released version wrote opens for ever; what a later one writes is refused in words."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from bomplan import api
from bomplan.catalog import load_catalog
from bomplan.catalog.columns import schema
from bomplan.catalog.mapping import read_mappings
from bomplan.cli import main
from bomplan.cli.settings import resolve
from bomplan.design.planfile import (
    STEPS,
    VERSION,
    catalog_of,
    plan_bytes,
    project_of,
    upgrade,
)
from bomplan.errors import InputError
from bomplan.project.migrate import FORMAT

RELEASED = Path(__file__).parents[1] / "golden" / "released"
VERSIONS = sorted(path for path in RELEASED.iterdir() if path.is_dir())


def test_every_format_has_its_sample() -> None:
    names = {path.name for path in VERSIONS}
    assert names >= {str(number) for number in range(1, FORMAT + 1)}
    assert names >= {str(number) for number in range(1, VERSION + 1)}


@pytest.mark.parametrize("folder", VERSIONS, ids=lambda path: path.name)
def test_the_project_opens(folder: Path) -> None:
    loaded = api.open_project(folder / "project")
    assert loaded.project.format == FORMAT
    assert loaded.project.routes
    assert loaded.project.donor.gross_limit_g > 1_000_000


@pytest.mark.parametrize("folder", VERSIONS, ids=lambda path: path.name)
def test_the_project_can_be_migrated_and_edited(folder: Path, tmp_path: Path) -> None:
    shutil.copytree(folder / "project", tmp_path / "p")
    file = tmp_path / "p" / "project.toml"
    api.migrate_project(file)
    api.change_project(file, {"donor.gross_limit": "1700 kg"})
    assert f"\nformat = {FORMAT}\n" in file.read_text("utf-8")


@pytest.mark.parametrize("folder", VERSIONS, ids=lambda path: path.name)
def test_the_plan_opens_and_is_shown(folder: Path) -> None:
    plan = api.read_plan(folder / "plan.json")
    assert plan.version == VERSION
    assert plan.core is not None
    assert project_of(plan).format == FORMAT
    assert catalog_of(plan).part(plan.core.motor).family == "motor"
    assert "What to build" in api.summary(plan)
    assert json.loads(plan_bytes(plan))["format"] == "bomplan-plan"


@pytest.mark.parametrize("folder", VERSIONS, ids=lambda path: path.name)
def test_the_plan_is_audited(folder: Path) -> None:
    checks = api.audit(api.read_plan(folder / "plan.json"))
    assert len(checks) > 50


@pytest.mark.parametrize("folder", VERSIONS, ids=lambda path: path.name)
def test_the_catalogue_mapping_and_settings_open(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert load_catalog([folder / "catalog"]).families
    text = (folder / "catalog" / "import.toml").read_text("utf-8")
    assert read_mappings(text, "import.toml", schema())
    monkeypatch.setenv("BOMPLAN_CONFIG_DIR", str(folder))
    assert set(resolve().homes.values()) == {"user file"}


def test_an_older_plan_is_brought_up_to_date_step_by_step() -> None:
    def rename(data: dict[str, Any]) -> None:
        data["status"] = data.pop("state")

    def drop(data: dict[str, Any]) -> None:
        del data["colour"]

    old = {"version": 1, "state": "optimal", "colour": "green"}
    assert upgrade(dict(old), {1: rename, 2: drop}, 3) == {"version": 3, "status": "optimal"}
    assert upgrade({"version": 3}, {}, 3) == {"version": 3}
    assert set(STEPS) == set(range(1, VERSION))


def test_newer_ones_are_refused_with_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    newest = VERSIONS[-1]
    shutil.copytree(newest / "project", tmp_path / "p")
    file = tmp_path / "p" / "project.toml"
    text = file.read_text("utf-8").replace(f"format = {FORMAT}", f"format = {FORMAT + 1}")
    file.write_text(text, "utf-8")
    plan = json.loads((newest / "plan.json").read_text("utf-8")) | {"version": VERSION + 1}
    (tmp_path / "plan.json").write_text(json.dumps(plan), "utf-8")
    mapping = (newest / "catalog" / "import.toml").read_text("utf-8")
    for words in (["plan", str(file)], ["audit", str(tmp_path)]):
        assert main(words) == 2
        told = capsys.readouterr().err
        assert "was written " in told
        assert "newer bomplan" in told
        assert "hint:" in told
    assert not list(tmp_path.glob("**/out-*"))
    with pytest.raises(InputError, match="install the newest bomplan"):
        read_mappings(mapping.replace("format = 1", "format = 2"), "import.toml", schema())
