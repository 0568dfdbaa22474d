"""A project from the figures that are typical of a class of vehicles.

The figures stand in ``templates/classes.csv``: common practice, in the middle of what such
vehicles have, each with the spread to be expected. Every one of them says in the project
that it is known by class alone.
"""

from __future__ import annotations

import csv
import io
import re
from importlib import resources
from typing import Final

CLASSES: Final[dict[str, str]] = {
    "small-car": "boot",
    "family-car": "boot",
    "pickup": "bed",
    "van": "under the floor",
    "motorcycle": "under the tank",
}
_BARE: Final = re.compile(r"[\d.]+", re.ASCII)
# Lists, and words that are no figures.
_LISTS: Final = ("gear_ratios", "final_ratios", "shift_speeds")
_PLAIN: Final = ("driven", "description")


def class_project(name: str) -> str:
    """The text of a commented project of the class ``name`` (KeyError if there is none)."""
    second_bay = CLASSES[name]
    folder = resources.files("bomplan.project") / "templates"
    sheet = (folder / "classes.csv").read_text(encoding="utf-8")
    values = {row["key"]: (row[name], row["spread"]) for row in csv.DictReader(io.StringIO(sheet))}
    kind = "motorcycle" if name == "motorcycle" else "car"
    text = (folder / f"class-{kind}.toml").read_text(encoding="utf-8")
    words = {"name": f"My {name.replace('-', ' ')}", "bay_2_name": second_bay}

    def put(match: re.Match[str]) -> str:
        key = match[1]
        if key in words:
            return words[key]
        figure, spread = values[key]
        return figure if key == "description" else _toml(key, figure, spread)

    return re.sub(r"@(\w+)@", put, text)


def _toml(key: str, figure: str, spread: str) -> str:
    if key in _LISTS:
        items = [item.strip() for item in figure.split(",") if item.strip()]
        return "[" + ", ".join(_value(item) for item in items) + "]"
    if key in _PLAIN:
        return _value(figure)
    tail = f', spread = "{spread}"' if spread else ""
    return f'{{ value = {_value(figure)}, known = "class"{tail} }}'


def _value(figure: str) -> str:
    return figure if _BARE.fullmatch(figure) else f'"{figure}"'
