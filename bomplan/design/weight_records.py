"""The weighing that a plan keeps: every mass once, and what axles and wheels carry.

Masses are kilograms to the gram, positions millimetres behind the front axle (``x``), to the
right of the car's middle (``y``) and above the ground (``z``); null where nobody measured.
"""

from __future__ import annotations

from typing import Final, Literal

from bomplan.design.record import Record


class WeightItem(Record):
    """One mass with its place; what comes out of the donor counts below zero."""

    kind: Literal["donor", "taken off", "taken out", "own part", "bought"]
    what: str
    part: str = ""
    bay: str = ""
    pieces: int = 1
    mass_kg: float
    x_mm: float
    y_mm: float | None = None
    z_mm: float | None = None


class WheelLoads(Record):
    """What each wheel (or twin pair) carries."""

    front_left_kg: float
    front_right_kg: float
    rear_left_kg: float
    rear_right_kg: float


class LoadState(Record):
    """The car in one state: ``load_case`` is empty with nobody and nothing in it."""

    stage: Literal["before", "after"]
    load_case: str = ""
    mass_kg: float
    front_kg: float
    rear_kg: float
    front_share: float
    x_mm: float
    y_mm: float | None = None
    z_mm: float | None = None
    left_share: float | None = None
    wheels: WheelLoads | None = None
    rollover_ratio: float | None = None


class MotionLoad(Record):
    """Axle loads on a slope or under braking, as the mass that would weigh as much at rest."""

    words: str
    load_case: str
    grade: float
    acceleration_m_s2: float
    front_kg: float
    rear_kg: float


class AxleChange(Record):
    """How an axle's load without people changes against the donor's, and what that asks for."""

    axle: Literal["front", "rear"]
    before_kg: float
    after_kg: float
    change_share: float
    springs: bool
    dampers: bool


OVERTURNING: Final = "overturning"
"""Id of the advice on three wheels in a bend; its figures are ratios, not shares."""


class Advice(Record):
    """Common practice that limits nothing: ``kept`` tells whether the plan follows it."""

    id: str
    words: str
    value: float
    usual: float
    sense: Literal["at most", "at least"]
    kept: bool
    source: str = "common practice"


class Weights(Record):
    """Every mass, every state and what follows from them."""

    items: tuple[WeightItem, ...]
    states: tuple[LoadState, ...]
    motion: tuple[MotionLoad, ...]
    changes: tuple[AxleChange, ...]
    advice: tuple[Advice, ...]
    running_order_kg: float
    spread_kg: float
    in_the_middle: tuple[str, ...] = ()
    at_the_car_height: tuple[str, ...] = ()
