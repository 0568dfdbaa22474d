"""What the best plan is: the builder's goal, which decides among all plans that do the job."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from bomplan.project.record import Record
from bomplan.project.units import Number

Aim = Literal["least-cost", "least-mass", "most-range", "least-lifetime-cost"]


class Goal(Record):
    """What is asked of the plan beside all targets and limits; equal plans go by price."""

    aim: Aim = Field(
        "least-cost",
        description="least-cost: the price of the whole bill; least-mass: everything that is"
        " added, to the gram; most-range: within targets.budget, to 100 m; least-lifetime-cost: the"
        " bill, energy and new packs over the years of [use]",
    )
    target: str | None = Field(
        None,
        description="range target that most-range drives; left out: that of [use], or the first",
    )
    energy_weight: Number = Field(
        1.0, ge=0, le=100, description="least-lifetime-cost counts the energy so many times"
    )
    packs_weight: Number = Field(
        1.0,
        ge=0,
        le=100,
        description="least-lifetime-cost counts the packs after the first so many times",
    )
