"""Whatever stands in a project or route file, it is read or refused in sentences."""

from __future__ import annotations

import tempfile
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import examples

from bomplan.errors import Fault, InputError
from bomplan.project import read_project, read_route

TEMPLATES = resources.files("bomplan.project") / "templates"
PICKUP = (TEMPLATES / "garden-pickup.toml").read_text(encoding="utf-8")
ROUND = (TEMPLATES / "garden-round.csv").read_text(encoding="utf-8")
NOWHERE = Path(str(TEMPLATES)) / "garden-pickup.toml"

SCALARS = st.one_of(
    st.text(max_size=12),
    st.integers(-(10**12), 10**12),
    st.booleans(),
    st.floats(),
    st.sampled_from(["5,5 kW", "1e309 kg", "-3 mm", "12 %", "", "udds", "constant 1e5 km/h"]),
    st.dates(),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(["value", "known", "name", "x", "mass"]), inner, max_size=3
        ),
    ),
    max_leaves=6,
)


def faults_of(text: str) -> tuple[Fault, ...]:
    """Every fault found; none if the text is a project."""
    try:
        read_project(text, NOWHERE)
    except InputError as error:
        return error.faults
    return ()


def places(tree: Any) -> list[tuple[Any, Any]]:
    """Every container of the tree with each of its keys or indices."""
    steps = list(tree.keys()) if isinstance(tree, dict) else range(len(tree))
    found = [(tree, step) for step in steps]
    for step in steps:
        if isinstance(tree[step], (dict, list)):
            found += places(tree[step])
    return found


@settings(max_examples=examples(38, 150), deadline=None)
@given(st.data())
def test_any_value_at_any_key(data: st.DataObject) -> None:
    tree = tomlkit.parse(PICKUP).unwrap()
    for _ in range(data.draw(st.integers(1, 3))):
        container, step = data.draw(st.sampled_from(places(tree)))
        container[step] = data.draw(VALUES)
    for fault in faults_of(tomlkit.dumps(tree)):
        assert fault.message
        assert fault.file


@settings(max_examples=examples(25, 100), deadline=None)
@given(st.data())
def test_any_slip_of_the_keyboard(data: st.DataObject) -> None:
    text = PICKUP
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 30))
        text = text[:at] + data.draw(st.text(max_size=6)) + text[at + cut :]
    for fault in faults_of(text):
        assert fault.message


@settings(max_examples=examples(15, 60), deadline=None)
@given(st.data())
def test_any_slip_in_a_route(data: st.DataObject) -> None:
    text = ROUND
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text)))
        text = (
            text[:at] + data.draw(st.text(max_size=6)) + text[at + data.draw(st.integers(0, 9)) :]
        )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "round.csv"
        path.write_text(text, encoding="utf-8", errors="replace", newline="")
        try:
            points = read_route(path)
        except InputError:
            return
    assert all(a.distance_m < b.distance_m for a, b in pairwise(points))
