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
        """``torque_nm`` over (gears, seconds), or one such for each pack; ``speed_rad_s`` alike."""
        step = system.motor.max_speed_rad_s / (REFERENCE_POINTS - 1)
        torque = torque_nm * (1.0 - HAIR) - HAIR
        turns = speed_rad_s <= system.motor.max_speed_rad_s * (1.0 + HAIR)
        below = np.minimum(np.floor(speed_rad_s / step), REFERENCE_POINTS - 2) * step
        gearbox = torque <= system.driveline.greatest_shaft_torque(
            np.asarray(system.driveline.ratios, dtype=np.float64)[:, None]
        )
        self.nothing = (torque <= 0.0) & turns
        power, volts, free = needs(system, np.maximum(torque, 0.0), below)
        self.power_w = np.where(turns & gearbox & free, power, np.inf)
        self.volts = volts

    def hard(self, packs: Strength) -> IntArray:
        """Kinds of seconds that even a pack weaker than all of these might not do."""
        weakest = Strength(
            np.min(packs.open_v, keepdims=True),
            np.max(packs.ohm, keepdims=True),
            np.min(packs.most_w, keepdims=True),
            np.max(packs.reference_v, keepdims=True),
        )
        easy = self.nothing | _passes(weakest, self.power_w, self.volts)
        return np.flatnonzero(~easy.any(axis=-2))

    def able(self, packs: Strength) -> BoolArray:
        """(packs, kinds): whether some gear may do it."""
        able = np.zeros((len(packs.open_v), self.power_w.shape[-1]), dtype=np.bool_)
        one = packs.beside()
        for gear in range(self.power_w.shape[-2]):
            passes = _passes(one, self.power_w[..., gear, :], self.volts[..., gear, :])
            able |= self.nothing[..., gear, :] | passes
        return able


def _passes(packs: Strength, power_w: FloatArray, volts: FloatArray) -> BoolArray:
    finite = np.minimum(power_w, 1e12)
    enough = packs.left(finite) >= volts * (1.0 - HAIR)
    return np.asarray(enough & (power_w <= packs.most_w * (1.0 + HAIR)), dtype=np.bool_)


def needs(
    system: System, torque: FloatArray, speed: FloatArray, hold_s: float = PEAK_HOLD_S
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """(W, V over reference, whether motor and controller allow it whatever the pack)."""
    motor, controller = system.motor, system.controller
    torque, speed = np.broadcast_arrays(torque, speed)
    taken = draw(system, torque, speed)
    if isinstance(motor, SeriesMotor):
        amps = taken.motor_current_a
        volts = motor.voltage(amps, speed)
        free = volts <= motor.voltage_limit(amps)
        held = np.minimum(
            motor.torque(motor.held_current_a(speed, hold_s)),
            float(motor.torque(np.array([controller.motor_current_a(hold_s)]))[0]),
        )
        return taken.power_w, volts, free & (torque <= held)
    share = min(1.0, controller.motor_current_a(hold_s) / controller.motor_current_peak_a)
    full_w = min(motor.peak_power_w, motor.peak_torque_nm * motor.base_speed_rad_s) * share
    free = (torque <= motor.peak_torque_nm * share) & (torque <= motor.held(speed, hold_s))
    return taken.power_w, torque * speed / full_w, free


def missed_seconds(
    system: System,
    torque_nm: FloatArray,
    speed_rad_s: FloatArray,
    counts: IntArray,
    packs: Strength,
    weights: IntArray,
    spare: float = 0.0,
) -> IntArray:
    """Seconds of a lap that each pack misses at least; those up to ``spare`` may read as none.

    ``torque_nm`` over (masses, gears, kinds of seconds) is what the profile asks at each mass,
    ``counts`` how many seconds there are of each kind; ``weights`` the mass that goes with
    each pack, which may not be heavier than its own.
    """
    missed = np.zeros(len(weights), dtype=np.int64)
    # The greatest torques tell where to look; whatever seems easy there counts as done.
    hard = _Needs(system, torque_nm.max(axis=0), speed_rad_s).hard(packs)
    if not len(hard) or float(counts[hard].sum()) <= spare:
        return missed
    speed, counts = speed_rad_s[:, hard], counts[hard]
    if len(weights) == len(torque_nm):
        needs = _Needs(system, torque_nm[weights][:, :, hard], speed)
        return np.asarray(~needs.able(packs) @ counts, dtype=np.int64)
    for mass in range(len(torque_nm)):
        here = np.flatnonzero(weights == mass)
        if not len(here):
            continue
        some = packs.some(here)
        here_torque = torque_nm[mass][:, hard]
        still = _Needs(system, here_torque, speed).hard(some)
        if float(counts[still].sum()) > spare:
            needs = _Needs(system, here_torque[:, still], speed[:, still])
            missed[here] = ~needs.able(some) @ counts[still]
    return missed


__all__ = ["missed_seconds"]
