"""What a lint rule has to say about one cell of a catalogue."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from bomplan.catalog.records import Catalog, Part


@dataclass(frozen=True, order=True)
class Finding:
    """Something in a catalogue that cannot be true, or that nobody should plan on.

    ``id`` is the part, or for a table the ids of its row joined by a slash.
    """

    code: str
    family: str
    id: str
    column: str
    message: str


Rule = Callable[[Catalog, dt.date], Iterator[Finding]]


def about(part: Part, code: str, column: str, message: str) -> Finding:
    """A Finding on ``column`` of ``part``."""
    return Finding(code, part.family, part.id, column, message)


def out_of_order(
    part: Part, code: str, columns: tuple[str, ...], *, strictly: bool = False
) -> Iterator[Finding]:
    """Findings where the figures of ``columns`` do not rise (equal is fine unless strictly).

    Columns that the row leaves blank are passed over.
    """
    given = [column for column in columns if part.has(column)]
    for low, high in pairwise(given):
        a, b = part.number(low), part.number(high)
        if a > b or (strictly and a == b):
            yield about(part, code, high, f"{b:g} is below {low} ({a:g})")
