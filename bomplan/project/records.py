"""What is wanted: the project as parsed, in SI and in integers where the planner decides.

A key of the TOML file is the field's alias; the field's own name carries the unit.
Masses are integer grams, positions and sizes integer millimetres, distances integer
metres, money integer smallest units of the project's currency; everything else is a
float in SI. Positions along the car count backwards from the front axle: a part ahead
of it has a negative ``x``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated, Final, Literal

from pydantic import Field, field_validator

from bomplan.project.budget import Budget
from bomplan.project.buying import Buying
from bomplan.project.chassis import (
    BayPiece,
    Floor,
    LoadItem,
    MassAt,
    PapersMass,
    PartPlace,
    Tyres,
    Weighing,
    Zone,
)
from bomplan.project.goal import Goal
from bomplan.project.house_rules import HouseRules
from bomplan.project.record import Name, Record
from bomplan.project.scenario import MOST_SCENARIOS, Scenario
from bomplan.project.twelve_volt import WORST, Circumstance, Load12V, mean_w
from bomplan.project.uncertainty import Uncertainty
from bomplan.project.units import (
    COLDEST_C,
    HOTTEST_ROOM_C,
    WARMEST_C,
    Amperes,
    Bars,
    Degrees,
    Fraction,
    Grade,
    Grams,
    Hours,
    Metres,
    MetresPerSecond,
    Millimetres,
    MoneyText,
    NewtonMetres,
    Newtons,
    NewtonsPerSpeed,
    NewtonsPerSpeedSquared,
    Number,
    Seconds,
    SquareMetres,
    Volts,
    Watts,
)
from bomplan.project.use import Use

# No vehicle has a longer one; filling one without end would take without end.
LONGEST_BAY_MM = 20_000


class Position(Record):
    """A point of the car: behind the front axle, to the right, above the ground."""

    x_mm: Millimetres = Field(alias="x")
    y_mm: Millimetres | None = Field(None, alias="y")
    z_mm: Millimetres | None = Field(None, alias="z")


class CoastDownFigures(Record):
    """A measured road load F = a + b v + c v², in place of rolling resistance and drag area.

    As rolled out on a level road in still air; the constant term grows with mass, the square
    term with the density of the air.
    """

    a_n: Newtons = Field(alias="a", ge=0, description="force as it barely rolls")
    b_n_s_m: NewtonsPerSpeed = Field(0.0, alias="b", description="growth with speed")
    c_n_s2_m2: NewtonsPerSpeedSquared = Field(
        alias="c", ge=0, description="growth with the square of speed"
    )
    test_mass_g: Grams = Field(alias="test_mass", gt=0, description="of the car as it rolled out")
    temperature_c: Degrees = Field(
        20.0, alias="temperature", ge=COLDEST_C, le=WARMEST_C, description="of the air that day"
    )
    altitude_m: Metres = Field(0, alias="altitude", description="of the road that day")


class Chain(Record):
    """The chain behind the motor or the gearbox, and the sprocket at the wheel."""

    pull_limit_n: Newtons = Field(
        alias="pull_limit",
        gt=0,
        description="most that it is pulled with; a fifth of its tensile strength or less",
    )
    sprocket_diameter_mm: Millimetres = Field(
        alias="sprocket_diameter", gt=0, description="pitch circle of the sprocket at the wheel"
    )


class Driveline(Record):
    """From the motor's shaft to the driven wheels."""

    mounts: tuple[Literal["gearbox", "chain", "axle"], ...] = Field(min_length=1)
    driven: Literal["front", "rear"]
    gear_ratios: tuple[Number, ...] = Field((1.0,), min_length=1)
    final_ratios: tuple[Number, ...] = Field(
        min_length=1, description="final drives (or sprocket ratios) that may be chosen from"
    )
    shift_speeds_m_s: tuple[MetresPerSecond, ...] = Field(
        (), alias="shift_speeds", description="one fewer than the gears, rising"
    )
    clutch: bool = Field(True, description="false: the motor sits on the gearbox without one")
    shift_seconds: Seconds | None = Field(
        None, description="without drive at a change of gear; 1 s with a clutch, 2 s without"
    )
    efficiency: Fraction = Field(0.92, gt=0)
    drag_torque_nm: NewtonMetres = Field(1.5, alias="drag_torque", description="at the input, warm")
    drag_torque_cold_nm: NewtonMetres | None = Field(
        None,
        alias="drag_torque_cold",
        ge=0,
        description="at -20 °C, straight between that and 20 °C; left out: as when warm",
    )
    input_torque_limit_nm: NewtonMetres | None = Field(None, alias="input_torque_limit")
    wheel_torque_limit_nm: NewtonMetres | None = Field(None, alias="wheel_torque_limit")
    chain: Chain | None = None
    wheelie_limit: bool | None = Field(
        None, description="keep the front wheel down; left out: for motorcycles"
    )
    gearbox_pattern: str | None = Field(None, description="bell housing pattern id")
    wheel_radius_mm: Millimetres = Field(alias="wheel_radius", gt=0, description="rolling radius")
    rotating_mass_factor: Number = Field(1.04, ge=1, le=2, description="inertial mass over mass")


