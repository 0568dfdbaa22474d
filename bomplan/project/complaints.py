"""What pydantic found wrong with a project, in our own words."""

from __future__ import annotations

import difflib
import re
from fractions import Fraction
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from bomplan import quantities
from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project
from bomplan.project.shape import figure_of, is_list, keys_of, model_of
from bomplan.project.units import Figure
from bomplan.quantities import QuantityError

_TYPES = {
    "string_type": "text in quotes",
    "int_parsing": "a whole number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_parsing": "true or false",
    "bool_type": "true or false",
    "date_type": "a date such as 2026-05-01",
    "date_parsing": "a date such as 2026-05-01",
    "date_from_datetime_parsing": "a date such as 2026-05-01",
    "date_from_datetime_inexact": "a date without a time",
    "tuple_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}
_BOUNDS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}


def fault_from(problem: ErrorDetails, raw: dict[str, Any]) -> tuple[KeyPath, Fault]:
    """One entry of ``ValidationError.errors()`` as a key path and a fault without place.

    ``raw`` is the file's tree, for the value as it was written.
    """
    path: KeyPath = tuple(problem["loc"])
    info = _field_at(path)
    kind = problem["type"]
    context: dict[str, Any] = problem.get("ctx", {})
    value = _as_written(raw, path)
    error = context.get("error")
    if isinstance(error, QuantityError):
        return path, error.fault
    if kind == "missing":
        return path, _missing(path, info)
    if kind == "literal_error":
        return path, _not_allowed(value, str(context["expected"]))
    if kind in _BOUNDS:
        return path, _out_of_range(kind, context[_BOUNDS[kind][0]], value, info)
    if kind in _TYPES:
        fault = Fault(
            "project.wrong-type", f"is not {_TYPES[kind]}", value=value, allowed=_TYPES[kind]
        )
        return path, fault
    if kind == "too_short":
        return path, Fault("project.too-few", "has no entry", allowed="at least one")
    if kind == "too_long":
        found, most = context["actual_length"], context["max_length"]
        return path, Fault(
            "project.too-many",
            "has too many entries",
            value=str(found) if found is not None else None,
            allowed=f"at most {most}",
            hint="put some of them into a project file of their own",
        )
    if kind == "string_too_short":
        return path, Fault("project.empty-text", "is empty", allowed="some text")
    if kind == "string_too_long":
        longest = context["max_length"]
        fault = Fault(
            "project.too-long", "is too long", value=value, allowed=f"up to {longest} characters"
        )
        return path, fault
    if kind == "string_pattern_mismatch":
        allowed = "three capitals such as EUR or USD"
        return path, Fault(
            "project.not-allowed", "is no currency code", value=value, allowed=allowed
        )
    return path, Fault("project.invalid", problem["msg"][:1].lower() + problem["msg"][1:],
                       value=value)  # fmt: skip


def _missing(path: KeyPath, info: FieldInfo | None) -> Fault:
    key = str(path[-1])
    figure = figure_of(info) if info is not None else None
    hint = info.description if info is not None else None
    allowed = None
    if figure is not None and info is not None:
        example = figure.examples()
        allowed = f"a list such as [{example}]" if is_list(info) else example
    elif info is not None and (inner := model_of(info)) is not None:
        allowed = f"a table with {', '.join(keys_of(inner))}"
    return Fault("project.missing-key", f"lacks the key {key}", allowed=allowed, hint=hint)


def _not_allowed(value: str, expected: str) -> Fault:
    choices = re.findall(r"'([^']*)'", expected)
    near = difflib.get_close_matches(value, choices, n=1, cutoff=0.5)
    return Fault(
        "project.not-allowed",
        "is none of the values allowed",
        value=value,
        allowed=", ".join(choices) or expected,
        hint=f'did you mean "{near[0]}"?' if near else None,
    )


def _out_of_range(kind: str, bound: float, value: str, info: FieldInfo | None) -> Fault:
    figure = figure_of(info) if info is not None else None
    limit = f"{bound:g}"
    if isinstance(figure, Figure):
        limit = quantities.format(
            figure.si(Fraction(str(bound))), figure.kind, figure.shown or None, digits=6
        )
    words = _BOUNDS[kind][1]
    return Fault("project.out-of-range", "is out of range", value=value, allowed=f"{words} {limit}")


def _field_at(path: KeyPath) -> FieldInfo | None:
    """The field that a path of keys leads to."""
    model: type[BaseModel] | None = Project
    info: FieldInfo | None = None
    for step in path:
        if isinstance(step, int):
            continue
        if model is None:
            return info
        info = keys_of(model).get(step)
        if info is None:
            return None
        model = model_of(info)
    return info


def _as_written(raw: dict[str, Any], path: KeyPath) -> str:
    here: Any = raw
    for step in path:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return ""
    if isinstance(here, bool):
        return "true" if here else "false"
    return str(here)
