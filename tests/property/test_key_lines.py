"""Every key of any TOML file is found on its line."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from bomplan.project.lines import KeyPath, key_lines, line_of

KEYS = st.text("abc_-1", min_size=1, max_size=4)
WORDS = st.text("ab \"'#[]{},=\\\n\t.é", max_size=12)
SCALARS = st.one_of(WORDS, st.integers(-9, 9), st.booleans(), st.floats(-9, 9))
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(KEYS, inner, max_size=3),
        st.lists(st.dictionaries(KEYS, inner, max_size=3), min_size=1, max_size=3),
    ),
    max_leaves=12,
)


def paths(value: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    steps: list[tuple[str | int, Any]] = []
    if isinstance(value, dict):
        steps = list(value.items())
    elif isinstance(value, list):
        steps = list(enumerate(value))
    for step, inner in steps:
        yield (*path, step)
        yield from paths(inner, (*path, step))


@given(st.dictionaries(KEYS, VALUES, max_size=5))
def test_every_key_has_the_line_it_stands_on(tree: dict[str, Any]) -> None:
    text = tomlkit.dumps(tree)
    parsed = tomllib.loads(text)
    lines = key_lines(text)
    rows = text.split("\n")
    assert set(paths(parsed)) == set(lines)
    for path, line in lines.items():
        if isinstance(path[-1], str):
            assert path[-1] in rows[line - 1]


def test_the_kinds_of_tables_and_strings() -> None:
    text = (
        'a = 1 # = [x]\n[t]\n"q.q" = """two\nlines"""\nb.c = \'\'\'x\n\'\'\'\n'
        "[[m]]\nn = 1\n[[m.k]]\no = 1\n[[m]]\n[m.k.p]\nr = [\n 1,\n { s = 2 },\n]\n"
    )
    tomllib.loads(text.replace("[m.k.p]", "[m.k2.p]"))
    lines = key_lines(text.replace("[m.k.p]", "[m.k2.p]"))
    assert lines[("t", "q.q")] == 3
    assert lines[("t", "b", "c")] == 5
    assert lines[("m", 0, "k", 0, "o")] == 10
    assert lines[("m", 1, "k2", "p", "r", 1, "s")] == 15
    assert line_of(lines, ("m", 1, "k2", "p", "zzz")) == 12
    assert line_of(lines, ("zzz",)) is None
