"""What torque classes of packs allow: bounds on ``reference_table`` of every pack in a class.

A pack meets a torque in two figures: the power that it takes, and the voltage that must be left
under it. Over a class the least (or greatest) voltage left at each power, and the least (or
greatest) power of the current limit, give torques that every pack (or none) of it passes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import BoolArray, Columns, FloatArray, IntArray
from bomplan.physics.powertrain import PEAK_HOLD_S, REFERENCE_POINTS, draw
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import System

HALVINGS = 8  # open by 1/256 of the torque at most, to the safe side
# Wider than what the halving of the reference table leaves open (2^-24 of the torque).
TORQUE_SLACK = 1e-6
POWERS = 96


@dataclass(frozen=True, eq=False)
class Strength(Columns):
    """Packs side by side where the limits of a profile are taken.

    ``open_v`` and ``ohm`` with the circuit; ``most_w`` what the current limit lets through;
    ``reference_v`` the voltage at which an envelope motor gives its envelope (any other: 1).
    """

    open_v: FloatArray
    ohm: FloatArray
    most_w: FloatArray
    reference_v: FloatArray

    def left(self, power_w: FloatArray) -> FloatArray:
        """Voltage left under a power over ``reference_v``; -inf where no current gives it."""
        inside = self.open_v**2 - 4.0 * power_w * self.ohm
        left = 0.5 * (self.open_v + np.sqrt(np.maximum(inside, 0.0))) / self.reference_v
        return np.where(inside >= 0, left, -np.inf)


def voltage_under(power_w: FloatArray, open_v: FloatArray, ohm: FloatArray) -> FloatArray:
    """Voltage left under a power, V; -inf where no current gives it."""
    inside = open_v * open_v - 4.0 * power_w * ohm
    left = 0.5 * (open_v + np.sqrt(np.maximum(inside, 0.0)))
    return np.where(inside >= 0, left, -np.inf)


def torque_bounds(
    system: System, weak: Strength, strong: Strength, classes: IntArray, number: int
) -> tuple[FloatArray, FloatArray]:
    """Two of (classes, speeds) N·m: no table of the class lies below the first, above the second.

    ``weak`` and ``strong`` hold the packs as they are least and most favoured. The speeds are
    those of ``reference_table``.
    """
    motor, controller = system.motor, system.controller
    most_w = np.zeros((2, number))
    left = np.full((2, number, POWERS + 1), -np.inf)
    shares = np.arange(POWERS + 1, dtype=np.float64)
    for place in range(number):
        here = np.flatnonzero(classes == place)
        if not len(here):
            continue
        for side, packs, pick in ((0, weak, np.min), (1, strong, np.max)):
            most_w[side, place] = pick(packs.most_w[here])
            step = max(float(most_w[side, place]), 1.0) / POWERS
            some = packs.some(here).beside()
            left[side, place] = pick(some.left(step * shares), axis=0)
    speed = np.linspace(0.0, motor.max_speed_rad_s, REFERENCE_POINTS)
    if isinstance(motor, SeriesMotor):
        current_share = 1.0
        fixed = np.minimum(
            motor.torque(motor.held_current_a(speed, PEAK_HOLD_S)),
            float(motor.torque(np.array([controller.motor_current_a(PEAK_HOLD_S)]))[0]),
        )
    else:
        held = controller.motor_current_a(PEAK_HOLD_S) / controller.motor_current_peak_a
        current_share = min(1.0, held)
        fixed = motor.held(speed, PEAK_HOLD_S)
    # Points stand in one row: weak classes, then strong ones, each over all speeds.
    turns = np.tile(speed, 2 * number)
    row = np.repeat(np.arange(2 * number), REFERENCE_POINTS)
    watts, volts_left = most_w.ravel(), left.reshape(2 * number, POWERS + 1)
    is_strong = np.arange(2 * number) >= number

    def broken(torque: FloatArray, points: IntArray) -> BoolArray:
        speed, at_row = turns[points], row[points]
        taken = draw(system, torque, speed)
        most = watts[at_row]
        steps = np.maximum(taken.power_w, 0.0) / (np.maximum(most, 1.0) / POWERS)
        at = np.where(is_strong[at_row], np.floor(steps), np.ceil(steps))
        volts = volts_left[at_row, np.minimum(at, POWERS).astype(np.int64)]
        if isinstance(motor, SeriesMotor):
            amps = taken.motor_current_a
            over = motor.voltage(amps, speed) > np.minimum(volts, motor.voltage_limit(amps))
        else:
            full_w = min(motor.peak_power_w, motor.peak_torque_nm * motor.base_speed_rad_s)
            envelope = full_w * np.maximum(volts, 0.0) / np.maximum(speed, 1e-9)
            over = torque > np.minimum(motor.peak_torque_nm, envelope) * current_share
        dead = (taken.power_w > most) | (volts < 0)
        return np.asarray((over & (torque > 0)) | dead, dtype=np.bool_)

    bound = np.tile(fixed, 2 * number)
    held_back = np.flatnonzero(broken(bound, np.arange(len(bound))))
    low, high = np.zeros(len(held_back)), bound[held_back]
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        over = broken(middle, held_back)
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    bound[held_back] = np.where(is_strong[row[held_back]], high, low)
    lower, upper = bound.reshape(2, number, REFERENCE_POINTS)
    return np.maximum(lower - TORQUE_SLACK * float(fixed.max()), 0.0), upper


def between(system: System, tables: FloatArray, speed: FloatArray, strong: bool) -> FloatArray:
    """(classes, ...) the bound at any speed: the lesser (greater) of those on both sides.

    Beyond the last speed the last value holds, as in the reference table.
    """
    step = system.motor.max_speed_rad_s / (REFERENCE_POINTS - 1)
    at = np.minimum(np.floor(speed / step), REFERENCE_POINTS - 2).astype(np.int64)
    pick = np.maximum if strong else np.minimum
    both = pick(tables[:, :-1], tables[:, 1:])
    return np.asarray(both[:, at], dtype=np.float64)
