"""Ratings that must hold for longer than a peak, at the reference mass.

A rolling mean is judged over every time that a part is rated for: a minute for the modules
(their ten-second rating is a limit of the drive itself), five minutes, an hour and for ever
for the motor, an hour and for ever for the controller. "For ever" is judged by the mean of a
whole drive that lasts two hours and more.

Direction: none of them reads mass, resistance or 12 V load of the bill, so that no bill makes
them worse or better. They are found at the greatest mass that the plate allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from bomplan.design.bill import DesignCurrents, at_least, at_most
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.design.rolling import FIVE_MINUTES_S, HOUR_S, MINUTE_S
from bomplan.physics import stall_seconds
from bomplan.source import practice

# A car that pulls away turns its motor within a second (common practice).
STALL_S = 1.0
OWN = "own figures; common practice"


def sustained_checks(context: Context, drive: Drive, currents: DesignCurrents) -> Iterator[Check]:
    """Pack, motor and controller against the worst rolling means of the declared driving."""
    yield from _pack(context, drive, currents)
    yield from _motor(context, drive, currents)
    yield from _controller(context, drive, currents)


def _pack(context: Context, drive: Drive, currents: DesignCurrents) -> Iterator[Check]:
    margin = 1 + context.project.margins.continuous
    mass_kg = currents.at_mass_g / 1000
    caution = "an overloaded pack runs hot and ages"
    yield at_most(
        "current.pack-continuous",
        f"worst ten-minute mean battery current at {mass_kg:.0f} kg on {currents.profile},"
        " against the modules' continuous rating",
        currents.rms_a * margin,
        drive.figures.discharge_continuous_a,
        "A",
        practice("module's own figure; common practice"),
        caution,
    )
    for load in currents.rolling:
        if load.seconds == MINUTE_S:
            yield at_most(
                "current.pack-minute",
                f"worst one-minute mean battery current at {mass_kg:.0f} kg, against the"
                " modules' continuous rating, which counts from a minute on",
                load.battery_a,
                drive.figures.discharge_continuous_a,
                "A",
                practice("module's own figure; common practice"),
                caution,
            )


def _motor(context: Context, drive: Drive, currents: DesignCurrents) -> Iterator[Check]:
    margin = 1 + context.project.margins.continuous
    motor = drive.motor
    if motor.text("kind") == "series_dc":
        yield at_most(
            "current.motor-hour",
            "worst one-hour mean motor current against the motor's one-hour rating",
            currents.motor_rms_a * margin,
            motor.number("hour_a"),
            "A",
            practice(f"motor's {OWN}"),
        )
        for seconds, column, name in (
            (FIVE_MINUTES_S, "five_minute_a", "five-minute"),
            (math.inf, "continuous_a", "continuous"),
        ):
            for load in currents.rolling:
                if load.seconds == seconds:
                    yield at_most(
                        f"current.motor-{name}",
                        f"worst mean motor current over {_window(seconds)} against the motor's"
                        f" {name} rating",
                        load.motor_a * margin,
                        motor.number(column),
                        "A",
                        practice(f"motor's {OWN}"),
                    )
        if currents.stall_a > 0:
            yield at_least(
                "motor.stall",
                f"seconds that the motor may stand still under {currents.stall_a:.0f} A, which"
                " just hold the car on the steepest start asked for",
                round(stall_seconds(motor.number("five_minute_a"), currents.stall_a), 2),
                STALL_S,
                "s",
                practice("3 s at the five-minute current, with the square of it (common practice)"),
                "holding a car on a hill with the motor burns the commutator: use the brake",
            )
        return
    hour_kw, continuous_kw = motor.number("hour_kw"), motor.number("continuous_kw")
    peak_kw = None
    if drive.pair is not None:
        hour_kw = min(hour_kw, drive.pair.hour_kw or math.inf)
        continuous_kw = min(continuous_kw, drive.pair.continuous_kw or math.inf)
        peak_kw = drive.pair.peak_kw
    yield at_most(
        "power.motor-hour",
        "worst one-hour mean motor power against the pair's one-hour rating",
        currents.motor_rms_kw * margin,
        hour_kw,
        "kW",
        practice(f"pair's and motor's {OWN}"),
    )
    for seconds, limit_kw, name in (
        (HOUR_S, hour_kw, "hour"),
        (math.inf, continuous_kw, "continuous"),
    ):
        for load in currents.rolling:
            if load.seconds == seconds and peak_kw is not None:
                yield at_most(
                    f"power.motor-load-{name}",
                    f"worst mean motor load over {_window(seconds)}, torque below base speed"
                    f" counted as the power it takes there, against the {name} rating",
                    load.motor_share * peak_kw * margin,
                    limit_kw,
                    "kW",
                    practice(f"pair's and motor's {OWN}"),
                )


def _controller(context: Context, drive: Drive, currents: DesignCurrents) -> Iterator[Check]:
    margin = 1 + context.project.margins.continuous
    yield at_most(
        "current.controller-hour",
        "worst one-hour mean motor current against the controller's one-hour rating",
        currents.motor_rms_a * margin,
        drive.controller.number("motor_a_hour"),
        "A",
        practice(f"controller's {OWN}"),
    )
    for load in currents.rolling:
        if load.seconds == math.inf:
            yield at_most(
                "current.controller-continuous",
                f"worst mean motor current over {_window(math.inf)} against the controller's"
                " continuous rating",
                load.motor_a * margin,
                drive.controller.number("motor_a_continuous"),
                "A",
                practice(f"controller's {OWN}"),
            )


def _window(seconds: float) -> str:
    return {
        FIVE_MINUTES_S: "five minutes",
        HOUR_S: "an hour",
        math.inf: "a whole drive of two hours and more",
    }[seconds]
