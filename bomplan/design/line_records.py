"""The records of a line's standing: how close its row is to a limit, and what else would do.

Money is in smallest units of the plan's currency.
"""

from __future__ import annotations

from typing import Literal

from bomplan.design.record import Record


class Slack(Record):
    """The limit that a row keeps with least to spare. ``share`` is the distance over the limit."""

    check: str
    words: str
    value: float
    limit: float
    unit: str
    sense: Literal["at most", "at least"]
    share: float


class Instead(Record):
    """Another row that would do in a line's place, everything else kept as it is.

    ``price`` and ``mass_kg`` are differences of the whole bill: with the other row bought at
    one supplier in one lot, every order's freight, duty, tax and rounding counted anew.
    """

    part: str
    description: str
    supplier: str
    bought: int
    price: int
    mass_kg: float


class Standing(Record):
    """Slack and next best row of one line.

    ``nothing_because`` is empty where there is another row; else ``core`` (the part is of the
    drive, and another one is another drive), ``fixed`` (the project names the part) or
    ``none suits``.
    """

    slack: Slack | None = None
    instead: Instead | None = None
    nothing_because: Literal["", "core", "fixed", "none suits"] = ""
