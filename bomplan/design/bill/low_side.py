"""The 12 V side: fused circuits with their wires, and the feed between converter and battery."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple, cast

from bomplan.catalog.records import Part
from bomplan.design.bill.branches import apart_mm, isolation_watched
from bomplan.design.bill.charging import monitored
from bomplan.design.bill.rule import DesignCurrents, Rule, at_least, from_finding
from bomplan.design.bill.supply_12v import coldest_c, safety_load_a
from bomplan.design.bill.traction import fuse_data
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.design.spots import Spot, bay_spot, place_spot
from bomplan.sizing.contactor import poles_switched
from bomplan.sizing.low_voltage import BATTERY_V, reserve_ah
from bomplan.sizing.protection import CableData
from bomplan.sizing.wiring_12v import (
    COIL_A,
    CONTROLLER_A,
    COOLING_A,
    ELECTRONICS_A,
    FAN_A,
    PUMP_RUNS_A,
    RELAY_A,
    SPARE,
    Circuit12V,
    check_battery,
    check_circuits,
    check_feed,
)
from bomplan.source import COMMON, practice

BURNS = "a 12 V wire that its fuse does not protect sets the loom on fire"
TAIL_MM = 500
"""Both ends of a piece of 12 V wire together; common practice."""
CHAIN, CONTROLLER, GAUGE = "the contactors' coils", "the controller", "gauge and monitors"
PUMP, COOLING = "the vacuum pump", "coolant pump and fan"
FANS, HEATER = "the boxes' fans", "the heater's relay"
FEEDS = 2
"""A fuse towards the converter and one towards the fuse box, both at the battery."""


def circuits_12v(context: Context, drive: Drive) -> tuple[Circuit12V, ...]:
    """What the conversion adds behind blade fuses, in the order of the fuse box.

    The chain runs from the fuse box past key, inertia switch and monitors to the coils.
    """
    asked = _Asked(
        coils=poles_switched(drive.figures.charge_v),
        relay=not drive.controller.flag("precharge_built_in"),
        monitored=monitored(drive),
        watched=isolation_watched(drive),
        cooled="liquid" in (drive.motor.text("cooling"), drive.controller.text("cooling")),
        fans=min(len(context.bays), drive.core.series)
        if drive.module.number_or("gassing_a_per_100ah", 0) > 0
        else 0,
    )
    key = ("circuits of 12 V", asked)
    known = context.remembered.get(key)
    if known is None:
        known = context.remembered[key] = tuple(_circuits(context, asked))
    return cast(tuple[Circuit12V, ...], known)


class _Asked(NamedTuple):
    """What the 12 V circuits hang on of a core."""

    coils: int
    relay: bool
    monitored: bool
    watched: bool
    cooled: bool
    fans: int


def _circuits(context: Context, asked: _Asked) -> Iterator[Circuit12V]:
    box = place_spot(context, "fuse_box_12v", "other")
    driver = _driver(context)
    control = place_spot(context, "controller", "controller")
    chain = [box, driver, place_spot(context, "inertia_switch", "other")]
    if asked.monitored:
        chain.append(_bay(context, box))
    chain += [place_spot(context, "contactor", "controller"), box]
    electronics = 1 + (1 if asked.monitored else 0) + (1 if asked.watched else 0)
    far = max((driver, _bay(context, box)), key=lambda spot: apart_mm(box, spot))
    coil_a = COIL_A * asked.coils + (RELAY_A if asked.relay else 0)
    yield _circuit(context, CHAIN, coil_a, chain)
    yield _circuit(context, CONTROLLER, CONTROLLER_A, [box, control, box])
    yield _circuit(context, GAUGE, ELECTRONICS_A * electronics, [box, far, box])
    if context.project.donor.brake_booster:
        pump = place_spot(context, "vacuum_set", "motor")
        yield _circuit(context, PUMP, PUMP_RUNS_A, [box, pump, box])
    if asked.cooled:
        cooler = place_spot(context, "cooling_set", "controller")
        yield _circuit(context, COOLING, COOLING_A, [box, cooler, box])
    if asked.fans:
        yield _circuit(context, FANS, FAN_A * asked.fans, [box, _bay(context, box), box])
    if any(condition.heater_w > 0 for condition in context.project.conditions):
        heater = place_spot(context, "heater", "other")
        yield _circuit(context, HEATER, RELAY_A, [box, heater, box])


def _driver(context: Context) -> Spot:
    """Where key and gauge are: at the driver's seat, or where the common place is."""
    places = context.project.places
    if places.driver_x_mm is None:
        return place_spot(context, "gauge", "other")
    return Spot(places.driver_x_mm, places.driver_y_mm, places.driver_z_mm)


def _bay(context: Context, box: Spot) -> Spot:
    """The bay that is farthest from the fuse box, whether or not it is used."""
    return max(
        (bay_spot(context, index) for index in range(len(context.bays))),
        key=lambda spot: apart_mm(box, spot),
    )


def _circuit(context: Context, name: str, amps: float, way: list[Spot]) -> Circuit12V:
    """Its pieces of wire along the way."""
    legs = [_piece_mm(context, one, other) for one, other in pairwise(way)]
    return Circuit12V(name, amps, tuple(legs))


