"""Lines of plain text, eighty columns wide, each with a tone for a terminal that has colours."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from bomplan.money import currency_decimals, format_amount

Tone = Literal["plain", "heading", "good", "bad", "caution"]

WIDTH: Final = 80
_LABEL: Final = 10


@dataclass(frozen=True)
class Row:
    """One line, without its newline."""

    text: str
    tone: Tone = "plain"


def labelled(label: str, text: str) -> Iterator[Row]:
    """A label in a column of its own, and text beside it on as many lines as it takes."""
    first = f"  {label:<{_LABEL}}  "
    return wrapped(text, first, " " * len(first))


def wrapped(text: str, first: str = "", rest: str = "", tone: Tone = "plain") -> Iterator[Row]:
    """Text broken to the page's width, its first line and the rest indented as given."""
    lines = textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )
    for line in lines or [first.rstrip()]:
        yield Row(line.replace("\N{NO-BREAK SPACE}", " "), tone)


def unbroken(text: str) -> str:
    """Kept together when lines are broken: a figure and its unit."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def whole_money(amount: int, currency: str) -> str:
    """Whole units of money with the currency's code."""
    return f"{whole_units(amount, currency)} {currency}"


def whole_units(amount: int, currency: str) -> str:
    """Whole units of money, rounded half up: a glance wants no cents."""
    unit = 10 ** currency_decimals(currency)
    return spaced((2 * amount + unit) // (2 * unit))


def exact_money(amount: int, currency: str) -> str:
    """An amount to the smallest unit with the currency's code."""
    return f"{format_amount(amount, currency)} {currency}"


def spaced(number: int) -> str:
    """A whole number with a space between its thousands."""
    return f"{number:,}".replace(",", " ")
