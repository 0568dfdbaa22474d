"""What a project may say of places and of the chassis: zones, weighing, tyres, masses.

Positions count backwards from the front axle (``x``), to the right of the car's middle
(``y``) and upwards from the ground (``z``). ``x`` is always needed; ``y`` and ``z`` only
where loads of single wheels or the height of the centre of gravity are wanted.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from bomplan.project.record import Name, Record
from bomplan.project.units import Degrees, Fraction, Grams, Millimetres

ScaleMethod = Literal["weighbridge", "wheel scales", "bathroom scales"]
WaterClass = Literal["dry", "splash", "jets", "immersion"]
GiveUp = Literal["seat", "towing", "luggage"]

_TO_THE_RIGHT = "to the right of the middle of the car"
_ABOVE = "above the ground"


class Zone(Record):
    """A named place of the car, so that several masses can share one measurement."""

    name: Name
    x_mm: Millimetres = Field(alias="x", description="behind the front axle")
    y_mm: Millimetres | None = Field(None, alias="y", description=_TO_THE_RIGHT)
    z_mm: Millimetres | None = Field(None, alias="z", description=_ABOVE)


class Floor(Record):
    """What several bays stand on together, such as boxes on either side of a tunnel.

    Its limit holds for everything in all bays that name it.
    """

    name: Name
    mass_limit_g: Grams = Field(alias="mass_limit", gt=0, description="modules and boxes together")


class BayPiece(Record):
    """A box-shaped piece of a bay, from the bay's inner corner at its front, left and floor."""

    x_mm: Millimetres = Field(0, alias="x", ge=0, description="behind the bay's front wall")
    y_mm: Millimetres = Field(0, alias="y", ge=0, description="to the right of its left wall")
    z_mm: Millimetres = Field(0, alias="z", ge=0, description="above its floor")
    length_mm: Millimetres | None = Field(
        None, alias="length", gt=0, description="along the car; left out: to the rear wall"
    )
    width_mm: Millimetres | None = Field(
        None, alias="width", gt=0, description="across the car; left out: to the right wall"
    )
    height_mm: Millimetres | None = Field(
        None, alias="height", gt=0, description="upwards; left out: to the top"
    )


class MassAt(Record):
    """A named mass with its place: something removed, kept, added or loaded."""

    name: Name
    mass_g: Grams = Field(alias="mass", ge=0)
    zone: Name | None = Field(None, description="a zone of the donor, in place of x, y and z")
    x_mm: Millimetres = Field(alias="x", description="behind the front axle")
    y_mm: Millimetres | None = Field(None, alias="y", description=_TO_THE_RIGHT)
    z_mm: Millimetres | None = Field(None, alias="z", description=_ABOVE)


class LoadItem(MassAt):
    """People or luggage; ``give_up`` marks what could be left behind if no plan is found."""

    give_up: GiveUp | None = Field(
        None, description="may be given up: named when nothing can be planned with it"
    )


class PartPlace(Record):
    """Where the parts of a family stand, if not at the four common places, and their room.

    With inner sizes a part is only taken if it fits; ``length`` of the motor's place is
    measured along its shaft from the gearbox, ``half_shaft`` from the middle of its shaft.
    """

    family: Name = Field(description="a family of the catalogue, such as dcdc")
    also: tuple[Name, ...] = Field(
        (), description="further families that stand in the same place, with room for all together"
    )
    zone: Name | None = Field(None, description="a zone of the donor, in place of x, y and z")
    x_mm: Millimetres = Field(alias="x", description="behind the front axle")
    y_mm: Millimetres | None = Field(None, alias="y", description=_TO_THE_RIGHT)
    z_mm: Millimetres | None = Field(None, alias="z", description=_ABOVE)
    length_mm: Millimetres | None = Field(
        None,
        alias="length",
        gt=0,
        description="inner size of the place; the motor's: along its"
        " shaft, from the gearbox's face",
    )
    width_mm: Millimetres | None = Field(None, alias="width", gt=0, description="likewise, across")
    height_mm: Millimetres | None = Field(None, alias="height", gt=0, description="upwards")
    keep_clear_mm: Millimetres = Field(
        0, alias="keep_clear", ge=0, description="kept free on every side of each part"
    )
    any_way_up: bool = Field(False, description="true: it may lie on any side in there")
    inside_cabin: bool = Field(
        False, description="in the cabin, or in a luggage room that is open to it"
    )
    ambient_c: Degrees | None = Field(
        None, alias="ambient", ge=-40, le=200, description="hottest air in there as the car works"
    )
    water: WaterClass | None = Field(
        None,
        description="dry; splash from the road; jets, where a hose or a wheel throws water;"
        " immersion, where it may stand under water",
    )
    half_shaft_mm: Millimetres | None = Field(
        None,
        alias="half_shaft",
        gt=0,
        description="from the middle of the motor's shaft to the half-shaft or its joint",
    )

    @property
    def families(self) -> tuple[str, ...]:
        """Every family that stands here."""
        return (self.family, *self.also)

    @property
    def room_mm(self) -> tuple[int, int, int] | None:
        """Inner length, width and height; None unless all are given."""
        if self.length_mm is None or self.width_mm is None or self.height_mm is None:
            return None
        return self.length_mm, self.width_mm, self.height_mm


