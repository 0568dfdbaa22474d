"""A key of a project file as people write it, and the way to it through the file's tables.

``donor.gross_limit``, ``bays[bed].length``, ``donor.removed[2].mass``: what stands in brackets
is an entry's name, or its number from 1.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

Step = str | tuple[str]

_STEP: Final = re.compile(r"(?:^|\.)(?P<key>[A-Za-z0-9_-]+)|\[(?P<item>[^\]]+)\]")


class NoPlaceError(Exception):
    """A key that leads nowhere; the words say why."""

    def __init__(self, message: str, hint: str | None = None) -> None:
        super().__init__(message)
        self.hint = hint


def steps_of(key: str) -> list[Step]:
    """Names, and in one-tuples what stands in brackets. Raises NoPlaceError."""
    steps: list[Step] = []
    at = 0
    for match in _STEP.finditer(key):
        if match.start() != at:
            break
        at = match.end()
        steps.append(match["key"] if match["key"] is not None else (match["item"],))
    if not steps or at != len(key) or not isinstance(steps[0], str):
        raise NoPlaceError("is no key", "such as donor.gross_limit or bays[bed].length")
    return steps


def enter(here: Any, step: Step, new_table: Callable[[], Any]) -> Any:
    """The table or list that one step leads to; a missing table is made. Raises NoPlaceError."""
    if isinstance(step, str):
        table_of_keys(here)
        if step not in here:
            here[step] = new_table()
        inner = here[step]
        if not isinstance(inner, (dict, list)):
            raise NoPlaceError(f"{step} is a value, not a table")
        return inner
    number = place_in(here, step[0])
    if number is None:
        names = [str(table.get("name", "")) for table in here if isinstance(table, dict)]
        known = ", ".join(name for name in names if name) or str(len(here))
        raise NoPlaceError(f"nothing is called {step[0]} there", f"there is: {known}")
    return here[number]


def table_of_keys(here: Any) -> None:
    """Raises NoPlaceError where a key would have to stand in a list of tables."""
    if not isinstance(here, dict):
        raise NoPlaceError(
            "is a key of a list, not of one entry", "name the entry: bays[bed].length"
        )


def place_in(here: Any, item: str) -> int | None:
    """Where in a list the entry of this name, or of this number from 1, stands."""
    if not isinstance(here, list):
        raise NoPlaceError("has brackets after a key that is no list")
    names = [str(table.get("name", "")) for table in here if isinstance(table, dict)]
    if item in names:
        return names.index(item)
    if item.isdecimal() and 1 <= int(item) <= len(here):
        return int(item) - 1
    return None
