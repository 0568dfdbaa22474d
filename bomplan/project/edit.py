"""Changes made to a project file by the program, which keep its comments and their order.

A key is written as in messages: ``donor.gross_limit``, ``bays[bed].length``,
``choices.parts.throttle``, ``donor.removed[2].mass``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from bomplan.errors import Fault, InputError
from bomplan.project.key_path import NoPlaceError, enter, steps_of, table_of_keys
from bomplan.project.load import read_project
from bomplan.project.migrate import editable
from bomplan.project.records import Project
from bomplan.project.shape import figure_of, keys_of, model_of, types_of
from bomplan.quantities import LONGEST_TEXT

Value = str | int | float | bool | list[str] | list[float] | None

_WORDS: Final = {"true": True, "false": False}


def edit_project(text: str, path: Path, changes: Mapping[str, Value]) -> str:
    """The project ``text`` with each key of ``changes`` set to its value; None takes it out.

    Comments, order, spacing and line ends stay. The result is read and checked as a whole
    before it is handed back: raises InputError with every fault, of the keys or of what the
    project would say then. ``path`` names the file and locates its routes.
    """
    edited = edit_text(text, path.name, changes)
    read_project(edited, path)
    return edited


def edit_text(text: str, file: str, changes: Mapping[str, Value]) -> str:
    """As :func:`edit_project`, without checking what the project says then."""
    import tomlkit

    windows = "\r\n" in text
    document = editable(text, file)
    faults = []
    for key, value in changes.items():
        try:
            _set(document, key, value)
        except NoPlaceError as error:
            faults.append(Fault("project.no-such-key", str(error), file, key, hint=error.hint))
    if faults:
        raise InputError(faults)
    edited = tomlkit.dumps(document)
    return edited.replace("\n", "\r\n") if windows else edited


def typed(key: str, text: str) -> Value:
    """What a person typed after ``KEY=`` as the value that the key takes.

    Figures and text stay text; yes-or-no keys, whole numbers and lists are read as such.
    Nothing typed means that the key is taken out.
    """
    stripped = text.strip()
    if not stripped:
        return None
    if stripped.startswith("[") and stripped.endswith("]"):
        items = [item.strip().strip("\"'") for item in stripped[1:-1].split(",") if item.strip()]
        numbers = [float(item) for item in items if _is_number(item)]
        return numbers if items and len(numbers) == len(items) else items
    if stripped in _WORDS:
        return _WORDS[stripped]
    if _is_number(stripped) and _takes_bare_number(key):
        return _number(stripped)
    return stripped


def _set(document: Any, key: str, value: Value) -> None:
    import tomlkit

    steps = steps_of(key)
    here = document
    for step in steps[:-1]:
        here = enter(here, step, tomlkit.table)
    last = steps[-1]
    if not isinstance(last, str):
        raise NoPlaceError("is a whole table, not a key of one", f"name a key in it: {key}.name")
    table_of_keys(here)
    if value is None:
        if last in here:
            del here[last]
        return
    here[last] = value


def _is_number(text: str) -> bool:
    """Longer ones are no figure of a car; as text they are refused in words."""
    short = len(text) <= LONGEST_TEXT
    return short and re.fullmatch(r"[+-]?\d+(\.\d+)?", text, re.ASCII) is not None


def _number(text: str) -> int | float:
    return int(text) if re.fullmatch(r"[+-]?\d+", text, re.ASCII) else float(text)


def _takes_bare_number(key: str) -> bool:
    """Whether the key's figure has no unit, or is a plain whole number."""
    model: Any = Project
    info = None
    try:
        steps = steps_of(key)
    except NoPlaceError:
        return False
    for step in steps:
        if not isinstance(step, str):
            continue
        info = keys_of(model).get(step) if model is not None else None
        if info is None:
            # A key below a free table, such as choices.owned, holds numbers as they are.
            return True
        model = model_of(info)
    if info is None:
        return False
    figure = figure_of(info)
    if figure is None:
        return int in types_of(info) or float in types_of(info)
    return getattr(figure, "kind", "") in ("number", "fraction", "grade")
