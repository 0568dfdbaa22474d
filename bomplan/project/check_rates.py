"""How old the exchange rates are against the day from which prices are looked at."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Final

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project

# A month: beyond it rates between large currencies have often moved by some percent (common
# practice of those who quote prices for goods from abroad: an offer holds for a month).
STALE_DAYS: Final = 31


def rates_off_by(as_of: dt.date, rates_as_of: dt.date | None) -> int:
    """Days by which the rates are older than ``as_of``, negative if they are later.

    0 where they are of about that day, or nothing is said of theirs.
    """
    if rates_as_of is None:
        return 0
    days = (as_of - rates_as_of).days
    return days if abs(days) > STALE_DAYS else 0


def rate_cautions(project: Project) -> Iterator[tuple[KeyPath, Fault]]:
    """Rates that are too old, or of a later day than the prices."""
    days = rates_off_by(project.as_of, project.rates_as_of)
    if not days or not project.rates:
        return
    yield ("rates_as_of",), Fault(
        "project.stale-rates",
        f"is {abs(days)} days {'before' if days > 0 else 'after'} as_of: money abroad costs"
        " something else by then",
        value=str(project.rates_as_of), allowed=f"within {STALE_DAYS} days of {project.as_of}",
        hint="look the rates up anew, write them under [rates] and their day here",
    )  # fmt: skip
