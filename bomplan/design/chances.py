"""The record of how sure a plan is: chances, what decides them, and what to measure first."""

from __future__ import annotations

from bomplan.design.record import Record
from bomplan.design.studies import Headline


class InputRange(Record):
    """A figure that may be off by ``half`` either way, in ``unit`` (blank: a share of it)."""

    name: str
    words: str
    half: float
    unit: str
    known: str
    to_know: str


class Influence(Record):
    """Which share of an answer's variance one input explains alone, and how sure that is.

    ``error`` is half of the 95 % interval, by resampling.
    """

    name: str
    share: float
    error: float


class Chance(Record):
    """One target or limit over all draws.

    ``chance`` is the share of draws that keep it, ``low`` and ``high`` its 95 % interval;
    ``at`` is the figure that the plan states; ``worst_tenth``, ``middle`` and ``best_tenth``
    are the figures that one draw in ten, in two and nine in ten stays under (or, where less
    is better, over).
    """

    id: str
    words: str
    unit: str
    sense: str
    limit: float
    at: float
    chance: float
    low: float
    high: float
    worst_tenth: float
    middle: float
    best_tenth: float
    influences: tuple[Influence, ...]


class Chances(Record):
    """Everything ``bomplan chances`` found; the same seed gives the same figures.

    ``chosen`` is the plan in a line, None for one that tells too little of itself.
    """

    project: str
    currency: str
    draws: int
    seed: int
    inputs: tuple[InputRange, ...]
    all_kept: float
    all_low: float
    all_high: float
    chances: tuple[Chance, ...]
    measure_first: str | None
    chosen: Headline | None = None
