"""The records of the money around a plan: the whole sum, and the order of buying.

Money is whole smallest units of the plan's currency. Days are numbers from the day on which
the builder begins, 0; no calendar is meant.
"""

from __future__ import annotations

from typing import Literal

from bomplan.design.record import Record

SumKind = Literal[
    "bill", "tool", "work", "chassis", "fee", "other", "workshop", "contingency", "credit"
]
# The order in which headings are shown.
SUM_KINDS: tuple[SumKind, ...] = (
    "bill",
    "tool",
    "chassis",
    "work",
    "workshop",
    "fee",
    "other",
    "contingency",
    "credit",
)


class SumItem(Record):
    """One item of the whole sum, ``count`` of it in all. A credit is below zero.

    ``low`` is what it comes to when all goes well, ``high`` when nothing does.
    """

    id: str
    kind: SumKind
    words: str
    count: int = 1
    low: int
    typical: int
    high: int
    hours: float = 0.0
    why: str
    source: str


class WorkHours(Record):
    """Hours of work: to fit the parts of the bill, around them, and together with their ends."""

    parts: float
    around: float
    low: float
    typical: float
    high: float
    paid_share: float
    rate: int | None


class WholeSum(Record):
    """What the conversion comes to with everything around the parts; chooses nothing.

    The three sums add all low, all typical and all high ends: the two outer ones are a
    bracket, not a likely range. ``limit`` is the project's own, compared with ``typical``.
    """

    items: tuple[SumItem, ...]
    hours: WorkHours
    low: int
    typical: int
    high: int
    limit: int | None = None
    notes: tuple[str, ...] = ()


class Gate(Record):
    """Something to measure or to have agreed before the orders that name it are placed.

    ``day`` is when it is behind the builder at the earliest; 0 and ``passed`` when it is now.
    """

    id: str
    words: str
    passed: bool
    takes_days: int
    day: int
    after: tuple[str, ...]
    why: str


class Order(Record):
    """One line to order: not before its gates, not after ``latest_day`` if all is to be in time.

    ``order_day`` is the day proposed: as soon as it may be, or with the rest of its supplier's
    goods where they can all wait for the last of them. ``lead_known`` tells whether the
    catalogue gives the days from order to delivery.
    """

    family: str
    part: str
    supplier: str
    gates: tuple[str, ...]
    earliest_day: int
    latest_day: int
    order_day: int
    lead_days: int
    lead_known: bool
    arrives_day: int


class LaterShipment(Record):
    """A supplier of whom something cannot be ordered with the rest, for a later gate holds it.

    The bill pays one shipping an order; ``shipping`` is what each later one costs if it costs
    as much as that one did.
    """

    supplier: str
    days: tuple[int, ...]
    shipping: int


class BuyingOrder(Record):
    """Orders by the day from which they may be placed, the longest on its way first."""

    gates: tuple[Gate, ...]
    orders: tuple[Order, ...]
    later_shipments: tuple[LaterShipment, ...] = ()
    all_here_day: int
