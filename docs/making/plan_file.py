"""The page of the plan file, made from the records that are written into it."""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from bomplan.design.planfile import VERSION
from bomplan.design.records import Plan
from making.plan_words import MEANINGS

INTRODUCTION = f"""\
# The plan file

`plan.json`, version {VERSION}: UTF-8, keys in the order of this page, two spaces of indent. The
same input gives the same bytes: no clock, no path and no seconds stand in it (those stand in
`run.json`). It carries the part records and the project that it rests on, so that it can be
checked and opened without the catalogue of that day. A newer bomplan opens every older
version; a newer version than the program knows is refused, with what to do. The last key, `seal`,
is the SHA-256 of all the others: it tells a file that somebody edited, which may be audited all
the same, from one that bomplan got wrong.

Masses are in kilograms to the gram, positions in millimetres from the front axle, money in
whole smallest units of `currency` (cents), everything else in the unit at the end of its name,
else in SI.

`status`, one of four words that are never mixed: `optimal` (proven: nothing in the catalogue
meets the project for less), `feasible` (sound, and `objective.bound` says what is proven),
`none` (proven: there is no plan), `unknown` (stopped or out of effort before one was found).
"""


def page() -> str:
    """Markdown: the keys of the file, record by record, in the order of the file."""
    parts = [INTRODUCTION]
    queue: list[tuple[str, bool, type[BaseModel]]] = [("", False, Plan)]
    while queue:
        place, several, record = queue.pop(0)
        title = f"`{place}`" + (" (a list)" if several else "") if place else "Top of the file"
        parts.append(f"## {title}\n")
        if place and record.__doc__:
            parts.append(" ".join(record.__doc__.split()).replace("``", "`") + "\n")
        parts.append("| key | kind | meaning |\n|---|---|---|")
        for key, info in record.model_fields.items():
            parts.append(f"| `{key}` | {_kind(info)} | {MEANINGS[record.__name__, key]} |")
            inner = next(_records(info.annotation), None)
            if inner is not None:
                many = typing.get_origin(info.annotation) is tuple
                queue.append((f"{place}.{key}" if place else key, many, inner))
        parts.append("")
    return "\n".join(parts)


def _records(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in typing.get_args(annotation):
        yield from _records(part)


def _kind(info: FieldInfo) -> str:
    return _words(info.annotation)


def _words(annotation: Any) -> str:
    origin, inner = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Literal:
        return " or ".join(f"`{value}`" for value in inner)
    if origin in (typing.Union, types.UnionType):
        kept = [part for part in inner if part is not type(None)]
        return " or ".join(_words(part) for part in kept) + ", or null"
    if origin is tuple:
        return f"list of {_plural(_words(inner[0]))}"
    if origin is dict:
        return f"table of {_plural(_words(inner[1]))}"
    plain = {str: "text", int: "whole number", float: "number", bool: "true or false"}
    if annotation in plain:
        return plain[annotation]
    return "record" if isinstance(annotation, type) else "anything"


def _plural(words: str) -> str:
    return {"text": "texts", "whole number": "whole numbers", "number": "numbers"}.get(
        words, "records"
    )
