"""A catalogue row of a series machine as the physics room's motor."""

from __future__ import annotations

import math

import numpy as np

from bomplan.catalog.records import Part
from bomplan.design.drive import magnetisation
from bomplan.physics import SeriesMotor

RPM = math.pi / 30


def series_motor(motor: Part) -> SeriesMotor:
    """The machine of this row, its ratings in ampere."""
    currents, torques = magnetisation(motor)
    ratings = [
        (seconds, motor.number(column))
        for seconds, column in (
            (300.0, "five_minute_a"),
            (3600.0, "hour_a"),
            (math.inf, "continuous_a"),
        )
        if motor.has(column)
    ]
    return SeriesMotor(
        current_a=np.array(currents[1:]),
        torque_nm=np.array(torques[1:]),
        resistance_ohm=motor.number("resistance_hot_mohm") * 1e-3,
        brush_v=motor.number("brush_v"),
        max_voltage_v=motor.number("max_motor_v"),
        high_current_a=motor.number_or("high_current_a", currents[-1]),
        max_voltage_high_v=motor.number_or("max_motor_v_high_current", motor.number("max_motor_v")),
        max_speed_rad_s=motor.number("max_speed_rpm") * RPM,
        ratings=tuple(ratings),
        self_cooled=motor.text("cooling") == "self",
    )
