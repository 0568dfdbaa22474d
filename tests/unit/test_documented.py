"""The public names of the rooms that compute: each says its units, what it refuses, its source.

A figure's unit is the end of its name (``mass_kg``, ``v_max``), or one of the words below, or it
is named in the docstring. What raises says so. A module with formulas names where they are from.
"""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import re
import sys
import textwrap
from collections.abc import Iterator
from types import ModuleType
from typing import Any

import pytest

ROOMS = ("physics", "sizing", "weighing", "audit", "api")
# Units as parts of a name.
UNIT = re.compile(
    r"(?:^|_)(m|mm|mm2|mm3|m2|m3|km|cm2|kg|g|gmm|gmm2|kgm2|s|s2|h|hours|seconds|days|volts|amps|v|a"
    r"|a2s|ah|w|wh|kwh|j|ohm|uohm|mohm|c|k|kw|pa|kpa|bar|n|nm|rad|rpm|kmh|hz|f|l|in|ppm|percent"
    r"|mpge)(?=_|$)"
)
# Figures without a unit: shares (0 to 1), quotients and numbers.
WITHOUT = re.compile(
    r"(?:^|_)(soc|grade|shares?|ratios?|factors?|efficiency|fraction|margin|exponent|peukert"
    r"|friction|grip|duty|gears?|density)(?=_|$)"
)
# A unit in a sentence, or that there is none.
IN_WORDS = re.compile(
    r"\bin (mm2?|cm²|m|m²|kg|g|A|V|W|Wh|J|N|Nm|s|ohm|Ah|rad|hours|metres|seconds|°C|A²s)\b"
    r"|mm²|m/s|°C|km/h|Wh/km|rise over run|\b(over|share|fraction|factor|exponent|seconds|hours)\b"
    r"|\bper\b|, (A|J|A²s)(?=[,.;])|\b(any|the same) unit\b"
)
SOURCES = re.compile(
    r"\b(ISO|IEC|UN|ECE|SAE|NEC|EN|DIN|ASTM|NHTSA|EPA|CFR|ETRTO|VDE|ASME|GTR)\b|from memory"
    r"|[Cc]ommon practice|computed|Kirchhoff|Ohm's law|by definition|\bpp?\. \d|\bch\. \d"
)
# They compute on what other modules of the room state: integration, choice of gears, bounds.
NO_FORMULA_OF_THEIR_OWN = {
    "physics": {
        "acceleration", "bounds", "descent", "drive", "gears", "pack_condition", "pack_pull",
        "performance", "profile", "system",
    },
    "audit": {"check_plan"},
}  # fmt: skip


def public(room: str) -> Iterator[tuple[str, Any]]:
    """Classes and functions that a room hands on, and what stands under its constants' names."""
    module = importlib.import_module(f"bomplan.{room}")
    for name in module.__all__:
        yield name, getattr(module, name)


def callables(room: str) -> Iterator[tuple[str, Any]]:
    for name, found in public(room):
        found = inspect.unwrap(found) if callable(found) else found
        if inspect.isfunction(found) or inspect.isclass(found):
            yield name, found


def own_words(name: str, found: Any) -> str:
    """Its docstring; nothing where it is the signature that dataclasses put in its place."""
    said = found.__doc__ or ""
    return "" if said.startswith(f"{name}(") else said


def figures(found: Any) -> Iterator[str]:
    """Fields or arguments that are floats, alone or in arrays and tuples."""
    if dataclasses.is_dataclass(found):
        pairs = [(field.name, str(field.type)) for field in dataclasses.fields(found)]
    elif inspect.isfunction(found):
        parameters = inspect.signature(found).parameters.values()
        pairs = [(one.name, str(one.annotation)) for one in parameters]
    else:
        pairs = []
    for name, kind in pairs:
        if re.search(r"\bfloat\b|FloatArray|NDArray", kind):
            yield name


def has_unit(name: str) -> bool:
    return bool(UNIT.search(name) or WITHOUT.search(name))


def raised(found: Any) -> set[str]:
    tree = ast.parse(textwrap.dedent(inspect.getsource(found)))
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and node.exc is not None:
            what = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            names.add(what.attr if isinstance(what, ast.Attribute) else getattr(what, "id", "?"))
    # A generator that ends, and a name that is none: what Python asks for in these methods.
    return {name for name in names if name.endswith("Error")} - {"AttributeError"}


@pytest.mark.parametrize("room", ROOMS)
def test_every_public_name_says_what_it_is(room: str) -> None:
    silent = [name for name, found in callables(room) if not own_words(name, found).strip()]
    assert silent == []


@pytest.mark.parametrize("room", ROOMS)
def test_every_figure_has_a_unit(room: str) -> None:
    silent = [
        f"{name}: {figure}"
        for name, found in callables(room)
        for figure in figures(found)
        if not has_unit(figure) and not re.search(rf"\b{figure}\b", own_words(name, found))
    ]
    assert silent == []


@pytest.mark.parametrize("room", ROOMS)
def test_every_answer_has_a_unit(room: str) -> None:
    silent = [
        name
        for name, found in callables(room)
        if inspect.isfunction(found)
        and re.search(r"\bfloat\b|FloatArray", str(inspect.signature(found).return_annotation))
        and not has_unit(name)
        and not IN_WORDS.search(own_words(name, found))
    ]
    assert silent == []


@pytest.mark.parametrize("room", ROOMS)
def test_what_is_refused_is_told(room: str) -> None:
    silent = [
        f"{name}: {error}"
        for name, found in callables(room)
        for error in sorted(raised(found))
        if error not in own_words(name, found)
    ]
    assert silent == []


@pytest.mark.parametrize("room", ["physics", "sizing", "weighing", "audit"])
def test_formulas_name_their_source(room: str) -> None:
    homes: dict[str, ModuleType] = {}
    for _, found in callables(room):
        homes[found.__module__.rsplit(".", 1)[1]] = sys.modules[found.__module__]
    without = {name for name, home in homes.items() if not SOURCES.search(inspect.getsource(home))}
    assert without <= NO_FORMULA_OF_THEIR_OWN.get(room, set())


# -- the rules themselves ------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True)
class _Silent:
    mass: float
    length_mm: float
    names: tuple[str, ...] = ()


def _wrong(weight: float, soc: float, currents: tuple[float, ...]) -> float:
    if weight < 0:
        raise ValueError("no")
    return weight * soc * sum(currents)


def test_the_rules_see_what_is_missing() -> None:
    assert own_words("_Silent", _Silent) == ""
    assert [name for name in figures(_Silent) if not has_unit(name)] == ["mass"]
    assert [name for name in figures(_wrong) if not has_unit(name)] == ["weight", "currents"]
    assert raised(_wrong) == {"ValueError"}
    assert not IN_WORDS.search("The weight of it.")
    assert IN_WORDS.search("The weight of it, in kg.")
    assert not SOURCES.search("a rule of thumb")
    assert SOURCES.search("ISO 6469-3")
