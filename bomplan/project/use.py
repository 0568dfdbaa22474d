"""How the finished car will be used over the years, for what it costs to run."""

from __future__ import annotations

from pydantic import Field

from bomplan.project.record import Record
from bomplan.project.units import Metres, Number


class Use(Record):
    """Years, distance and price of energy, for comparisons of cost over the life of the car."""

    distance_a_year_m: Metres = Field(10_000_000, alias="distance_a_year", gt=0)
    years: Number = Field(10.0, gt=0, le=50, description="so long the car is to be driven")
    electricity_price: Number | None = Field(
        None,
        ge=0,
        description="of a kilowatt-hour, in the project's currency: 0.30; left out: a round"
        " household price where the currency has one in the program",
    )
    between_charges_m: Metres | None = Field(
        None,
        alias="between_charges",
        ge=100,
        le=10_000_000,
        description="driven from one charge to the next; left out: the distance of the target",
    )
    target: str | None = Field(
        None,
        description="range target whose road, load and weather are the usual ones; left out:"
        " the first",
    )