class Donor(Record):
    description: str = ""
    kind: Literal["car", "motorcycle"]
    wheelbase_mm: Millimetres = Field(alias="wheelbase", gt=0)
    gross_limit_g: Grams = Field(alias="gross_limit", gt=0)
    front_axle_limit_g: Grams = Field(alias="front_axle_limit", gt=0)
    rear_axle_limit_g: Grams = Field(alias="rear_axle_limit", gt=0)
    drag_area_m2: SquareMetres | None = Field(
        None, alias="drag_area", gt=0, description="needed unless there is a coast_down"
    )
    rolling_resistance: Number | None = Field(
        None, gt=0, lt=0.1, description="this, or tyre_pressure, or a coast_down"
    )
    rolling_resistance_speed: Number = Field(
        0.0, ge=0, description="growth of the coefficient per (m/s)^2"
    )
    tyre_pressure_bar: Bars | None = Field(
        None,
        alias="tyre_pressure",
        ge=1.2,
        le=6,
        description="gives the rolling resistance of car tyres, in place of the two keys above",
    )
    coast_down: CoastDownFigures | None = None
    grip: Number = Field(0.8, gt=0, le=1.5, description="tyre-road friction, dry")
    grip_wet: Number = Field(0.5, gt=0, le=1.5, description="tyre-road friction, wet")
    centre_height_mm: Millimetres = Field(550, alias="centre_height", gt=0)
    load_12v_w: Watts = Field(
        250.0,
        alias="load_12v",
        ge=0,
        description="mean 12 V load as it drives, measured; left out: from `loads_12v`, if given",
    )
    loads_12v: tuple[Load12V, ...] = Field((), description="what stays on the 12 V side, by name")
    load_12v_in: tuple[Circumstance, ...] | None = Field(
        None,
        description="circumstances in which ranges count `loads_12v`; left out: night, rain where"
        " a condition is wet, winter where one is below 5 °C",
    )
    brake_booster: bool = True
    booster_diameter_mm: Millimetres = Field(
        230,
        alias="booster_diameter",
        ge=120,
        le=400,
        description="outer diameter of the brake booster's shell; 9 in is 230 mm",
    )
    weighing: Weighing
    driveline: Driveline
    track_front_mm: Millimetres | None = Field(
        None, alias="track_front", gt=0, description="between the middles of the front tyres"
    )
    track_rear_mm: Millimetres | None = Field(
        None, alias="track_rear", gt=0, description="the same of the rear tyres (or twin pairs)"
    )
    front_overhang_mm: Millimetres | None = Field(
        None, alias="front_overhang", ge=0, description="from the front axle to the front end"
    )
    rear_overhang_mm: Millimetres | None = Field(
        None, alias="rear_overhang", ge=0, description="from the rear axle to the rear end"
    )
    tyres: Tyres = Tyres()
    front_wheel_limit_g: Grams | None = Field(
        None, alias="front_wheel_limit", gt=0, description="what one side of the front may carry"
    )
    rear_wheel_limit_g: Grams | None = Field(
        None, alias="rear_wheel_limit", gt=0, description="what one side of the rear may carry"
    )
    papers_mass: PapersMass | None = None
    zones: tuple[Zone, ...] = ()
    removed: tuple[MassAt, ...] = ()
    kept: tuple[MassAt, ...] = Field(
        (), description="what stays: weighed with the car already, named for drawing and weigh-in"
    )
    added: tuple[MassAt, ...] = Field(
        (), description="own parts that come in and stand in no catalogue: brackets, a bed, a hitch"
    )

    @property
    def tyre_counts(self) -> tuple[int, int]:
        """Tyres on the front and on the rear axle: as given, else 2, on a motorcycle 1."""
        usual = 1 if self.kind == "motorcycle" else 2
        return self.tyres.front_count or usual, self.tyres.rear_count or usual

    @property
    def worst_12v_w(self) -> int:
        """What the converter must carry beside the bill's own parts: a winter's night in rain."""
        return max(round(self.load_12v_w), mean_w(self.loads_12v, WORST))

    @property
    def beyond_mean_12v_w(self) -> int:
        """What that is above the mean that ranges count; 0 without a table of loads."""
        return self.worst_12v_w - round(self.load_12v_w)


