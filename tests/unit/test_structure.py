"""The house keeps its shape: imports run down, modules stay small, public names are documented."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "bomplan"

# Rooms from the ground up. A room may import from any line below its own, never from its own
# line or from above. Rooms of one line do not know each other.
FLOORS: tuple[tuple[str, ...], ...] = (
    ("errors", "money", "quantities", "source"),
    ("catalog", "project"),
    ("packing", "physics"),
    ("buying", "sizing", "weighing"),
    ("design",),
    ("requirements",),
    ("audit", "measure", "planner"),
    ("outlook", "report"),
    ("opening",),
    ("api_studies",),
    ("api",),
    ("cli",),
    ("__main__",),
)
FLOOR = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
# What the ground floor may know of itself: everything there speaks in the one error form.
WITHIN_A_FLOOR = {("quantities", "errors"), ("money", "errors"), ("project", "catalog")}
# These take plain numbers, so that their formulas can be tested against books by themselves.
FREE_OF_RECORDS = ("packing", "physics", "sizing", "weighing")
MOST_LINES = 600

MODULES = sorted(PACKAGE.rglob("*.py"))
TEXTS = (".py", ".md", ".toml", ".csv", ".txt", ".json", ".cfg", ".yml", "")


def module_name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported_rooms(path: Path) -> Iterator[tuple[str, int]]:
    """Every room of bomplan that a module imports from, also inside functions, with the line."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module_name(path)}:{node.lineno}: a relative import"
            names = [node.module or ""]
            if node.module == "bomplan":
                names = [f"bomplan.{alias.name}" for alias in node.names]
        else:
            continue
        for name in names:
            first, *rest = name.split(".")
            if first == "bomplan" and rest and rest[0] in FLOOR:
                yield rest[0], node.lineno


def test_every_room_has_a_floor() -> None:
    rooms = {room_of(path) for path in MODULES} - {"__init__"}
    assert rooms <= FLOOR.keys(), f"no floor for {sorted(rooms - FLOOR.keys())}"


def test_imports_run_down() -> None:
    wrong = [
        f"{module_name(path)}:{line} imports {there}"
        for path in MODULES
        if (here := room_of(path)) != "__init__"
        for there, line in imported_rooms(path)
        if there != here and FLOOR[there] >= FLOOR[here] and (here, there) not in WITHIN_A_FLOOR
    ]
    assert wrong == []


@pytest.mark.parametrize("room", FREE_OF_RECORDS)
def test_formulas_know_no_catalogue_and_no_project(room: str) -> None:
    allowed = {"errors", "money", "quantities", "source", room}
    wrong = [
        f"{module_name(path)}:{line} imports {there}"
        for path in sorted((PACKAGE / room).rglob("*.py"))
        for there, line in imported_rooms(path)
        if there not in allowed
    ]
    assert wrong == []


def test_the_test_sees_an_import_that_runs_up(tmp_path: Path) -> None:
    module = tmp_path / "one.py"
    module.write_text(
        "def f():\n    from bomplan.planner import find_plan\n    import bomplan.cli\n"
    )
    assert list(imported_rooms(module)) == [("planner", 2), ("cli", 3)]


def test_heavy_packages_wait_until_they_are_needed() -> None:
    """Help and version answer at once: nothing of the command line imports these on loading."""
    heavy = {
        "numpy",
        "pandas",
        "ortools",
        "openpyxl",
        "xlsxwriter",
        "scipy",
        "jinja2",
        "matplotlib",
    }
    wrong = [
        f"{module_name(path)}: {name}"
        for path in MODULES
        if room_of(path) in ("cli", "api", "api_studies", "opening", "__main__", "__init__")
        for node in ast.parse(path.read_text("utf-8")).body
        if isinstance(node, (ast.Import, ast.ImportFrom))
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
        )
        if name.split(".")[0] in heavy
    ]
    assert wrong == []


def test_no_module_outgrows_a_sitting() -> None:
    folders = (PACKAGE, ROOT / "tests", ROOT / "docs")
    long = {
        module_name(path): lines
        for folder in folders
        for path in sorted(folder.rglob("*.py"))
        if (lines := len(path.read_text("utf-8").splitlines())) > MOST_LINES
    }
    assert long == {}


def test_public_names_are_documented() -> None:
    """Modules, classes and functions that others may call say what they are."""
    silent = []
    for path in MODULES:
        tree = ast.parse(path.read_text("utf-8"))
        if tree.body and not ast.get_docstring(tree):
            silent.append(module_name(path))
        for node in tree.body:
            if not isinstance(node, (ast.FunctionDef, ast.ClassDef)) or node.name.startswith("_"):
                continue
            if ast.get_docstring(node) is None and not _speaks_for_itself(node):
                silent.append(f"{module_name(path)}:{node.lineno} {node.name}")
    assert silent == []


def _speaks_for_itself(node: ast.FunctionDef | ast.ClassDef) -> bool:
    """A class of bare fields or names, and a function of one plain statement."""
    if isinstance(node, ast.ClassDef):
        return all(
            isinstance(part, (ast.AnnAssign, ast.Assign, ast.FunctionDef)) for part in node.body
        )
    return len(node.body) == 1


def shared_texts() -> Iterator[Path]:
    for name in ("bomplan", "catalogs", "docs", "tests", ".ci"):
        for path in sorted((ROOT / name).rglob("*")):
            hidden = any(part.startswith("_") and part.endswith("_") for part in path.parts)
            if path.is_file() and path.suffix in TEXTS and not hidden:
                yield path
    yield from sorted(ROOT.glob("*.md"))
    yield ROOT / "pyproject.toml"


def test_nothing_ties_the_project_to_one_machine() -> None:
    """No absolute path of somebody's machine and no address of a package index in any text."""
    folders = "|".join(("home", "root", "tmp", "work", "Users", "opt"))
    tied = re.compile(
        rf"(?<![\w.)\]}}])/(?:{folders})/\w|[A-Z]:\\\\|py" + r"pi\.org|python" + "hosted"
    )
    found = [
        f"{module_name(path)}:{number}: {line.strip()[:80]}"
        for path in shared_texts()
        for number, line in enumerate(path.read_text("utf-8", errors="replace").splitlines(), 1)
        if tied.search(line)
    ]
    assert found == []


def test_the_version_stands_in_one_place_and_its_copy() -> None:
    from bomplan import __version__

    data = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert data["project"]["version"] == __version__
    assert f"## {__version__}" in (ROOT / "CHANGELOG.md").read_text("utf-8")


def test_every_dependency_says_why_and_from_which_version() -> None:
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    listed = tomllib.loads(text)["project"]["dependencies"]
    for dependency in listed:
        line = next(line for line in text.splitlines() if f'"{dependency}"' in line)
        assert ">=" in dependency, dependency
        assert re.search(r"#\s*\w+", line), f"no reason beside {dependency}"


def test_imported_packages_are_declared() -> None:
    """Whatever bomplan imports is in the standard library or among the dependencies."""
    import sys

    data = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    declared = {
        re.split(r"[<>=!~ \[]", dependency)[0].lower().replace("-", "_")
        for dependency in data["project"]["dependencies"]
    }
    declared |= {"bomplan", "pydantic_core"}  # the second comes with pydantic, by its promise
    wrong = []
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names: list[str] = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            for name in names:
                top = name.split(".")[0]
                if top not in sys.stdlib_module_names and top.lower() not in declared:
                    wrong.append(f"{module_name(path)}: {top}")
    assert wrong == []
