"""Ratings that must hold for longer than a peak, at the reference mass."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.bill import DesignCurrents, at_most
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check


def sustained_checks(context: Context, drive: Drive, currents: DesignCurrents) -> Iterator[Check]:
    """Pack, motor and controller against the worst rolling mean of the declared driving."""
    margin = 1 + context.project.margins.continuous
    at = f"at {currents.at_mass_g / 1000:.0f} kg on {currents.profile}"
    yield at_most(
        "current.pack-continuous",
        f"worst ten-minute mean battery current {at}, against the modules' continuous rating",
        currents.rms_a * margin,
        drive.figures.discharge_continuous_a,
        "A",
        "module's own figure; common practice",
        "an overloaded pack runs hot and ages",
    )
    motor = drive.motor
    if motor.text("kind") == "series_dc":
        yield at_most(
            "current.motor-hour",
            "worst one-hour mean motor current against the motor's one-hour rating",
            currents.motor_rms_a * margin,
            motor.number("hour_a"),
            "A",
            "motor's own figure; common practice",
        )
    else:
        hour_kw = motor.number("hour_kw")
        if drive.pair is not None and drive.pair.hour_kw is not None:
            hour_kw = min(hour_kw, drive.pair.hour_kw)
        yield at_most(
            "power.motor-hour",
            "worst one-hour mean motor power against the pair's one-hour rating",
            currents.motor_rms_kw * margin,
            hour_kw,
            "kW",
            "pair's and motor's own figures; common practice",
        )
    yield at_most(
        "current.controller-hour",
        "worst one-hour mean motor current against the controller's one-hour rating",
        currents.motor_rms_a * margin,
        drive.controller.number("motor_a_hour"),
        "A",
        "controller's own figure; common practice",
    )
