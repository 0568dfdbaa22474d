"""What torque classes of packs allow: bounds on ``reference_table`` of every pack in a class.

A pack meets a torque in two figures: the power that it takes, and the voltage that must be left
under it. Over a class the least (or greatest) voltage left at each power, and the least (or
greatest) power of the current limit, give torques that every pack (or none) of it passes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.powertrain import PEAK_HOLD_S, REFERENCE_POINTS, draw
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import System

HALVINGS = 8  # open by 1/256 of the torque at most, to the safe side
# Wider than what the halving of the reference table leaves open (2^-24 of the torque).
TORQUE_SLACK = 1e-6
POWERS = 96


@dataclass(frozen=True, eq=False)
class Strength:
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
    system: System, packs: Strength, classes: IntArray, number: int, strong: bool
) -> FloatArray:
    """(classes, speeds) N·m: no table of the class lies below (``strong``: above) these.

    The speeds are those of ``reference_table``.
    """
    motor, controller = system.motor, system.controller
    speed = np.linspace(0.0, motor.max_speed_rad_s, REFERENCE_POINTS)
    step_w = np.zeros(number)
    most_w = np.zeros(number)
    left = np.full((number, POWERS + 1), -np.inf)
    pick = np.max if strong else np.min
    for place in range(number):
        here = classes == place
        if not here.any():
            continue
        most_w[place] = pick(packs.most_w[here])
        step_w[place] = max(most_w[place], 1.0) / POWERS
        some = Strength(*(a[here][:, None] for a in (
            packs.open_v, packs.ohm, packs.most_w, packs.reference_v)))  # fmt: skip
        left[place] = pick(some.left(step_w[place] * np.arange(POWERS + 1)), axis=0)
    row = np.arange(number)[:, None]

    def broken(torque: FloatArray) -> BoolArray:
        taken = draw(system, torque, speed)
        steps = np.maximum(taken.power_w, 0.0) / step_w[:, None]
        at = np.floor(steps) if strong else np.ceil(steps)
        volts = left[row, np.minimum(at, POWERS).astype(np.int64)]
        if isinstance(motor, SeriesMotor):
            amps = taken.motor_current_a
            over = motor.voltage(amps, speed) > np.minimum(volts, motor.voltage_limit(amps))
        else:
            full_w = min(motor.peak_power_w, motor.peak_torque_nm * motor.base_speed_rad_s)
            envelope = full_w * np.maximum(volts, 0.0) / np.maximum(speed, 1e-9)
            over = torque > np.minimum(motor.peak_torque_nm, envelope) * current_share
        dead = (taken.power_w > most_w[:, None]) | (volts < 0)
        return np.asarray((over & (torque > 0)) | dead, dtype=np.bool_)

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
    ceiling = np.broadcast_to(fixed, (number, REFERENCE_POINTS))
    low, high = np.zeros_like(ceiling), ceiling.copy()
    free = np.logical_not(broken(ceiling))
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        over = broken(middle)
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    if strong:
        return np.where(free, ceiling, high)
    return np.maximum(np.where(free, ceiling, low) - TORQUE_SLACK * float(fixed.max()), 0.0)


def between(system: System, tables: FloatArray, speed: FloatArray, strong: bool) -> FloatArray:
    """(classes, ...) the bound at any speed: the lesser (greater) of those on both sides.

    Beyond the last speed the last value holds, as in the reference table.
    """
    step = system.motor.max_speed_rad_s / (REFERENCE_POINTS - 1)
    at = np.minimum(np.floor(speed / step), REFERENCE_POINTS - 2).astype(np.int64)
    pick = np.maximum if strong else np.minimum
    both = pick(tables[:, :-1], tables[:, 1:])
    return np.asarray(both[:, at], dtype=np.float64)