class Bay(Record):
    """A room that takes modules in one battery box. Its front inner wall stands at ``x``.

    ``length``, ``width`` and ``height`` are its greatest sizes. A room that is no box says so
    by ``boxes`` (it is what they cover together), by ``blocked`` (pieces that are no room), or
    by both.
    """

    name: Name
    x_mm: Millimetres = Field(alias="x", description="front inner wall, behind the front axle")
    y_mm: Millimetres | None = Field(
        None, alias="y", description="left inner wall, to the right of the middle of the car"
    )
    z_mm: Millimetres | None = Field(None, alias="z", description="inner floor, above the ground")
    length_mm: Millimetres = Field(
        alias="length", gt=0, le=LONGEST_BAY_MM, description="along the car"
    )
    width_mm: Millimetres = Field(
        alias="width", gt=0, le=LONGEST_BAY_MM, description="across the car"
    )
    height_mm: Millimetres = Field(alias="height", gt=0, le=LONGEST_BAY_MM)
    boxes: tuple[BayPiece, ...] = Field(
        (), description="the bay is what these cover together; left out: all of it"
    )
    blocked: tuple[BayPiece, ...] = Field(
        (), description="what is no room: a wheel arch, a step, a post"
    )
    mass_limit_g: Grams | None = Field(None, alias="mass_limit", description="modules and box")
    cable_run_mm: Millimetres = Field(
        alias="cable_run", ge=0, description="one way, from this bay to the controller"
    )
    floor: Name | None = Field(None, description="a floor that it shares with other bays")
    stow: Literal["front", "middle", "rear"] | None = Field(
        None,
        description="modules against its front or rear wall or in its middle, filled from there;"
        " left out: against the front wall, filled from the middle of what fits",
    )
    inside_cabin: bool = Field(
        False, description="in the cabin, or in a luggage room that is open to it"
    )
    vented: bool = False
    ambient_c: Degrees = Field(
        40.0, alias="ambient", ge=COLDEST_C, le=HOTTEST_ROOM_C, description="design temperature"
    )


class Places(Record):
    """Where the parts that are not modules sit, behind the front axle."""

    motor_x_mm: Millimetres = Field(alias="motor_x")
    motor_y_mm: Millimetres | None = Field(None, alias="motor_y")
    motor_z_mm: Millimetres | None = Field(None, alias="motor_z")
    controller_x_mm: Millimetres = Field(alias="controller_x")
    controller_y_mm: Millimetres | None = Field(None, alias="controller_y")
    controller_z_mm: Millimetres | None = Field(None, alias="controller_z")
    charger_x_mm: Millimetres = Field(alias="charger_x")
    charger_y_mm: Millimetres | None = Field(None, alias="charger_y")
    charger_z_mm: Millimetres | None = Field(None, alias="charger_z")
    other_x_mm: Millimetres = Field(alias="other_x")
    other_y_mm: Millimetres | None = Field(None, alias="other_y")
    other_z_mm: Millimetres | None = Field(None, alias="other_z")
    driver_x_mm: Millimetres | None = Field(
        None, alias="driver_x", description="middle of the driver's seat: what is in reach of it"
    )
    driver_y_mm: Millimetres | None = Field(None, alias="driver_y")
    driver_z_mm: Millimetres | None = Field(None, alias="driver_z")
    parts: tuple[PartPlace, ...] = Field(
        (), description="families that stand at a place of their own"
    )

    def own(self, family: str) -> PartPlace | None:
        """The place that this family has, alone or with others; None: one of the common ones."""
        return next((place for place in self.parts if family in place.families), None)


class LoadCase(Record):
    name: Name
    items: tuple[LoadItem, ...] = Field(description="people and luggage")


class Condition(Record):
    """The state of pack, weather and cabin in which a target must hold."""

    name: Name
    temperature_c: Degrees = Field(alias="temperature", ge=COLDEST_C, le=WARMEST_C)
    aged: bool = Field(False, description="pack at the end of its life")
    heater_w: Watts = Field(0.0, alias="heater", ge=0, description="mean cabin heat from the pack")
    headwind_m_s: MetresPerSecond = Field(0.0, alias="headwind")
    altitude_m: Metres = Field(0, alias="altitude")
    wet: bool = Field(False, description="wet road: grip_wet counts")


