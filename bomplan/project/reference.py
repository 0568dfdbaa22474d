"""The page of the documentation that lists every key of a project file.

Made from the records themselves, so that it cannot say anything else than they do:
``python -m bomplan.project.reference`` prints it, a test compares it with the page in
``docs/reference/``.
"""

from __future__ import annotations

import datetime as dt
import typing
from fractions import Fraction

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from bomplan import quantities
from bomplan.project.profiles import SCHEDULES
from bomplan.project.records import Project
from bomplan.project.shape import figure_of, is_list, keys_of, model_of
from bomplan.project.units import Figure, MoneyFigure
from bomplan.quantities import KINDS

_INTRODUCTION = """\
# The project file

A TOML file that says what car there is, what it must do and what has been decided. This page
is made from the program's own records: `python -m bomplan.project.reference > \
docs/reference/project-file.md`.

- A figure stands in quotes with its unit: `"1180 kg"`, `"2600 lb"`, `"12 %"`, `"14 °F"`.
  Numbers without a unit (ratios, coefficients) need no quotes.
- The decimal mark is a point. A comma is read only where it can mean one thing
  (`"1.234,5 kg"`, `"1 234,5 kg"`), or when the file says `decimal_comma = true`.
- Digits may stand in groups of three, parted by a space or an apostrophe. Fractions are read:
  `"17 1/2 in"`.
- Positions (`x`) count backwards from the front axle; ahead of it they are negative.
- Any figure may say how it is known: `{ value = "0.9 m²", known = "class", spread = "10 %" }`,
  where `known` is `guess`, `class` or `measured`; `spread` and `note` may be left out.
- Masses are kept as whole grams, positions and sizes as whole millimetres, distances as whole
  metres, halves rounded away from zero.
- `[[name]]` may stand several times, once for each.
"""


def reference_markdown() -> str:
    """The whole page."""
    parts = [_INTRODUCTION]
    queue: list[tuple[str, bool, type[BaseModel]]] = [("", False, Project)]
    seen: set[str] = set()
    while queue:
        place, several, model = queue.pop(0)
        if place in seen:
            continue
        seen.add(place)
        parts.append(_section(place, several, model))
        for key, info in keys_of(model).items():
            inner = model_of(info)
            if inner is not None:
                name = f"{place}.{key}" if place else key
                queue.append((name, is_list(info), inner))
    parts.append(_profiles())
    parts.append(_units())
    return "\n".join(parts)


def _section(place: str, several: bool, model: type[BaseModel]) -> str:
    title = "Top of the file" if not place else f"`[[{place}]]`" if several else f"`[{place}]`"
    lines = [f"## {title}", ""]
    if place and model.__doc__ and model.__doc__ != BaseModel.__doc__:
        lines += [" ".join(model.__doc__.split()), ""]
    lines += ["| key | written as | if left out | meaning |", "|---|---|---|---|"]
    for key, info in keys_of(model).items():
        row = [f"`{key}`", _written(info), _default(info), info.description or ""]
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |")
    return "\n".join(lines) + "\n"


def _written(info: FieldInfo) -> str:
    figure = figure_of(info)
    if model_of(info) is not None:
        return "tables" if is_list(info) else "a table"
    if isinstance(figure, Figure):
        words = quantities.a_kind(figure.kind) + f", {figure.examples()}"
    elif isinstance(figure, MoneyFigure):
        words = f"a sum of money, {figure.examples()}"
    else:
        words = _plain(info.annotation)
    return f"a list: {words}" if is_list(info) else words


def _plain(annotation: object) -> str:
    if typing.get_origin(annotation) is typing.Literal:
        return " or ".join(f'"{v}"' if isinstance(v, str) else str(v)
                           for v in typing.get_args(annotation))  # fmt: skip
    for part in typing.get_args(annotation):
        if typing.get_origin(part) is typing.Literal:
            return _plain(part)
    if typing.get_origin(annotation) is dict:
        return "a table of names"
    kinds = {bool: "true or false", int: "a whole number", dt.date: "a date, 2026-05-01"}
    for kind, words in kinds.items():
        if annotation is kind or kind in typing.get_args(annotation):
            return words
    return "text"


def _default(info: FieldInfo) -> str:
    if info.is_required():
        return "**needed**"
    value, figure = info.default, figure_of(info)
    if value is None or value == "":
        return "none"
    if isinstance(value, BaseModel):
        return "as below"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(figure, Figure) and isinstance(value, (int, float)):
        shown = figure.si(Fraction(str(value)))
        return quantities.format(shown, figure.kind, figure.shown or None, digits=6)
    if isinstance(value, (tuple, dict)):
        return ", ".join(str(item) for item in value) or "none"
    return str(value)


def _profiles() -> str:
    names = ", ".join(f"`{name}`" for name in SCHEDULES)
    return (
        "## Profiles\n\n"
        f"A range target's `profile` is one of the driving schedules {names}; a steady speed, "
        "`constant 80 km/h` or `constant 50 mph`; or `route my-round.csv`, a file beside the "
        "project file.\n\n"
        "A route file has the columns `distance_m` (from the start, rising), `speed_limit_kmh` "
        "(from this point to the next), `elevation_m` and `stop_s` (time standing at this point, "
        "may be left out). Commas, semicolons or tabs part the columns; with semicolons or tabs "
        "a decimal comma is read. It is driven over and over until the distance is done.\n"
    )


def _units() -> str:
    lines = ["## Units", "", "| kind | units, with other spellings |", "|---|---|"]
    for kind in KINDS.values():
        units = [
            f"`{unit.symbol}`"
            + (f" ({', '.join(f'`{s}`' for s in unit.spellings)})" if unit.spellings else "")
            for unit in kind.units
            if unit.symbol
        ]
        if kind.bare:
            units.insert(0, "a bare number")
        if kind.name == "cross_section":
            units.append("`AWG` (`2/0 AWG`, `AWG 4`)")
        if kind.name == "grade":
            units.append("`1:8` (`1 in 8`)")
        lines.append(f"| {kind.name.replace('_', ' ')} | {', '.join(units)} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(reference_markdown(), end="")
