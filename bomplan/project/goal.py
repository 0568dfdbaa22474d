"""What the best plan is: the builder's goal, which decides among all plans that do the job."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from bomplan.project.record import Record

Aim = Literal["least-cost", "least-mass"]


class Goal(Record):
    """What is asked of the plan beside all targets and limits; equal plans go by price."""

    aim: Aim = Field(
        "least-cost",
        description="least-cost: the price of the whole bill; least-mass: everything that is"
        " added, to the gram",
    )