class RangeTarget(Record):
    name: Name
    distance_m: Metres = Field(alias="distance", gt=0)
    profile: str = Field(description="a driving schedule, 'constant 80 km/h', or a route file")
    condition: str
    load_case: str
    reserve: Fraction = Field(0.0, description="share of the usable energy kept back")
    confidence: Fraction | None = Field(
        None,
        gt=0,
        lt=1,
        description="so many of a hundred cars with other uncertain figures must go the distance",
    )
    speed_cap_m_s: MetresPerSecond | None = Field(None, alias="speed_cap")


class SpeedTarget(Record):
    name: Name
    speed_m_s: MetresPerSecond = Field(alias="speed", gt=0)
    hold_s: Seconds = Field(1800.0, alias="hold", description="how long it must be held")
    condition: str
    load_case: str


class ClimbTarget(Record):
    name: Name
    grade: Grade = Field(gt=0, le=0.6, description="rise over run")
    speed_m_s: MetresPerSecond = Field(0.0, alias="speed", description="0: start from rest")
    hold_s: Seconds = Field(60.0, alias="hold")
    condition: str
    load_case: str


class AccelerationTarget(Record):
    name: Name
    speed_m_s: MetresPerSecond = Field(alias="speed", gt=0, description="from rest to this speed")
    within_s: Seconds = Field(alias="within", gt=0)
    condition: str
    load_case: str


class Targets(Record):
    range: tuple[RangeTarget, ...] = Field(min_length=1)
    top_speed: tuple[SpeedTarget, ...] = ()
    climb: tuple[ClimbTarget, ...] = ()
    acceleration: tuple[AccelerationTarget, ...] = ()
    pack_voltage_min_v: Volts = Field(0.0, alias="pack_voltage_min", description="nominal")
    pack_voltage_max_v: Volts = Field(450.0, alias="pack_voltage_max", description="when charged")
    budget: MoneyText | None = Field(
        None, description="what the bill of parts with shipping may come to; the plan keeps to it"
    )
    charged_voltage_min_v: Volts = Field(
        0.0, alias="charged_voltage_min", description="when charged; to look at a class of voltage"
    )
    laden_mass_max_g: Grams | None = Field(
        None, alias="laden_mass_max", gt=0, description="a limit of your own, in every load case"
    )
    front_axle_max_g: Grams | None = Field(
        None, alias="front_axle_max", gt=0, description="a limit of your own, below the plate's"
    )
    rear_axle_max_g: Grams | None = Field(
        None, alias="rear_axle_max", gt=0, description="a limit of your own, below the plate's"
    )
    power_state_of_charge: Fraction = Field(
        0.3, description="state of charge at which speed, climb and acceleration must hold"
    )


class RoutePoint(Record):
    """One point of the user's own route, as read from its CSV file.

    The bounds are those of any road; a plan file, which carries the route, is held to them too.
    """

    distance_m: float = Field(ge=-1e7, le=1e7)
    speed_limit_m_s: float = Field(ge=0.25, le=100)
    elevation_m: float = Field(0.0, ge=-1e4, le=1e4)
    stop_s: float = Field(0.0, ge=0, le=86_400)


# A lap is kept second by second, in some dozens of figures each.
LONGEST_LAP_S: Final = 172_800


def lap_s(points: Sequence[RoutePoint]) -> float:
    """Seconds that a lap takes at least: at its speed limits, with its stops."""
    driving = sum(
        (after.distance_m - here.distance_m) / here.speed_limit_m_s
        for here, after in pairwise(points)
    )
    return driving + sum(point.stop_s for point in points)


class Charging(Record):
    outlet: str | None = Field(
        None,
        description="a usual outlet of the project's country, in place of the three keys below:"
        " north-america-120-15, -120-20, -240-20 to -240-60; europe-230-household, -household-8,"
        " -16, -32; australia-230-household, -15, -32",
    )
    supply_v: Volts = Field(230.0, alias="supply", gt=0)
    supply_a: Amperes = Field(
        10.0, alias="supply_current", gt=0, description="rating of the outlet's circuit"
    )
    supply_rule: Literal["continuous-80", "as-rated"] = Field(
        "continuous-80", description="share of the circuit that a charger may take for hours"
    )
    hours: Hours = Field(10.0, alias="within", gt=0, description="from empty to full, at most")


