"""The records of a plan's 12 V side: what draws on it, what feeds it, and for how long."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from bomplan.design.record import Record
from bomplan.project.twelve_volt import LoadKind


class SupplyLoad(Record):
    """One load. ``day`` to ``winter`` are shares of the time that it is on."""

    name: str
    title: str
    origin: Literal["car", "bill"]
    kind: LoadKind
    power_w: float = Field(ge=0)
    peak_w: float = Field(ge=0)
    day: float
    night: float
    rain: float
    winter: float
    worst_w: float
    reserve: float
    source: str


class Supply12V(Record):
    """The sums, the converter and the battery. Means are of car and bill together.

    ``loads`` hold the car's only where the project names them; ``counted_w`` is what ranges
    read, ``supply_w`` four fifths of the converter's rating.
    """

    loads: tuple[SupplyLoad, ...]
    counted_w: int
    named: bool
    day_w: int
    night_w: int
    rain_w: int
    winter_w: int
    worst_w: int
    continuous_w: int
    intermittent_w: int
    peak_w: int
    supply_w: int
    battery_ah: float
    coldest_c: float
    reserve_a: float
    reserve_minutes: int | None
