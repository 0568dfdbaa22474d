"""The built wheel, installed in an empty environment away from the source, does the main job."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.slow


def run(words: list[str | Path], folder: Path) -> str:
    """Run a command that must end well; returns what it printed."""
    # Nothing of the checkout may shine through.
    clean = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    done = subprocess.run(
        [str(word) for word in words],
        cwd=folder,
        env=clean,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=900,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("hatchling", reason="comes with the development packages")
    folder = tmp_path_factory.mktemp("dist")
    run([sys.executable, "-m", "hatchling", "build", "-d", folder], ROOT)
    return folder


def other_pythons() -> list[str]:
    """Further interpreters to install into: those of ``BOMPLAN_PYTHONS``, else of the path."""
    named = os.environ.get("BOMPLAN_PYTHONS")
    if named:
        return named.split(os.pathsep)
    found = [shutil.which(f"python3.{minor}") for minor in (11, 12, 13)]
    ours = f"python3.{sys.version_info.minor}"
    return [path for path in found if path and not path.endswith(ours) and answers(path)]


def answers(python: str) -> bool:
    return subprocess.run([python, "--version"], capture_output=True, check=False).returncode == 0


def names_of(root: Path, *patterns: str) -> set[str]:
    return {
        path.relative_to(root).as_posix()
        for pattern in patterns
        for path in root.glob(pattern)
        if "__pycache__" not in path.parts
    }


def test_wheel_carries_code_and_data_and_nothing_else(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    inside = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    package = names_of(ROOT, "bomplan/**/*.*")
    catalogs = {
        f"bomplan/_{name}" for name in names_of(ROOT, "catalogs/**/*.csv", "catalogs/**/*.md")
    }
    assert inside == package | catalogs


def test_source_archive_carries_what_the_tests_need(built: Path) -> None:
    (archive,) = built.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        inside = {name.partition("/")[2] for name in opened.getnames()}
    wanted = names_of(
        ROOT, "*.md", "LICENSE", "pyproject.toml", "tests/**/*.py", "tests/golden/**/*.txt",
        "docs/**/*.md", "docs/**/*.py", "catalogs/**/*.csv", "bomplan/**/*.csv", ".ci/run",
        ".ci/slow",
    )  # fmt: skip
    assert wanted - inside == set()


def test_installed_wheel_plans_an_example(built: Path, tmp_path: Path) -> None:
    (wheel,) = built.glob("*.whl")
    run([sys.executable, "-m", "venv", tmp_path / "empty"], tmp_path)
    scripts = tmp_path / "empty" / ("Scripts" if os.name == "nt" else "bin")
    run([scripts / "python", "-m", "pip", "install", "-q", "--no-input", wheel], tmp_path)
    away = tmp_path / "away"
    away.mkdir()

    shown = run([scripts / "bomplan", "plan", "example:garden-pickup", "--out", "plan"], away)
    assert "PROVEN CHEAPEST" in shown
    plan = json.loads((away / "plan" / "plan.json").read_text("utf-8"))
    assert plan["status"] == "optimal"
    assert plan["objective"]["value"] == plan["objective"]["bound"]
    assert (away / "plan" / "bom.xlsx").stat().st_size > 5_000

    assert "every check passes" in run([scripts / "bomplan", "audit", "plan"], away)
    assert run([scripts / "python", "-m", "bomplan", "--version"], away).startswith("bomplan ")
    where = run([scripts / "python", "-c", "import bomplan; print(bomplan.__file__)"], away)
    assert str(tmp_path) in where


@pytest.mark.parametrize("python", other_pythons())
def test_other_pythons_give_the_same_plan(python: str, built: Path, tmp_path: Path) -> None:
    """Installed from the same wheel by another Python: it plans, and to the same bytes.

    The libraries are those that this Python gets; where it gets others, the bytes may differ
    and the cost may not.
    """
    (wheel,) = built.glob("*.whl")
    plans = []
    for number, executable in enumerate((python, sys.executable)):
        home = tmp_path / f"env-{number}"
        run([executable, "-m", "venv", home], tmp_path)
        scripts = home / ("Scripts" if os.name == "nt" else "bin")
        run([scripts / "python", "-m", "pip", "install", "-q", "--no-input", wheel], tmp_path)
        out = tmp_path / f"plan-{number}"
        run([scripts / "bomplan", "plan", "example:courier-motorcycle", "--out", out], tmp_path)
        assert "every check passes" in run([scripts / "bomplan", "audit", out], tmp_path)
        versions = run([scripts / "python", "-m", "pip", "freeze"], tmp_path)
        plans.append((versions, (out / "plan.json").read_bytes()))
    (theirs, there), (ours, here) = plans
    assert json.loads(there)["objective"] == json.loads(here)["objective"]
    if theirs == ours:
        assert there == here
