"""What is public is listed, typed and documented; the rule for taking it away is written down."""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest

from bomplan import api

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "python.md"
FUNCTIONS = [name for name in api.__all__ if callable(getattr(api, name))]


def test_every_public_function_stands_in_the_list() -> None:
    written = {
        name
        for name, found in vars(api).items()
        if inspect.isfunction(found) and found.__module__ == api.__name__ and name[0] != "_"
    }
    # Used by the commands alone: it writes whatever it is handed.
    assert written - set(api.__all__) == {"write_files"}
    assert list(api.__all__) == sorted(api.__all__)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_it_is_typed_and_documented(name: str) -> None:
    found = getattr(api, name)
    assert found.__doc__
    signature = inspect.signature(found)
    assert signature.return_annotation is not inspect.Signature.empty
    for parameter in signature.parameters.values():
        assert parameter.annotation is not inspect.Parameter.empty
        assert str(parameter.annotation) != "Any"


def test_the_rule_is_written_down() -> None:
    page = " ".join(PAGE.read_text("utf-8").split())
    rule = "a name or an argument goes away only after one minor version in which using it warns"
    assert rule in page
    assert rule in " ".join((api.__doc__ or "").split())
    for name in FUNCTIONS:
        assert f"## `api.{name}`" in page
