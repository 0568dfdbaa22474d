"""Named changes over a project: two seats or four, town or motorway, with a trailer.

A scenario is the file's own tables with some keys set anew, read and checked like any other
project; nothing downstream knows that there was another one.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from copy import deepcopy
from typing import Any, Final

from pydantic import Field

from bomplan.errors import Fault
from bomplan.project.key_path import NoPlaceError, enter, place_in, steps_of, table_of_keys
from bomplan.project.lines import KeyPath
from bomplan.project.record import Name, Record

_LONGEST_NAME: Final = 80
# Each is read and checked as a project of its own: more would take seconds to open.
MOST_SCENARIOS: Final = 50
# What is said once for the file; what can be bought is the same in every scenario.
_OF_THE_FILE: Final = ("scenarios", "format", "catalogs", "decimal_comma", "currency")


class Scenario(Record):
    """Keys that this scenario sets anew, over the rest of the file."""

    name: Name
    note: str = ""
    changes: dict[str, Any] = Field(
        {},
        description='key = value, the key as in messages: "bays[bed].length" = "580 mm"; an'
        " entry that is not there yet is added",
    )
    remove: tuple[str, ...] = Field((), description="keys and entries that are taken out")


def scenario_tables(
    raw: dict[str, Any], number: int, scenario: Scenario
) -> tuple[dict[str, Any], list[tuple[KeyPath, Fault]]]:
    """The file's tables as the scenario changes them, and the keys that lead nowhere.

    The project's name gets the scenario's behind it, so that whatever is made of it says so.
    """
    changed = deepcopy({key: value for key, value in raw.items() if key != "scenarios"})
    faults: list[tuple[KeyPath, Fault]] = []
    here: KeyPath = ("scenarios", number)
    for key, value in _leaves(scenario.changes):
        try:
            _set(changed, key, deepcopy(value))
        except NoPlaceError as error:
            faults.append(((*here, "changes", key), _no_place(key, error)))
    for key in scenario.remove:
        try:
            _take_out(changed, key)
        except NoPlaceError as error:
            faults.append(((*here, "remove"), _no_place(key, error)))
    changed["name"] = f"{changed.get('name', '')}, {scenario.name}"[:_LONGEST_NAME]
    return changed, faults


def no_such_scenario(file: str, name: str, known: Iterable[str]) -> Fault:
    """The fault of asking for a scenario that the project does not have."""
    names = list(known)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    return Fault(
        "project.no-such-scenario",
        "the project has no such scenario",
        file,
        "scenarios",
        name,
        ", ".join(f'"{one}"' for one in names) or "none is defined",
        f'did you mean "{near[0]}"?' if near else "add it as [[scenarios]]",
    )


def _leaves(tables: dict[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """Whole keys with their values: ``donor.mass = "1 kg"`` may be written with bare dots.

    A table that says how a figure is known is a value, and so is one for a list's entry.
    """
    for key, value in tables.items():
        whole = f"{before}.{key}" if before else key
        if isinstance(value, dict) and value and "value" not in value and not key.endswith("]"):
            yield from _leaves(value, whole)
        else:
            yield whole, value


def _set(tables: dict[str, Any], key: str, value: Any) -> None:
    *way, last = steps = steps_of(key)
    if steps[0] in _OF_THE_FILE or steps == ["name"]:
        raise NoPlaceError("belongs to the file as a whole, not to a scenario")
    here: Any = tables
    for step in way:
        here = enter(here, step, dict)
    if isinstance(last, str):
        table_of_keys(here)
        here[last] = value
        return
    number = place_in(here, last[0])
    if not isinstance(value, dict):
        raise NoPlaceError("is a whole table, not a key of one", f"name a key in it: {key}.name")
    entry = {"name": last[0], **value}
    if number is None:
        here.append(entry)
    else:
        here[number] = entry


def _take_out(tables: dict[str, Any], key: str) -> None:
    *way, last = steps_of(key)
    here: Any = tables
    for step in way:
        here = enter(here, step, dict)
    if isinstance(last, str):
        table_of_keys(here)
        if last not in here:
            raise NoPlaceError("is not in the file, so it cannot be taken out")
        del here[last]
        return
    number = place_in(here, last[0])
    if number is None:
        raise NoPlaceError("is not in the file, so it cannot be taken out")
    del here[number]


def _no_place(key: str, error: NoPlaceError) -> Fault:
    return Fault("project.no-such-key", str(error), value=key, hint=error.hint)
