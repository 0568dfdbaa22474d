"""The records of a line's standing: how close its row is to a limit, and what else would do.

Money is in smallest units of the plan's currency.
"""

from __future__ import annotations

from typing import Literal

from bomplan.design.record import Record

Nothing = Literal["", "core", "fixed", "none suits", "none beside", "not settled"]


class Slack(Record):
    """The limit that a row keeps with least to spare. ``share`` is the distance over the limit."""

    check: str
    words: str
    value: float
    limit: float
    unit: str
    sense: Literal["at most", "at least"]
    share: float


class OtherDrive(Record):
    """The drive of the best plan with another motor, controller or module row.

    What stays of the chosen drive is told by the line's family: beside another motor the module
    row, beside another controller the motor and the module row, beside another module the motor
    and the controller. ``by_goal`` is how much more it comes to by the project's goal in
    ``goal_unit``, None where that is the price. ``proven``: there is no better one.
    """

    motor: str
    controller: str
    final_ratio: float
    module: str
    series: int
    parallel: int
    topology: str
    by_goal: int | None = None
    goal_unit: Literal["", "g", "m", "money"] = ""
    proven: bool = True


class Instead(Record):
    """Another row that would do in a line's place, everything else kept as it is.

    ``price`` and ``mass_kg`` are differences of the whole bill: with the other row bought at
    one supplier in one lot, every order's freight, duty, tax and rounding counted anew. With a
    ``drive`` it is another plan, in which only the rest of the drive is kept: number in series
    and parallel, placement and every other line are chosen anew.
    """

    part: str
    description: str
    supplier: str
    bought: int
    price: int
    mass_kg: float
    drive: OtherDrive | None = None


class Standing(Record):
    """Slack and next best row of one line.

    ``nothing_because`` is empty where there is another row; else ``core`` (the part is of the
    drive, and other drives were not asked for), ``fixed`` (the project names the part),
    ``none suits`` (all else kept), ``none beside`` (whatever else is chosen beside the rest of
    the drive) or ``not settled`` (the search for it was stopped, or came to no proof).
    """

    slack: Slack | None = None
    instead: Instead | None = None
    nothing_because: Nothing = ""
