"""The documentation says what the program does: pages are fresh, commands run, links lead on."""

from __future__ import annotations

import difflib
import json
import re
import sys
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from shipped_examples import NAMES, plan_of, quick_plan

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "docs"))

import regenerate  # noqa: E402
from bomplan import api  # noqa: E402
from bomplan.design import records  # noqa: E402
from making import checks, result, worked  # noqa: E402
from making.plan_words import MEANINGS  # noqa: E402

PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
TUTORIAL = ROOT / "docs" / "tutorial" / "first-conversion.md"
WORKED = regenerate.worked_pages()
AGAIN = "python docs/regenerate.py --results"


def name(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def changes(stands: str, should: str) -> list[str]:
    """Lines that would go (-) and come (+)."""
    compared = difflib.unified_diff(stands.splitlines(), should.splitlines(), n=0, lineterm="")
    return [line for line in compared if not line.startswith(("---", "+++", "@@"))]


@pytest.mark.parametrize("page", sorted(regenerate.REFERENCE))
def test_reference_page_is_fresh(page: str) -> None:
    stands = (ROOT / page).read_text("utf-8")
    assert changes(stands, regenerate.REFERENCE[page]()) == [], "python docs/regenerate.py"


# Records of what many plans tell together stand in no plan file.
OF_STUDIES = tuple(f"bomplan.design.{name}" for name in ("studies", "comparison", "chances"))


def test_every_key_of_the_plan_has_words_and_no_words_are_left_over() -> None:
    known = {
        (made.__name__, key)
        for made in (records.Plan, *records.Record.__subclasses__())
        if made.__module__.startswith("bomplan.design.") and made.__module__ not in OF_STUDIES
        for key in made.model_fields
    }
    assert set(MEANINGS) == known


def long_ones_marked() -> Iterator[Any]:
    """The how-to pages with commands, those that take long for the slow lane."""
    for page in WORKED:
        if page != TUTORIAL:
            long = worked.TAKES_LONG in page.read_text("utf-8")
            yield pytest.param(page, marks=[pytest.mark.slow] if long else [], id=name(page))


@pytest.mark.parametrize("page", list(long_ones_marked()))
def test_commands_of_a_page_do_what_it_says(page: Path, tmp_path: Path) -> None:
    text = page.read_text("utf-8")
    assert changes(text, worked.worked(text, tmp_path)) == [], AGAIN


def test_commands_that_are_not_run_name_a_car_of_the_readers_own() -> None:
    for page in [TUTORIAL, *TUTORIAL.parents[1].glob("how-to/*.md")]:
        text = page.read_text("utf-8")
        run = "".join(block.text() for block in worked.blocks(text))
        left = [line for line in re.findall(r"^\$ (.*)$", text, re.M) if f"$ {line}\n" not in run]
        assert [line for line in left if not re.search(r" (out-)?my-| hatchback ", line)] == []


# In the fast suite the tutorial is followed up to here: what comes after takes a whole search.
SEARCH = '<!-- run: show="Piano tuner"'


def test_tutorial_up_to_its_search(tmp_path: Path) -> None:
    text = TUTORIAL.read_text("utf-8")
    begun = text[: text.index(SEARCH)]
    assert begun.count("<!-- run") >= 1
    assert begun.count("<!-- file: runabout/project.toml") > 3
    assert changes(begun, worked.worked(begun, tmp_path)) == [], AGAIN
    # With all that it has written down by then, it asks for a plan of a project without a fault.
    assert api.open_project(tmp_path / "runabout").project.name == "Piano tuner's runabout"


@pytest.mark.slow
def test_tutorial_from_bare_donor_to_bill(tmp_path: Path) -> None:
    text = TUTORIAL.read_text("utf-8")
    assert changes(text, worked.worked(text, tmp_path)) == [], AGAIN
    plan = json.loads((tmp_path / "runabout" / "plan" / "plan.json").read_text("utf-8"))
    assert plan["status"] == "optimal"
    assert unlisted(plan["checks"]) == []


def unlisted(made: list[dict[str, Any]]) -> list[str]:
    """Checks that the list of checks does not name."""
    patterns = [pattern.replace("…", "*") for pattern in checks.patterns()]
    return [
        check["id"]
        for check in made
        if not any(fnmatchcase(check["id"], pattern) for pattern in patterns)
    ]


@pytest.mark.parametrize("example", NAMES)
def test_the_list_of_checks_names_every_check_of_a_real_plan(example: str) -> None:
    made = [check.model_dump() for check in plan_of(example).checks]
    assert len(made) > 80
    assert unlisted(made) == []
    assert unlisted([{"id": "no.such-check"}]) == ["no.such-check"]


def test_the_page_on_the_workbook_names_every_sheet_in_order(tmp_path: Path) -> None:
    api.write_outputs(quick_plan(), tmp_path)
    sheets = openpyxl.load_workbook(tmp_path / "bom.xlsx").sheetnames
    page = (ROOT / "docs" / "how-to" / "reading-the-workbook.md").read_text("utf-8")
    assert re.findall(r"^\| \*\*(.+?)\*\*", page, re.MULTILINE) == sheets


@pytest.mark.slow
def test_result_on_the_front_page_is_that_of_a_run() -> None:
    front = (ROOT / "README.md").read_text("utf-8")
    assert changes(front, result.refreshed(front)) == [], AGAIN


def test_a_wrong_exit_status_is_noticed(tmp_path: Path) -> None:
    page = "<!-- run: exit=1 -->\n```console\n$ bomplan --version\n```\n"
    with pytest.raises(AssertionError, match="exit status 0, not 1"):
        worked.worked(page, tmp_path)


def test_output_is_put_in_anew(tmp_path: Path) -> None:
    page = "a\n<!-- run: show=1 -->\n```console\n$ bomplan --help\nold\n```\nb\n"
    made = worked.worked(page, tmp_path)
    assert "old" not in made
    assert made.startswith("a\n<!-- run: show=1 -->\n```console\n$ bomplan --help\nUsage: bomplan")
    assert made.endswith("\n…\n```\nb\n")


def links(page: Path) -> Iterator[str]:
    text = re.sub(r"```.*?```", "", page.read_text("utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if "://" not in target:
            yield target


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in links(page):
        path, _, heading = target.partition("#")
        there = (page.parent / path).resolve() if path else page
        assert there.exists(), target
        if heading:
            titles = re.findall(r"^#+ (.+)$", there.read_text("utf-8"), re.MULTILINE)
            slugs = {re.sub(r"[^\w\- ]", "", one.lower()).replace(" ", "-") for one in titles}
            assert heading in slugs, target


def test_every_page_can_be_reached_from_the_front_page() -> None:
    seen, queue = set(), [ROOT / "README.md"]
    while queue:
        page = queue.pop()
        if page in seen or page.suffix != ".md":
            continue
        seen.add(page)
        queue += [(page.parent / target.partition("#")[0]).resolve() for target in links(page)]
    assert sorted(name(page) for page in set(PAGES) - seen) == []


def test_code_in_pages_can_be_read() -> None:
    """Python and TOML blocks parse; what the five lines import is there."""
    for page in PAGES:
        for language, body in re.findall(
            r"```(python|toml)\n(.*?)```", page.read_text("utf-8"), re.DOTALL
        ):
            if language == "toml":
                tomllib.loads(body)
            elif page.name != "python.md" or body.startswith("from"):
                compile(body, name(page), "exec")


def test_the_five_lines_stand_alike_wherever_they_are_shown() -> None:
    five = [
        match
        for page in ("README.md", "docs/reference/python.md")
        for match in re.findall(
            r"```python\n(from bomplan import api.*?)```",
            (ROOT / page).read_text("utf-8"),
            re.DOTALL,
        )
    ]
    assert len(five) == 2
    assert five[0] == five[1]
    assert len([line for line in five[0].splitlines() if line]) == 5


def test_commands_on_the_front_page_name_what_there_is() -> None:
    front = (ROOT / "README.md").read_text("utf-8")
    data = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    for extra in re.findall(r"'\.\[(\w+)\]'", front):
        assert extra in data["project"]["optional-dependencies"]
    assert "bomplan" in data["project"]["scripts"]