def _piece_mm(context: Context, one: Spot, other: Spot) -> int:
    """A piece of wire from one place to another, with its two ends and the usual slack."""
    slack = 1 + context.project.house_rules.cable_slack
    return math.ceil((apart_mm(one, other) + TAIL_MM) * slack)


def feed_mm(context: Context) -> int:
    """One pole from the 12 V converter to the 12 V battery, slack included."""
    return _piece_mm(
        context,
        place_spot(context, "dcdc", "charger"),
        place_spot(context, "battery_12v", "other"),
    )


def box_feed_mm(context: Context) -> int:
    """From the 12 V battery to the fuse box, slack included."""
    return _piece_mm(
        context,
        place_spot(context, "battery_12v", "other"),
        place_spot(context, "fuse_box_12v", "other"),
    )


class FuseBox12V(Rule):
    family = "fuse_box_12v"
    system = "12 V side"
    too_few = BURNS

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield at_least(
            "fuse_box_12v.circuits",
            "fused circuits of the box against those that the conversion adds",
            part.number("circuits"),
            len(circuits_12v(context, drive)),
            "circuits",
            practice("a fuse for every circuit (common practice)"),
            BURNS,
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        named = ", ".join(one.name.removeprefix("the ") for one in circuits_12v(context, drive))
        return f"one blade fuse each: {named}"


class Wire12V(Rule):
    """Out and back of every fused circuit, by the metre and in one size."""

    family = "wire_12v"
    system = "12 V side"
    unit = "m"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return math.ceil(sum(one.loop_m for one in circuits_12v(context, drive)))

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        ambient = context.project.house_rules.conductor_ambient_c
        for finding in check_circuits(
            circuits_12v(context, drive), cable_data(part), ambient, _reserve_ah(context)
        ):
            yield from_finding(finding, BURNS)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"out and back to {len(circuits_12v(context, drive))} circuits, one size for all"


def _reserve_ah(context: Context) -> float:
    """No battery of the plan is smaller, for it has to last without the converter."""
    project = context.project
    if not project.donor.loads_12v:
        return max(reserve_ah(project.donor.load_12v_w / BATTERY_V), 2.0)
    hours = project.house_rules.reserve_12v_minutes / 60
    cold = coldest_c(project)
    # A project may ask for no reserve at all; no battery is as small as that.
    return max(reserve_ah(safety_load_a(project), hours, temperature_c=cold), 2.0)


def cable_data(part: Part) -> CableData:
    """A wire of the 12 V side as the sizing room sees it."""
    return CableData(
        resistance_mohm_per_m=part.number("resistance_mohm_per_m"),
        insulation_c=part.number("insulation_c"),
        v_rating=part.number_or("v_rating", 60.0),
    )


class _OfFeed(Rule):
    """A family of the feed: all of them hang on the converter's own row through joints."""

    side = "pack"
    system = "12 V side"


class FeedFuse(_OfFeed):
    family = "feed_fuse"
    too_few = BURNS

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return FEEDS

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "at the 12 V battery: one towards the converter, one towards the fuse box"


class FeedWire(_OfFeed):
    """Both poles between converter and battery, and one on to the fuse box."""

    family = "feed_wire"
    unit = "m"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return math.ceil((2 * feed_mm(context) + box_feed_mm(context)) / 1000)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "from the 12 V converter to the 12 V battery, both poles, and on to the fuse box"


class FeedLug(_OfFeed):
    """Two ends of three conductors, and two more where the fuse stands in each positive one."""

    family = "feed_lug"
    too_few = "a wire clamped under a screw works loose and glows"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 6 + 2 * FEEDS

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "both ends of every piece of the 12 V feed"


def feed_fuse_and_converter(
    context: Context,  # noqa: ARG001
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    fuse: Part,
    converter: Part,
) -> Iterator[Check]:
    """The fuse at the battery carries all that the converter gives, for hours."""
    yield at_least(
        "feed_fuse.converter",
        "the 12 V feed's fuse carries the converter's full current with a quarter to spare",
        fuse.number("rated_a"),
        SPARE * converter.number("output_a"),
        "A",
        COMMON,
        "a feed that blows leaves lamps and contactors on a battery that nothing charges",
    )


def feed_fuse_and_battery(
    context: Context,  # noqa: ARG001
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    fuse: Part,
    battery: Part,
) -> Iterator[Check]:
    """The battery's short circuit against the fuse: new and full, cold and worn."""
    for finding in check_battery(fuse_data(fuse), battery.number("capacity_ah")):
        yield from_finding(finding, BURNS)


def feed_fuse_and_wire(
    context: Context,
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    fuse: Part,
    wire: Part,
) -> Iterator[Check]:
    """By its rating alone: nothing limits what a battery gives."""
    for finding in check_feed(
        fuse_data(fuse),
        cable_data(wire),
        2 * feed_mm(context) / 1000,
        context.project.house_rules.conductor_ambient_c,
    ):
        yield from_finding(finding, BURNS)


RULES: tuple[Rule, ...] = (FuseBox12V(), Wire12V(), FeedFuse(), FeedWire(), FeedLug())
