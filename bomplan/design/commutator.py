"""What a series motor's commutator bears, as figures that somebody sets in a controller."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, sqrt

import numpy as np

from bomplan.design.drive import Drive
from bomplan.design.driving import Driving
from bomplan.design.held_gears import best_gears
from bomplan.design.series_machine import RPM, series_motor
from bomplan.physics import SeriesMotor


@dataclass(frozen=True)
class Beyond:
    """A held speed of the driving record that needs more than the one voltage. km/h, V."""

    speed_kmh: float
    gear: int
    grade: float
    motor_v: float


@dataclass(frozen=True)
class Commutator:
    """The limit that the drive is simulated with: ``low_v`` at little current, falling in a
    straight line to ``high_v`` at ``high_a`` and from there on.

    ``one_v``: what a controller is set to that knows one voltage only, rounded down to a tenth.
    ``beyond``: held speeds that the simulation reaches on the line and that voltage does not.
    """

    low_v: float
    high_a: float
    high_v: float
    one_v: float
    beyond: tuple[Beyond, ...]


def commutator(drive: Drive, driving: Driving | None) -> Commutator | None:
    """None for a motor without a commutator."""
    if drive.motor.text("kind") != "series_dc":
        return None
    machine = series_motor(drive.motor)
    most_w = drive.battery_limit_a * drive.figures.charge_v
    found = one_voltage_v(machine, drive.controller.number("motor_a_peak"), most_w)
    one_v = floor(round(10 * found, 6)) / 10
    return Commutator(
        low_v=machine.max_voltage_v,
        high_a=machine.high_current_a,
        high_v=machine.max_voltage_high_v,
        one_v=one_v,
        beyond=tuple(_beyond(machine, driving, one_v)),
    )


def one_voltage_v(machine: SeriesMotor, most_a: float, most_w: float) -> float:
    """The highest voltage that never passes the commutator's line, whatever the throttle.

    ``most_a`` is the controller's motor current; ``most_w`` what the pack gives at its current
    limit, full and with nothing lost, which is more than ever reaches the motor. With so much
    power a motor current I meets at most ``most_w`` / I volts: the limit has to hold up to the
    largest current at which that is above the line (computed).
    """
    low, high, top = machine.max_voltage_v, machine.max_voltage_high_v, machine.high_current_a
    last = min(most_a, top)
    at_last = float(machine.voltage_limit(np.array([last]))[0])
    if low <= high:
        return low
    if last * at_last < most_w:
        return at_last
    # The line times the current is concave and starts below the power: it meets it once.
    slope = (low - high) / top
    current = (low - sqrt(low * low - 4 * slope * most_w)) / (2 * slope)
    return low - slope * current


def _beyond(machine: SeriesMotor, driving: Driving | None, one_v: float) -> list[Beyond]:
    grades = sorted({row.grade for row in driving.steady}) if driving is not None else []
    found = []
    for grade in grades:
        for row in best_gears(driving, grade):
            if not row.possible:
                continue
            amps, speed = np.array([row.motor_a]), np.array([row.motor_rpm * RPM])
            volts = float(machine.voltage(amps, speed)[0])
            if volts > one_v:
                found.append(Beyond(row.speed_kmh, row.gear, grade, volts))
    return found