class Weighing(Record):
    """The donor on the scales before the work; what was in it is taken off again.

    Either both axles or all four corners; corners add up to the axles.
    """

    method: ScaleMethod | None = Field(
        None, description="how it was weighed; gives the spread where none stands"
    )
    front_g: Grams = Field(alias="front", gt=0)
    rear_g: Grams = Field(alias="rear", gt=0)
    front_left_g: Grams | None = Field(None, alias="front_left", ge=0)
    front_right_g: Grams | None = Field(None, alias="front_right", ge=0)
    rear_left_g: Grams | None = Field(None, alias="rear_left", ge=0)
    rear_right_g: Grams | None = Field(None, alias="rear_right", ge=0)
    spread_g: Grams = Field(10_000, alias="spread", ge=0, description="spread of one axle reading")
    fuel_g: Grams = Field(0, alias="fuel", ge=0, description="fuel in the tank during the weighing")
    fuel_x_mm: Millimetres | None = Field(None, alias="fuel_x")
    fuel_y_mm: Millimetres | None = Field(None, alias="fuel_y", description=_TO_THE_RIGHT)
    people_g: Grams = Field(0, alias="people", ge=0, description="people in it during the weighing")
    people_x_mm: Millimetres | None = Field(None, alias="people_x")
    people_y_mm: Millimetres | None = Field(None, alias="people_y", description=_TO_THE_RIGHT)

    @property
    def corners_g(self) -> tuple[int, int, int, int] | None:
        """Front left, front right, rear left, rear right; None where one is missing."""
        given = (self.front_left_g, self.front_right_g, self.rear_left_g, self.rear_right_g)
        return None if None in given else given  # type: ignore[return-value]


class PapersMass(Record):
    """The "empty" mass of the papers: two kinds are in use, 75 kg apart."""

    mass_g: Grams = Field(alias="mass", gt=0)
    driver: bool = Field(
        description="true: mass in running order, with a driver of 75 kg; false: nobody in it"
    )


class Tyres(Record):
    """Designations as they stand on the tyres' sides, and how many tyres an axle has."""

    front: str | None = Field(None, description='such as "185/65 R15 88H"')
    rear: str | None = Field(None, description='such as "195/70 R15C 104/102R"')
    front_count: int | None = Field(None, ge=1, le=4, description="2; on a motorcycle 1")
    rear_count: int | None = Field(None, ge=1, le=4, description="4 on a twin rear axle")


class ShareAdvice(Record):
    """Usual shares of mass, common practice: they are told, and stop no plan."""

    front_share_laden: Fraction = Field(0.45, description="least front share, laden; cars")
    front_share_driver: Fraction = Field(
        0.50, description="least front share of a front-drive car with the least load"
    )
    front_share_shift: Fraction = Field(
        0.05, description="farthest from the front share of the donor with the same load"
    )
    springs_above: Fraction = Field(0.10, description="gain of an axle that asks for springs")
    dampers_above: Fraction = Field(0.15, description="gain of an axle that asks for dampers")
