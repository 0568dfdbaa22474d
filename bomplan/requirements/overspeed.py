"""How fast the machine is turned: by its targets and by a road that runs downhill."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor, pi

from bomplan.catalog.records import Part
from bomplan.design.bill import at_least, at_most
from bomplan.design.context import Context
from bomplan.design.records import Check
from bomplan.source import recalled

OVERSPEED = 1.2
"""What every machine must stand over its highest speed for two minutes: IEC 60034-1 (from
memory)."""
SOURCE = recalled("overspeed of 1.2 for two minutes: IEC 60034-1 (from memory)")
_SERIES = (
    "an armature that is turned too fast throws its windings out through the case, under the"
    " driver's feet"
)
_OTHERS = "a rotor that is turned too fast bursts or loses its magnets"


def burst_checks(context: Context, motor: Part, final_ratio: float) -> Iterator[Check]:
    """The speed at which the machine may burst, against the road and its own top speed.

    Nothing where its row does not give it.
    """
    if not motor.has("burst_speed_rpm"):
        return
    burst = motor.number("burst_speed_rpm")
    caution = _caution(motor)
    yield at_least(
        "motor.burst-margin",
        f"speed at which {motor.id} may burst against a fifth above its top speed",
        burst,
        OVERSPEED * motor.number("max_speed_rpm"),
        "rpm",
        SOURCE,
        caution,
    )
    speed, gear, ratio = fastest(context, motor, final_ratio)
    turns = speed * ratio / (context.project.donor.driveline.wheel_radius_mm / 1000) * 30 / pi
    yield at_most(
        "motor.burst-in-gear",
        f"speed of the motor in gear {gear} at the highest road speed that is asked for"
        f" ({3.6 * speed:.0f} km/h), a fifth above it as on a long descent, against where it may"
        " burst",
        OVERSPEED * turns,
        burst,
        "rpm",
        recalled(f"gears and wheel (computed); {SOURCE}"),
        caution,
    )


def gear_ceilings(context: Context, motor: Part, final_ratio: float) -> tuple[float, ...]:
    """Road speed in m/s at which each gear turns the motor as fast as it stands; empty without
    gears to choose.

    That is its burst speed where the row gives it, else a fifth above its top speed.
    """
    driveline = context.project.donor.driveline
    if motor.text("mount") == "axle" or len(driveline.gear_ratios) < 2:
        return ()
    rpm = motor.number_or("burst_speed_rpm", OVERSPEED * motor.number("max_speed_rpm"))
    radius_m = driveline.wheel_radius_mm / 1000
    return tuple(
        rpm * pi / 30 / (ratio * final_ratio) * radius_m for ratio in driveline.gear_ratios
    )


def wrong_gear_checks(context: Context, motor: Part, final_ratio: float) -> Iterator[Check]:
    """One gear too low at the highest road speed, where the project forbids that to burst."""
    ceilings = gear_ceilings(context, motor, final_ratio)
    if context.project.house_rules.missed_downshift != "forbid" or not ceilings:
        return
    speed, gear, _ = fastest(context, motor, final_ratio)
    if gear < 2:
        return
    yield at_most(
        "motor.missed-downshift",
        f"highest road speed that is asked for against the one at which gear {gear - 1}, taken by"
        f" mistake for gear {gear}, {what_then(motor)}",
        3.6 * speed,
        3.6 * ceilings[gear - 2],
        "km/h",
        recalled(f"gears and wheel (computed); {SOURCE}"),
        _caution(motor),
    )


def wrong_gear(context: Context, motor: Part, final_ratio: float) -> tuple[str, ...]:
    """A sentence on what a missed change of gear does, where it goes beyond what the motor stands.

    The wheels turn the motor, and no limit of the controller holds it.
    """
    never = never_above(context, motor, final_ratio)
    if not never:
        return ()
    return (
        f"A missed change of gear {what_then(motor)}, for the wheels turn it and no limit of the"
        f" controller holds it: never {', '.join(never)}.",
    )


def never_above(context: Context, motor: Part, final_ratio: float) -> tuple[str, ...]:
    """``gear 1 above 48 km/h``: gears that a speed that is asked for would turn too fast."""
    ceilings = gear_ceilings(context, motor, final_ratio)
    if not ceilings:
        return ()
    speed, gear, _ = fastest(context, motor, final_ratio)
    return tuple(
        f"gear {number} above {floor(3.6 * top)} km/h"
        for number, top in enumerate(ceilings[: gear - 1], 1)
        if top < speed
    )


def what_then(motor: Part) -> str:
    """What happens to a motor that the wheels turn too fast, after the words for how."""
    if motor.has("burst_speed_rpm"):
        return f"may burst the motor ({motor.number('burst_speed_rpm'):.0f} rpm)"
    most = OVERSPEED * motor.number("max_speed_rpm")
    return f"turns the motor faster than it is known to stand ({most:.0f} rpm)"


def _caution(motor: Part) -> str:
    return _SERIES if motor.text("kind") == "series_dc" else _OTHERS


def fastest(context: Context, motor: Part, final_ratio: float) -> tuple[float, int, float]:
    """Highest road speed that is asked for in m/s, the gear driven there, motor turns per wheel's.

    The gear is that of the shift speeds: the last without any.
    """
    driveline = context.project.donor.driveline
    speed = context.highest_speed_m_s
    if motor.text("mount") == "axle":
        return speed, 1, motor.number("unit_ratio")
    shifts = driveline.shift_speeds_m_s
    gear = sum(speed > shift for shift in shifts) if shifts else len(driveline.gear_ratios) - 1
    gear = min(gear, len(driveline.gear_ratios) - 1)
    return speed, gear + 1, driveline.gear_ratios[gear] * final_ratio
