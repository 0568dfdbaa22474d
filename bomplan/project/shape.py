"""The shape of a project file against its records: keys, and figures that carry a note.

The records in ``records.py`` are the one definition of what a file may say; this module
walks a parsed file along them, takes out the tables that say how a figure is known, and
reports keys that do not exist, with the nearest that do.
"""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from bomplan import quantities
from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Known, Project
from bomplan.project.units import Figure, MoneyFigure
from bomplan.quantities import QuantityError

# Filled by the loader, so no key of a file.
LOADED = frozenset({"provenance", "routes"})
_NOTE_KEYS = frozenset({"value", "known", "spread", "note"})


@dataclass
class Walk:
    """What a walk along the file found; ``tree`` is the file with the notes taken out."""

    tree: dict[str, Any] = field(default_factory=dict)
    figures: list[tuple[KeyPath, object, Figure]] = field(default_factory=list)
    known: dict[KeyPath, Known] = field(default_factory=dict)
    faults: list[tuple[KeyPath, Fault]] = field(default_factory=list)
    meant: set[KeyPath] = field(default_factory=set)  # the keys that unknown ones stood for
    retired: list[KeyPath] = field(default_factory=list)  # of older files, read by nothing


def walk_file(raw: dict[str, Any], *, decimal_comma: bool = False) -> Walk:
    """Walk a whole project file, as ``tomllib`` parsed it."""
    walk = Walk()
    walk.tree = _walk_table(walk, Project, raw, (), decimal_comma)
    return walk


