"""Which torques a pack allows, for many packs and seconds at once, without tables.

The drive takes its torque limits from a table over motor speed (``reference_table``). Between
two of its speeds the limit lies between those of both, so a torque that both allow is
allowed, and one that neither allows is not. What a point asks of the pack comes down to two
figures: the power it takes, and the voltage that must be left under it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray
from bomplan.physics.powertrain import PEAK_HOLD_S, REFERENCE_POINTS, draw
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import System

# Wider than what the table's halving leaves open (2^-24 of the greatest torque).
TORQUE_SLACK = 1e-6


@dataclass(frozen=True, eq=False)
class Needs:
    """What torques ask of a pack at the table's speeds beside each: (2, ...) arrays.

    ``power_w`` at the controller's input; ``voltage_v`` that must be left under it, ``inf``
    where motor, controller or gearbox forbid the torque whatever the pack.
    """

    power_w: FloatArray
    voltage_v: FloatArray


def needs(
    system: System, torque_nm: FloatArray, speed_rad_s: FloatArray, gearbox_nm: FloatArray
) -> Needs:
    """What each torque at its speed asks; arrays broadcast, a leading axis of two is added."""
    motor, controller = system.motor, system.controller
    step = motor.max_speed_rad_s / (REFERENCE_POINTS - 1)
    index = np.minimum(np.floor(speed_rad_s / step), REFERENCE_POINTS - 2)
    speed = np.stack(np.broadcast_arrays(index * step, (index + 1) * step))
    torque = np.broadcast_to(torque_nm, np.broadcast_shapes(torque_nm.shape, speed_rad_s.shape))
    both = np.stack([torque, torque])
    shape = (2,) + (1,) * (torque.ndim - speed_rad_s.ndim) + speed_rad_s.shape
    speed = speed.reshape(shape)
    taken = draw(system, both, speed)
    if isinstance(motor, SeriesMotor):
        fixed = np.minimum(
            motor.torque(motor.held_current_a(speed, PEAK_HOLD_S)),
            float(motor.torque(np.array([controller.motor_current_a(PEAK_HOLD_S)]))[0]),
        )
        amps = taken.motor_current_a
        volts = motor.voltage(amps, speed)
        volts = np.where(volts > motor.voltage_limit(amps), np.inf, volts)
    else:
        fixed = motor.held(speed, PEAK_HOLD_S)
        share = min(1.0, controller.motor_current_a(PEAK_HOLD_S) / controller.motor_current_peak_a)
        full_w = min(motor.peak_power_w, motor.peak_torque_nm * motor.base_speed_rad_s)
        volts = both / share * speed * (motor.reference_voltage_v / full_w)
        volts = np.where(both > motor.peak_torque_nm * share, np.inf, volts)
    volts = np.where((both > fixed) | (both > gearbox_nm), np.inf, volts)
    free = both <= 0
    return Needs(np.where(free, 0.0, taken.power_w), np.where(free, 0.0, volts))


def voltage_under(power_w: FloatArray, open_v: FloatArray, ohm: FloatArray) -> FloatArray:
    """Voltage left under a power, V; -inf where no current gives it."""
    inside = open_v * open_v - 4.0 * power_w * ohm
    left = 0.5 * (open_v + np.sqrt(np.maximum(inside, 0.0)))
    return np.where(inside >= 0, left, -np.inf)


def allowed(needed: Needs, open_v: FloatArray, ohm: FloatArray, most_w: FloatArray) -> BoolArray:
    """Whether packs allow what is needed; arrays broadcast against ``needed``."""
    enough = voltage_under(needed.power_w, open_v, ohm) >= needed.voltage_v
    return np.asarray(enough & (needed.power_w <= most_w), dtype=np.bool_)


@dataclass(frozen=True, eq=False)
class Weakest:
    """The voltage that the weakest of some packs has left at each power, and their least power."""

    power_w: FloatArray
    voltage_v: FloatArray
    most_w: float

    @classmethod
    def of(cls, open_v: FloatArray, ohm: FloatArray, most_w: FloatArray) -> Weakest:
        """Over packs side by side."""
        least = float(most_w.min())
        power = np.linspace(0.0, least, 65)
        left = voltage_under(power, open_v[:, None], ohm[:, None])
        return cls(power, np.min(left, axis=0), least)

    def allows(self, needed: Needs) -> BoolArray:
        """Whether every one of these packs allows it at both speeds."""
        at = np.searchsorted(self.power_w, needed.power_w)
        left = self.voltage_v[np.minimum(at, len(self.power_w) - 1)]
        within = (needed.power_w <= self.most_w) & (left >= needed.voltage_v)
        return np.asarray(within.all(axis=0), dtype=np.bool_)
