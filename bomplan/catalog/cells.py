"""The text of one cell as the value that its column promises, or what is wrong with it."""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from dataclasses import dataclass
from typing import Final

from bomplan.catalog.columns import Column
from bomplan.catalog.records import Figure

LONGEST_TEXT: Final = 500
ID_PATTERN: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}", re.ASCII)

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_LEADING_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?\s*[^\d.,\s]", re.ASCII)
_GROUPED = re.compile(r"[1-9]\d{0,2}(?:\.\d{3})+", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_FLAGS: Final = {"yes": True, "true": True, "no": False, "false": False}


@dataclass(frozen=True)
class Problem:
    """Why a cell cannot be used: the tail of the fault's code, one sentence, a hint."""

    code: str
    message: str
    hint: str | None = None


@dataclass(frozen=True)
class Cell:
    """A value and the text it came from, with a decimal point where it is a number."""

    value: Figure
    text: str


def read_cell(text: str, column: Column, decimal_comma: bool) -> Cell | Problem:
    """``text`` (not blank, stripped) read as ``column`` says.

    Money stays text with a decimal point: how many decimals it may have depends on a
    currency that stands elsewhere. A date stays ISO text.
    """
    if column.type in ("number", "integer", "money"):
        return _read_number(text, column, decimal_comma)
    if column.type == "flag":
        flag = _FLAGS.get(text.lower())
        return Cell(flag, text) if flag is not None else Problem("not-yes-or-no", "not yes or no")
    if column.type == "choice":
        return _read_choice(text, column)
    if column.type == "date":
        return _read_date(text)
    problem = text_problem(text)
    if problem is not None:
        return problem
    if column.name == "id" and not ID_PATTERN.fullmatch(text):
        return Problem("bad-id", "an id is letters, digits, dot, hyphen and underscore, 80 at most")
    return Cell(text, text)


def text_problem(text: str) -> Problem | None:
    """What is wrong with free text, if anything: its length or control characters in it."""
    if len(text) > LONGEST_TEXT:
        return Problem(
            "text-too-long", f"the text has {len(text)} characters, {LONGEST_TEXT} are allowed"
        )
    if _CONTROL.search(text):
        return Problem("control-character", "the text holds a control character")
    return None


def _read_number(text: str, column: Column, decimal_comma: bool) -> Cell | Problem:
    plain = text
    if decimal_comma:
        if "," in text:
            plain = text.replace(",", ".") if "." not in text and text.count(",") == 1 else text
        elif _GROUPED.fullmatch(text):
            return Problem(
                "ambiguous-number",
                "other numbers of this file have a decimal comma, so this point is ambiguous",
                "write the number without grouping",
            )
    if not _NUMBER.fullmatch(plain):
        return Problem("not-a-number", "not a number", _number_hint(text, column))
    value = float(plain)
    if not math.isfinite(value):
        return Problem("not-finite", "the number is too large to be one")
    if column.minimum is not None and value < column.minimum:
        return Problem("too-small", f"less than {column.minimum:g}")
    if column.maximum is not None and value > column.maximum:
        return Problem("too-large", f"more than {column.maximum:g}")
    if column.type == "integer":
        if value != int(value):
            return Problem("not-whole", "not a whole number")
        return Cell(int(value), plain)
    return Cell(plain, plain) if column.type == "money" else Cell(value, plain)


def _number_hint(text: str, column: Column) -> str | None:
    if "," in text:
        return "ambiguous comma: write a decimal point and no grouping"
    if _LEADING_NUMBER.match(text):
        unit = f" ({column.unit})" if column.unit else ""
        return f"the unit stands in the header{unit}, the cell holds the number alone"
    return None


def _read_choice(text: str, column: Column) -> Cell | Problem:
    if text in column.choices:
        return Cell(text, text)
    lower = {choice.lower(): choice for choice in column.choices}
    if text.lower() in lower:
        choice = lower[text.lower()]
        return Cell(choice, choice)
    near = difflib.get_close_matches(text.lower(), lower, n=1)
    hint = f"did you mean {lower[near[0]]}?" if near else None
    return Problem("not-a-choice", "not one of the words allowed", hint)


def _read_date(text: str) -> Cell | Problem:
    if _DATE.fullmatch(text):
        try:
            return Cell(dt.date.fromisoformat(text).isoformat(), text)
        except ValueError:
            pass
    return Problem("not-a-date", "not a date", "write year-month-day, such as 2026-09-15")