def keys_of(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The keys that a file may use in the table of ``model``, with their fields."""
    return {
        info.alias or name: info
        for name, info in model.model_fields.items()
        if not (model is Project and name in LOADED)
    }


def figure_of(info: FieldInfo) -> Figure | MoneyFigure | None:
    """The figure type of a field, looked for through optional and tuple types."""
    for item in info.metadata:
        if isinstance(item, (Figure, MoneyFigure)):
            return item
    return next(
        (m for part in _parts(info.annotation) for m in getattr(part, "__metadata__", ())
         if isinstance(m, (Figure, MoneyFigure))),
        None,
    )  # fmt: skip


def model_of(info: FieldInfo) -> type[BaseModel] | None:
    """The record that a table under this field is, or that each of its tables is."""
    for part in _parts(info.annotation):
        if isinstance(part, type) and issubclass(part, BaseModel):
            return part
    return None


def types_of(info: FieldInfo) -> tuple[object, ...]:
    """The types that the field may hold, those inside optionals and tuples among them."""
    return tuple(_parts(info.annotation))


def is_list(info: FieldInfo) -> bool:
    """Whether the field holds several values."""
    return typing.get_origin(info.annotation) is tuple


def show_path(path: KeyPath, raw: dict[str, Any]) -> str:
    """``("bays", 0, "length")`` as ``bays[frame].length``, by name where the table has one."""
    shown = ""
    here: object = raw
    for step in path:
        if isinstance(step, int):
            here = here[step] if isinstance(here, list) and step < len(here) else None
            name = here.get("name") if isinstance(here, dict) else None
            shown += f"[{name if isinstance(name, str) and name else step + 1}]"
        else:
            here = here.get(step) if isinstance(here, dict) else None
            shown += f".{step}" if shown else step
    return shown


def _parts(annotation: object) -> Iterator[object]:
    """The annotation and, depth first, the types inside optionals and tuples."""
    yield annotation
    if typing.get_origin(annotation) in (tuple, typing.Union, types.UnionType):
        for part in typing.get_args(annotation):
            yield from _parts(part)


def _walk_table(
    walk: Walk, model: type[BaseModel], raw: dict[str, Any], path: KeyPath, comma: bool
) -> dict[str, Any]:
    keys = keys_of(model)
    kept: dict[str, Any] = {}
    for key, value in raw.items():
        here = (*path, key)
        if key in getattr(model, "retired", ()):
            walk.retired.append(here)
            continue
        if key not in keys:
            fault, meant = _unknown_key(model, key, keys)
            walk.faults.append((here, fault))
            walk.meant.add((*path, meant))
            continue
        info = keys[key]
        inner = model_of(info)
        if inner is None:
            kept[key] = _walk_value(walk, info, value, here, comma)
        elif isinstance(value, list) and is_list(info):
            kept[key] = [
                _walk_table(walk, inner, item, (*here, i), comma)
                if isinstance(item, dict) else item
                for i, item in enumerate(value)
            ]  # fmt: skip
        elif isinstance(value, dict) and not is_list(info):
            kept[key] = _walk_table(walk, inner, value, here, comma)
        else:
            kept[key] = value
    return kept


def _walk_value(walk: Walk, info: FieldInfo, value: object, path: KeyPath, comma: bool) -> object:
    figure = figure_of(info)
    if (
        isinstance(value, dict)
        and "value" in value
        and typing.get_origin(info.annotation) is not dict
    ):
        _take_note(walk, figure, value, path, comma)
        value = value["value"]
    if isinstance(figure, Figure):
        several = isinstance(value, list) and is_list(info)
        items = list(enumerate(value)) if isinstance(value, list) and several else [(None, value)]
        for index, item in items:
            where = path if index is None else (*path, index)
            walk.figures.append((where, item, figure))
    return value


def _take_note(
    walk: Walk,
    figure: Figure | MoneyFigure | None,
    table: dict[str, Any],
    path: KeyPath,
    comma: bool,
) -> None:
    for key in sorted(table.keys() - _NOTE_KEYS):
        near = difflib.get_close_matches(key, _NOTE_KEYS, n=1)
        walk.faults.append(
            (
                (*path, key),
                Fault(
                    "project.unknown-key",
                    "is no key that a figure carries",
                    value=key,
                    allowed="value, known, spread, note",
                    hint=f'did you mean "{near[0]}"?' if near else None,
                ),
            )
        )
    try:
        note = {key: table[key] for key in ("known", "spread", "note") if key in table}
        walk.known[path] = Known.model_validate(note)
    except ValidationError as error:
        for problem in error.errors():
            step = str(problem["loc"][0])
            allowed = "guess, class, measured" if step == "known" else "text in quotes"
            fault = Fault(
                "project.note", "does not say how the figure is known",
                value=str(problem["input"]), allowed=allowed,
            )  # fmt: skip
            walk.faults.append(((*path, step), fault))
        return
    spread = walk.known[path].spread
    if spread is not None and isinstance(figure, Figure):
        try:
            quantities.parse(
                spread, "fraction" if "%" in spread else figure.kind, decimal_comma=comma
            )
        except QuantityError as problem:
            walk.faults.append(((*path, "spread"), problem.fault))


def _unknown_key(model: type[BaseModel], key: str, keys: dict[str, FieldInfo]) -> tuple[Fault, str]:
    near = difflib.get_close_matches(key, keys, n=1, cutoff=0.6)
    written = next((i.alias for n, i in model.model_fields.items() if n == key and i.alias), None)
    elsewhere = _homes(key)
    hint = None
    if written is not None:
        hint = f'write "{written}", with the unit beside the number'
    elif near:
        hint = f'did you mean "{near[0]}"?'
    elif key in LOADED:
        hint = 'say how a figure is known beside it: { value = "…", known = "measured" }'
    elif elsewhere:
        hint = f"it belongs in [{elsewhere[0]}]"
    fault = Fault(
        "project.unknown-key",
        "is no key of this table",
        value=key,
        allowed=", ".join(keys),
        hint=hint,
    )
    return fault, written or (near[0] if near else "")


def _homes(key: str) -> list[str]:
    """The tables of a project that do have ``key``."""
    found: list[str] = []
    queue: list[tuple[str, type[BaseModel]]] = [("", Project)]
    while queue:
        place, model = queue.pop(0)
        for name, info in keys_of(model).items():
            inside = f"{place}.{name}" if place else name
            if name == key and place:
                found.append(place)
            inner = model_of(info)
            if inner is not None:
                queue.append((inside, inner))
    return found
