"""What a lap takes at least, for many masses at once, whatever pack stands behind it.

The same reasoning as :func:`bomplan.physics.bounds.least_battery_energy`, on arrays over
masses, and with the gears narrowed to those that the driver's table can come to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray
from bomplan.physics.bounds import VOLTAGE_HALVINGS, pack_free_limit
from bomplan.physics.demand import force_terms
from bomplan.physics.powertrain import draw, least_torque
from bomplan.physics.profile import Profile
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import System


@dataclass(frozen=True, eq=False)
class FreeLaps:
    """Laps with every limit but the pack's, over (masses, gears, seconds).

    ``torque_nm`` at the shaft, ``power_w`` at the controller's input; ``speed_rad_s`` over
    (gears, seconds); ``wanted_nm`` the torque asked before any limit.
    """

    system: System
    wanted_nm: FloatArray
    torque_nm: FloatArray
    speed_rad_s: FloatArray
    power_w: FloatArray


def free_laps(system: System, profile: Profile, masses_kg: FloatArray) -> FreeLaps:
    """One lap at each mass in each gear."""
    line = system.driveline
    per_kg, fixed = force_terms(system.road, profile, line.rotating_mass_factor)
    mass = np.asarray(masses_kg, dtype=np.float64)[:, None, None]
    ratio = np.asarray(line.ratios, dtype=np.float64)[:, None]
    gravity = system.road.gravity
    force = mass * per_kg + fixed
    force = np.minimum(force, line.grip_force(mass, profile.cosine, gravity))
    force = np.maximum(force, -line.braking_force(mass, profile.cosine, gravity))
    speed = line.motor_speed(profile.mean_speed_m_s, ratio)
    wanted = line.shaft_torque(force, ratio, profile.acceleration_m_s2)
    within = np.minimum(wanted, pack_free_limit(system, speed, ratio))
    lowest = least_torque(system, speed, system.regeneration and system.controller.regeneration)
    torque = np.where(speed > 0, np.maximum(within, lowest), 0.0)
    return FreeLaps(system, wanted, torque, speed, draw(system, torque, speed).power_w)


def least_powers(laps: FreeLaps, possible: BoolArray, spare: int) -> FloatArray:
    """Least power each second over (masses, seconds), W, 12 V side left out.

    ``possible`` over (gears, seconds): the gears that may be in use; one at least each
    second. Holds for every drive in which a pack cuts at most ``spare`` seconds of a lap
    short: a second that may be cut is held to what a cut one still takes.
    """
    barred = ~possible[None]
    power = np.min(np.where(barred, np.inf, laps.power_w), axis=1)
    shaft = laps.torque_nm * laps.speed_rad_s
    if isinstance(laps.system.motor, SeriesMotor):
        return _series(laps, barred, power, spare)
    least_shaft = np.min(np.where(barred, np.inf, shaft), axis=1)
    held = _ranked(least_shaft, spare)[:, None]
    among = np.where(least_shaft >= held, power, np.inf)
    top = np.minimum(np.min(among, axis=1), _ranked(power, spare))[:, None]
    # Only seconds in which some gear asks more than that shaft power can be cut to it.
    over = np.flatnonzero(np.any((shaft > held[:, :, None]) & ~barred, axis=(0, 1)))
    speed = laps.speed_rad_s[:, over]
    torque = laps.torque_nm[:, :, over]
    limited = np.minimum(torque, np.maximum(0.0, held[:, :, None]) / np.maximum(speed, 1e-9))
    cut = draw(laps.system, limited, speed).power_w
    cut = np.min(np.where(barred[:, :, over], np.inf, cut), axis=1)
    power[:, over] = np.minimum(power[:, over], cut)
    return np.minimum(power, top)


def _series(laps: FreeLaps, barred: BoolArray, power: FloatArray, spare: int) -> FloatArray:
    """A series motor: a cut second reaches the power or the voltage of an uncut one."""
    motor = laps.system.motor
    assert isinstance(motor, SeriesMotor)
    least_w = _ranked(power, 2 * spare)[:, None]
    volts = motor.voltage(motor.current(laps.torque_nm), laps.speed_rad_s)
    least_v = np.min(np.where(barred, np.inf, volts), axis=1)
    among = np.where(power >= least_w, least_v, -np.inf)
    limit_v = _ranked(among, spare)[:, None, None]
    over = (volts > limit_v) & (laps.torque_nm > 0) & ~barred
    columns = np.flatnonzero(np.any(over, axis=(0, 1)))
    speed = laps.speed_rad_s[:, columns]
    high = laps.torque_nm[:, :, columns]
    low = np.zeros_like(high)
    for _ in range(VOLTAGE_HALVINGS):
        middle = 0.5 * (low + high)
        above = motor.voltage(motor.current(middle), speed) > limit_v
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    cut = np.where(over[:, :, columns], draw(laps.system, low, speed).power_w, np.inf)
    power[:, columns] = np.minimum(power[:, columns], np.min(cut, axis=1))
    return np.minimum(power, least_w)


def _ranked(values: FloatArray, rank: int) -> FloatArray:
    """Per row the value of this rank from the top, 0 being the greatest."""
    at = max(0, values.shape[1] - 1 - rank)
    return np.asarray(np.partition(values, at, axis=1)[:, at], dtype=np.float64)
