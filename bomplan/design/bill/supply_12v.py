"""The 12 V side of the car that stays: what converter and battery owe it."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import at_least
from bomplan.design.context import Context
from bomplan.design.records import Check
from bomplan.project.records import Project
from bomplan.project.twelve_volt import reserve_w
from bomplan.sizing.low_voltage import BATTERY_V, CONTROLS_A, PUMP_A, reserve_ah
from bomplan.source import COMMON, practice

BLOWER = "heater-blower"
DARK = "a car that goes dark at night, or loses its contactors in traffic, is run into"


def coldest_c(project: Project) -> float:
    """The coldest of the declared conditions."""
    return min(condition.temperature_c for condition in project.conditions)


def safety_load_a(project: Project) -> float:
    """What the 12 V battery feeds alone when the converter has failed: lamps, wipers, controls.

    Coils, controller and monitor go on, and the vacuum pump where the brakes need it, for the
    car has to reach the side of the road, and be seen there.
    """
    donor = project.donor
    own = CONTROLS_A + (PUMP_A if donor.brake_booster else 0.0)
    return reserve_w(donor.loads_12v) / BATTERY_V + own


def converter_checks(context: Context, supply_w: int) -> Iterator[Check]:
    """Whether four fifths of a converter carry the car's own loads, the bill's parts left out."""
    donor = context.project.donor
    if donor.loads_12v:
        yield at_least(
            "dcdc.loads",
            "four fifths of the converter against what the car keeps on its 12 V side, at night, in"
            " rain and in winter",
            supply_w,
            donor.worst_12v_w,
            "W",
            practice("named loads with their duty over 0.8 (common practice)"),
            "a converter that is too small sags: lamps dim, and contactors drop out while driving",
        )


def unblown(project: Project) -> tuple[str, ...]:
    """A sentence where the cabin is heated and no blower is among the loads that are named."""
    donor = project.donor
    heat_w = max(condition.heater_w for condition in project.conditions)
    if not donor.loads_12v or heat_w <= 0 or any(one.name == BLOWER for one in donor.loads_12v):
        return ()
    return (
        f"The conditions ask for {heat_w:.0f} W of cabin heat, and donor.loads_12v names no"
        f" {BLOWER}: an element without air burns, and what its blower draws is missing. Name it,"
        " or make sure that the heater brings its own.",
    )


def battery_checks(context: Context, battery: Part) -> Iterator[Check]:
    """Whether the 12 V battery lasts without the converter: lights with the traction pack off."""
    project = context.project
    donor = project.donor
    if not donor.loads_12v:
        yield at_least(
            "battery12.reserve",
            "half an hour of 12 V load from half its capacity",
            battery.number("capacity_ah"),
            reserve_ah(donor.load_12v_w / BATTERY_V),
            "Ah",
            COMMON,
        )
        return
    amps, cold = safety_load_a(project), coldest_c(project)
    minutes = project.house_rules.reserve_12v_minutes
    yield at_least(
        "battery12.reserve",
        f"the 12 V battery feeds lamps, hazards, wipers and controls ({amps:.1f} A) for"
        f" {minutes:.0f} minutes at {cold:.0f} °C when the converter has failed",
        battery.number("capacity_ah"),
        reserve_ah(amps, minutes / 60, temperature_c=cold),
        "Ah",
        practice(
            "half of a lead-acid battery, half an hour: common practice; one part in a hundred less"
            " for every kelvin below 25 °C (seen)"
        ),
        DARK,
    )