class Choices(Record):
    """What the builder has decided already. Locked: family = part id."""

    motor: str | None = None
    controller: str | None = None
    module: str | None = None
    series: int | None = Field(None, ge=1)
    parallel: int | None = Field(None, ge=1)
    topology: Literal["groups", "strings"] | None = None
    parts: dict[str, str] = Field({}, description="family = part id, for every other family")
    excluded: tuple[str, ...] = Field((), description="part ids never to be used")
    chemistries: tuple[str, ...] = Field((), description="only these, when given")
    owned: dict[str, int] = Field({}, description="part id = quantity at hand")
    suppliers: tuple[str, ...] = Field((), description="only these, when given")
    regeneration: bool | None = Field(None, description="true: asked for; false: never")
    allow_unpaired: bool = Field(False, description="plan motor and controller without a pair row")
    battery_current_a: tuple[Amperes, ...] = Field(
        (),
        alias="battery_current",
        description="what the controller may be set to take from the pack, the cheapest is"
        " chosen; left out: as much as controller, modules and fuses stand",
    )
    parallel_max: int = Field(6, ge=1)
    bays_max: int | None = Field(None, ge=1)
    requires: dict[str, tuple[str, ...]] = Field(
        {}, description='"part id" = ["part ids that then must be in the plan, too"]'
    )
    forbids: dict[str, tuple[str, ...]] = Field(
        {}, description='"part id" = ["part ids that then must not be in the plan"]'
    )

    @property
    def ruled(self) -> frozenset[str]:
        """Every part that a rule between parts names."""
        tables = (self.requires, self.forbids)
        return frozenset(
            name for table in tables for part, others in table.items() for name in (part, *others)
        )


class Margins(Record):
    """Distance kept from every limit; zero only on request, and then labelled."""

    range: Fraction = 0.15
    axle: Fraction = 0.03
    axle_g: Grams = Field(25_000, alias="axle_mass")
    gross: Fraction = 0.0
    continuous: Fraction = 0.10
    voltage: Fraction = 0.05
    fault_current: Fraction = 0.05
    cell_spread: Fraction = Field(
        0.0,
        lt=0.5,
        description="how far the weakest cells lie under the mean; 0: within the range margin",
    )


class Show(Record):
    """How figures are shown when this project is planned; blank: as the reader's settings say."""

    units: Literal["metric", "us"] | None = Field(None, description="of the summary and the report")
    decimal_comma: bool | None = Field(None, description="1,5 instead of 1.5, there")
    paper: Literal["a4", "letter"] | None = Field(
        None, description="of the workbook's print set-up; left out: letter with US units, else a4"
    )


class Known(Record):
    """How a figure is known, and how far it may be off."""

    known: Literal["guess", "class", "measured"] = "guess"
    spread: str | None = None
    note: str | None = None


class Project(Record):
    format: Literal[1]
    name: Name
    decimal_comma: bool = Field(False, description='"5,5 kW" in this file means 5.5 kW')
    as_of: dt.date
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    country: str = Field(
        "general",
        description="whose guidelines hold for restraint, crush zones, circuits and empty mass:"
        " general, un-r100-m1-n1, un-r100-m2-n2, un-r100-m3-n3, australia or united-states",
    )
    rates: dict[str, Number] = Field(
        {}, description="one unit of that currency in the project's currency"
    )
    rates_as_of: dt.date | None = Field(
        None, description="the day of `[rates]`; told if it is more than a month from `as_of`"
    )
    catalogs: tuple[str, ...] = Field(("generic",), description="later ones override by id")
    donor: Donor
    bays: tuple[Bay, ...] = Field(min_length=1)
    floors: tuple[Floor, ...] = Field((), description="limits that several bays share")
    places: Places
    load_cases: tuple[LoadCase, ...] = Field(min_length=1)
    conditions: tuple[Condition, ...] = Field(min_length=1)
    targets: Targets
    charging: Charging = Charging()
    use: Use = Use()
    goal: Goal = Goal()
    choices: Choices = Choices()
    buying: Buying = Buying()
    margins: Margins = Margins()
    house_rules: HouseRules = HouseRules()
    budget: Budget = Budget()
    uncertainty: Uncertainty = Uncertainty()
    show: Show = Show()
    scenarios: tuple[Scenario, ...] = Field(
        (),
        max_length=MOST_SCENARIOS,
        description="named changes, each planned on request as a project of its own",
    )
    routes: dict[str, tuple[RoutePoint, ...]] = Field(
        {}, description="filled by the loader: profile name = the route file's points"
    )
    provenance: dict[str, Known] = Field(
        {}, description="filled by the loader: key path = how the figure is known"
    )

    @field_validator("routes")
    @classmethod
    def _driven_within_days(
        cls, routes: dict[str, tuple[RoutePoint, ...]]
    ) -> dict[str, tuple[RoutePoint, ...]]:
        """Route files are told so line by line; a plan file carries its routes."""
        for name, points in routes.items():
            if lap_s(points) > LONGEST_LAP_S:
                raise ValueError(f"{name} takes longer than {LONGEST_LAP_S // 3600} h")
        return routes
