"""Every check says who says so, and how far that was looked at."""

from __future__ import annotations

import ast

from bomplan.design.planfile import read_plan
from bomplan.source import KINDS, Source, computed, given, practice, published, recalled, seen
from docs.making.checks import MAKERS, ROOMS, ROOT, SOURCES, page
from tests.todays_plan import RELEASED, todays_plan

ROWS = [line.split(" | ") for line in page().splitlines() if line.startswith("| `")]


def agrees(source: Source) -> None:
    """Words that tell how well something is known must not say another thing than the kind."""
    words, kind = " ".join(source.words.split()), source.kind
    if "from memory" in words:
        assert kind == "from memory", words
    elif "common practice" in words:
        assert kind in ("from memory", "common practice"), words
    elif "seen" in words:
        assert kind == "seen", words
    else:
        assert kind in ("computed", "given"), words


def test_the_kinds_have_words_and_makers() -> None:
    made = {recalled("a"), practice("a"), seen("a"), computed("a"), given("a")}
    assert {one.kind for one in made} == set(KINDS)
    assert published("a", True).kind == "seen"
    assert published("a", False).kind == "from memory"
    assert f"{seen('a rule')}" == "a rule"


def test_no_rule_lacks_it() -> None:
    for row in ROWS:
        kind, words = row[-1].removesuffix(" |"), row[-2]
        assert kind in KINDS or kind == "as the data say", row
        assert words not in ("", "…") or kind not in KINDS, row
        if kind in KINDS and "…" not in words:
            agrees(Source(words, kind))  # type: ignore[arg-type]


def test_the_page_reads_every_call() -> None:
    """A source that the page cannot read would pass the test above by being absent."""
    assert len(ROWS) > 150
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                    name, place = node.func.id, MAKERS.get(node.func.id, (None, None, 0))[2]
                    if name in SOURCES and node.args and isinstance(node.args[0], ast.Constant):
                        kind = SOURCES[name]
                        if kind in KINDS:
                            agrees(Source(str(node.args[0].value), kind))  # type: ignore[arg-type]
                    if name in MAKERS and place and place < len(node.args):
                        assert not isinstance(node.args[place], (ast.Constant, ast.JoinedStr)), (
                            f"{path}:{node.lineno}: a source that is text alone"
                        )


def test_every_check_of_a_plan_has_it() -> None:
    plan = todays_plan()
    assert len(plan.checks) > 100
    for check in plan.checks:
        assert check.source_kind in KINDS, check.id
        agrees(Source(check.source, check.source_kind))


def test_a_plan_from_before_says_nothing_and_opens() -> None:
    plan = read_plan(RELEASED)
    assert plan.checks
    assert {check.source_kind for check in plan.checks} == {""}
