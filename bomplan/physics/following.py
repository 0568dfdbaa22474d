"""Which packs can follow a profile at all: enough voltage and power behind each torque it asks.

A torque at a speed asks two figures of a pack, whatever pack it is: the power that it must give
and the voltage that must be left under it. So what a profile asks is found once, and each pack
is held against it. The limits of a profile stand in a table over speed (``reference_table``),
straight between its entries: a torque is out of reach for certain only if it is so at the
entries on both sides. Power and voltage for a torque rise with speed, so the slower one tells.
"""

from __future__ import annotations

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.powertrain import PEAK_HOLD_S, REFERENCE_POINTS, draw
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import System
from bomplan.physics.torque_bounds import Strength

HAIR = 2e-8  # wider than what the table and the drive leave open


class _Needs:
    """What torques at speeds ask of any pack: W, and V over the pack's reference voltage."""

    def __init__(self, system: System, torque_nm: FloatArray, speed_rad_s: FloatArray) -> None:
        """``torque_nm`` over (gears, seconds), ``speed_rad_s`` alike."""
        step = system.motor.max_speed_rad_s / (REFERENCE_POINTS - 1)
        torque = torque_nm * (1.0 - HAIR) - HAIR
        turns = speed_rad_s <= system.motor.max_speed_rad_s * (1.0 + HAIR)
        below = np.minimum(np.floor(speed_rad_s / step), REFERENCE_POINTS - 2) * step
        gearbox = torque <= system.driveline.greatest_shaft_torque(
            np.asarray(system.driveline.ratios, dtype=np.float64)[:, None]
        )
        self.nothing = (torque <= 0.0) & turns
        power, volts, free = _needs(system, np.maximum(torque, 0.0), below)
        self.power_w = np.where(turns & gearbox & free, power, np.inf)
        self.volts = volts

    def able(self, packs: Strength) -> BoolArray:
        """(packs, seconds): whether some gear may do it."""
        power = self.power_w
        found = np.broadcast_to(self.nothing.any(axis=0), (len(packs.open_v), power.shape[-1]))
        hard = np.flatnonzero(~found[0] & ~self._weakest(packs))
        able = np.ones(found.shape, dtype=np.bool_)
        if len(hard):
            power, volts = power[:, hard], self.volts[:, hard]
            open_v, ohm, most_w, reference_v = (
                values[:, None]
                for values in (packs.open_v, packs.ohm, packs.most_w, packs.reference_v)
            )
            one = Strength(open_v, ohm, most_w, reference_v)
            some = np.zeros((len(open_v), len(hard)), dtype=np.bool_)
            for gear in range(len(power)):
                some |= _passes(one, power[gear], volts[gear])
            able[:, hard] = some
        return able

    def _weakest(self, packs: Strength) -> BoolArray:
        """Seconds that even a pack weaker than all of these can do."""
        weakest = Strength(
            np.min(packs.open_v, keepdims=True),
            np.max(packs.ohm, keepdims=True),
            np.min(packs.most_w, keepdims=True),
            np.max(packs.reference_v, keepdims=True),
        )
        passes = _passes(weakest, self.power_w, self.volts)
        return np.asarray(passes.any(axis=0), dtype=np.bool_)


def _passes(packs: Strength, power_w: FloatArray, volts: FloatArray) -> BoolArray:
    finite = np.minimum(power_w, 1e12)
    enough = packs.left(finite) >= volts * (1.0 - HAIR)
    return np.asarray(enough & (power_w <= packs.most_w * (1.0 + HAIR)), dtype=np.bool_)


def _needs(
    system: System, torque: FloatArray, speed: FloatArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """(W, V over reference, whether motor and controller allow it whatever the pack)."""
    motor, controller = system.motor, system.controller
    torque = np.broadcast_to(torque, speed.shape)
    taken = draw(system, torque, speed)
    if isinstance(motor, SeriesMotor):
        amps = taken.motor_current_a
        volts = motor.voltage(amps, speed)
        free = volts <= motor.voltage_limit(amps)
        held = np.minimum(
            motor.torque(motor.held_current_a(speed, PEAK_HOLD_S)),
            float(motor.torque(np.array([controller.motor_current_a(PEAK_HOLD_S)]))[0]),
        )
        return taken.power_w, volts, free & (torque <= held)
    share = min(1.0, controller.motor_current_a(PEAK_HOLD_S) / controller.motor_current_peak_a)
    full_w = min(motor.peak_power_w, motor.peak_torque_nm * motor.base_speed_rad_s) * share
    free = (torque <= motor.peak_torque_nm * share) & (torque <= motor.held(speed, PEAK_HOLD_S))
    return taken.power_w, torque * speed / full_w, free


def missed_seconds(
    system: System,
    torque_nm: FloatArray,
    speed_rad_s: FloatArray,
    counts: IntArray,
    packs: Strength,
    weights: IntArray,
) -> IntArray:
    """Seconds of a lap that each pack misses at least.

    ``torque_nm`` over (masses, gears, kinds of seconds) is what the profile asks at each mass,
    ``counts`` how many seconds there are of each kind; ``weights`` the mass that goes with
    each pack, which may not be heavier than its own.
    """
    missed = np.zeros(len(weights), dtype=np.int64)
    for mass in range(len(torque_nm)):
        here = np.flatnonzero(weights == mass)
        if len(here):
            needs = _Needs(system, torque_nm[mass], speed_rad_s)
            some = Strength(
                packs.open_v[here], packs.ohm[here], packs.most_w[here], packs.reference_v[here]
            )
            missed[here] = (~needs.able(some)) @ counts
    return missed


__all__ = ["missed_seconds"]
