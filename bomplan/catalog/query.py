"""Conditions on parts, such as ``capacity_ah>=100``, for lists."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from bomplan.catalog.columns import Family, schema
from bomplan.catalog.records import Figure, Part
from bomplan.errors import Fault, InputError
from bomplan.money import currency_decimals

_CONDITION: Final = re.compile(
    r"\s*(?P<column>\w+)\s*(?P<sign>>=|<=|!=|=|<|>|~)\s*(?P<value>.*?)\s*"
)


@dataclass(frozen=True)
class Condition:
    """``sign`` is one of = != < <= > >= and ~ (contains, whatever the case)."""

    column: str
    sign: str
    value: str

    def holds(self, part: Part) -> bool:
        """Whether the part meets it; a blank figure meets nothing but ``!=``."""
        found = value_of(part, self.column)
        if found is None:
            return self.sign == "!="
        shown = shown_value(found)
        if self.sign == "~":
            return self.value.lower() in shown.lower()
        number = None if isinstance(found, (str, bool)) else _number(self.value)
        if number is None or isinstance(found, (str, bool)):
            same = shown.lower() == self.value.lower()
            return same if self.sign == "=" else not same if self.sign == "!=" else False
        return {
            "=": found == number,
            "!=": found != number,
            "<": found < number,
            "<=": found <= number,
            ">": found > number,
            ">=": found >= number,
        }[self.sign]


def conditions(texts: Iterable[str], families: Iterable[str]) -> list[Condition]:
    """The conditions written in ``texts``. Raises InputError with every fault."""
    known: dict[str, None] = {}
    for name in families:
        family: Family = schema()[name]
        known.update(dict.fromkeys(family.columns))
    found, faults = [], []
    for text in texts:
        match = _CONDITION.fullmatch(text)
        if match is None or not match["value"]:
            faults.append(
                Fault(
                    "query.shape",
                    "is no condition",
                    where="--where",
                    value=text,
                    allowed="a column, one of = != < <= > >= ~ and a value: capacity_ah>=100",
                    hint="put it in quotes, or the shell takes < and > for its own",
                )
            )
            continue
        if match["column"] not in known:
            near = difflib.get_close_matches(match["column"], known, n=1)
            faults.append(
                Fault(
                    "query.column",
                    "is no column here",
                    where="--where",
                    value=match["column"],
                    allowed=", ".join(known) if len(known) <= 60 else None,
                    hint=f"did you mean {near[0]}?" if near else None,
                )
            )
            continue
        found.append(Condition(match["column"], match["sign"], match["value"]))
    if faults:
        raise InputError(faults)
    return found


def value_of(part: Part, column: str) -> Figure | None:
    """What the part says in a column, in the unit of its header; None where it is blank."""
    if column == "mass_kg":
        return part.mass_g / 1000
    if column == "price":
        return float(part.price / 10 ** currency_decimals(part.currency))
    if column in (
        "id", "description", "length_mm", "width_mm", "height_mm", "currency", "price_date",
        "source",
    ):  # fmt: skip
        own: Figure | None = getattr(part, column)
        return own
    return part.figures.get(column)


def shown_value(value: Figure) -> str:
    """A figure as a catalogue writes it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
