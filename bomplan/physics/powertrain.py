"""Motor and controller together: what they draw for a torque at a speed, and their limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import FloatArray
from bomplan.physics.battery import current_for_power
from bomplan.physics.envelope_motor import EnvelopeMotor
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import System, TorqueTable

REFERENCE_POINTS = 128
HALVINGS = 24
NEARLY_EMPTY = 0.2  # share of the usable window left where limits of a profile are taken
PEAK_HOLD_S = 10.0

MOTOR_SPEED, TORQUE, MOTOR_CURRENT, GEARBOX, VOLTAGE, BATTERY_CURRENT, PACK_VOLTAGE = range(7)
CAUSES = (
    "motor speed",
    "motor rating",
    "motor current",
    "gearbox",
    "voltage",
    "battery current",
    "pack voltage",
)


@dataclass(frozen=True)
class Draw:
    """Arrays over the same points: motor amps, motor and controller losses, terminal watts."""

    motor_current_a: FloatArray
    motor_loss_w: FloatArray
    controller_loss_w: FloatArray
    power_w: FloatArray


def draw(system: System, torque_nm: FloatArray, speed_rad_s: FloatArray) -> Draw:
    """What motor and controller take at the controller's input for a shaft torque."""
    motor, controller = system.motor, system.controller
    if isinstance(motor, SeriesMotor):
        current, motor_loss, loss = motor.loss_parts(torque_nm, controller)
    else:
        amps = motor.current_per_torque(speed_rad_s, controller)
        current = np.abs(torque_nm) * amps
        motor_loss = motor.loss_w(torque_nm, speed_rad_s)
        loss = controller.loss_w(current)
    return Draw(current, motor_loss, loss, torque_nm * speed_rad_s + motor_loss + loss)


def least_torque(
    system: System, speed_rad_s: FloatArray, regenerate: bool | None = None
) -> FloatArray:
    """Most negative torque the motor is asked for, N·m; zero for a series motor.

    ``regenerate`` overrides whether the pack, among the others, permits it.
    """
    if isinstance(system.motor, EnvelopeMotor):
        wanted = system.regenerates if regenerate is None else regenerate
        torque = system.motor.least_torque(speed_rad_s, system.controller, wanted)
        if system.driveline.input_torque_limit_nm is not None:
            torque = np.maximum(torque, -system.driveline.input_torque_limit_nm)
        return torque
    return np.zeros_like(speed_rad_s)


@dataclass(frozen=True)
class TorqueLimit:
    """Greatest shaft torque at each speed, N·m, and which limit sets it (index of CAUSES)."""

    torque_nm: FloatArray
    cause: FloatArray


def torque_limit(
    system: System,
    speed_rad_s: FloatArray,
    ratio: float | FloatArray | None,
    open_circuit_v: float,
    resistance_ohm: float,
    auxiliary_w: float,
    hold_s: float,
    floor_v: float,
    power_cap_w: float | None = None,
) -> TorqueLimit:
    """Greatest shaft torque that every limit allows for ``hold_s``, at each speed.

    Limits: motor speed; the motor's rating; the controller's motor current; gearbox and
    wheel torque in this ratio (none if ``ratio`` is None); the voltage the pack has left
    under this very load (envelope, or back-EMF of a series motor); battery current of
    controller and pack (or, if given, ``power_cap_w`` in its place); ``floor_v`` at the
    terminals. Found by halving: every limit is
    passed at a smaller torque if it is passed at a greater one.
    """
    speed = np.asarray(speed_rad_s, dtype=np.float64)
    fixed = _fixed_limits(system, speed, ratio, hold_s)
    ceiling = np.min(fixed, axis=0)
    cause = np.argmin(fixed, axis=0)
    hold = _Hold(system, open_circuit_v, resistance_ohm, auxiliary_w, hold_s, floor_v, power_cap_w)
    broken = hold.broken(ceiling, speed)
    blocked = broken.any(axis=0)
    if not blocked.any():
        return TorqueLimit(ceiling, cause.astype(np.float64))
    low, high = np.zeros_like(ceiling), ceiling.copy()
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        over = hold.broken(middle, speed).any(axis=0)
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    which = np.argmax(hold.broken(high, speed), axis=0)
    torque = np.where(blocked, low, ceiling)
    cause = np.where(blocked, which + VOLTAGE, cause)
    return TorqueLimit(torque, cause.astype(np.float64))


def _fixed_limits(
    system: System, speed: FloatArray, ratio: float | FloatArray | None, hold_s: float
) -> FloatArray:
    motor, controller = system.motor, system.controller
    rows = np.full((4, len(speed)), np.inf)
    rows[MOTOR_SPEED] = np.where(speed > motor.max_speed_rad_s * (1 + 1e-9), 0.0, np.inf)
    if isinstance(motor, SeriesMotor):
        rows[TORQUE] = motor.torque(motor.held_current_a(speed, hold_s))
        rows[MOTOR_CURRENT] = motor.torque(np.array([controller.motor_current_a(hold_s)]))[0]
    else:
        rows[TORQUE] = motor.held(speed, hold_s)
    if ratio is not None:
        rows[GEARBOX] = system.driveline.greatest_shaft_torque(ratio)
    return rows


class _Hold:
    """The limits that depend on the pack's voltage under load."""

    def __init__(
        self,
        system: System,
        open_circuit_v: float,
        resistance_ohm: float,
        auxiliary_w: float,
        hold_s: float,
        floor_v: float,
        power_cap_w: float | None,
    ) -> None:
        self.system = system
        self.open_circuit_v = np.float64(open_circuit_v)
        self.resistance_ohm = np.float64(resistance_ohm)
        self.auxiliary_w = auxiliary_w
        self.floor_v = floor_v
        self.power_cap_w = power_cap_w
        # The 12 V supply does not pass the controller's own current limit.
        beside = auxiliary_w / open_circuit_v
        self.battery_a = min(
            system.controller.battery_current_a + beside, system.pack.discharge_limit_a(hold_s)
        )
        peak = system.controller.motor_current_peak_a
        self.current_share = min(1.0, system.controller.motor_current_a(hold_s) / peak)

    def broken(self, torque: FloatArray, speed: FloatArray) -> FloatArray:
        """Rows (voltage, battery current, pack voltage) of limits broken at this torque."""
        motor = self.system.motor
        taken = draw(self.system, torque, speed)
        current = current_for_power(
            taken.power_w + self.auxiliary_w,
            np.full_like(torque, self.open_circuit_v),
            np.full_like(torque, self.resistance_ohm),
        )
        unreachable = np.isnan(current)
        current = np.where(unreachable, self.open_circuit_v / (2 * self.resistance_ohm), current)
        voltage = self.open_circuit_v - self.resistance_ohm * current
        if isinstance(motor, SeriesMotor):
            amps = taken.motor_current_a
            available = np.minimum(voltage, motor.voltage_limit(amps))
            over = motor.voltage(amps, speed) > available
        else:
            over = torque > motor.envelope(speed, voltage) * self.current_share
        if self.power_cap_w is None:
            too_much = current > self.battery_a
        else:
            too_much = taken.power_w > self.power_cap_w
        return np.stack(
            [
                over & (torque > 0),
                too_much,
                unreachable | (voltage < self.floor_v),
            ]
        )


def torque_table(
    system: System,
    soc: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    hold_s: float,
    of_profile: bool = False,
) -> TorqueTable:
    """Greatest torque over the motor's whole speed range; made once per argument set.

    Gearbox and grip stand apart (they depend on gear and mass). ``of_profile``: without the
    cut-off voltage, and with battery current taken at its worst over the window, see
    :func:`reference_table`.
    """
    key = (soc, external_resistance_ohm, auxiliary_w, hold_s, of_profile)
    known = system.limit_tables.get(key)
    if known is not None:
        return known
    pack = system.pack
    speed = np.linspace(0.0, system.motor.max_speed_rad_s, REFERENCE_POINTS)
    limit = torque_limit(
        system,
        speed,
        None,
        float(pack.open_circuit(np.array([soc]))[0]),
        float(pack.resistance(np.array([soc]))[0]) + external_resistance_ohm,
        auxiliary_w,
        hold_s,
        0.0 if of_profile else pack.min_voltage_v,
        _worst_power_w(system, external_resistance_ohm) if of_profile else None,
    )
    table = TorqueTable(speed, limit.torque_nm, limit.cause)
    system.limit_tables[key] = table
    return table


def reference_table(system: System, external_resistance_ohm: float) -> TorqueTable:
    """Greatest torque that a profile may ask: the pack nearly empty, for ten seconds.

    Neither the plan's mass nor its cables nor its 12 V load are read, so that what a profile
    may ask does not depend on them. Running into the cut-off voltage does not limit it: that
    ends the drive. Battery current is limited to the power it means at the worst state of
    charge, so that it holds all the way.
    """
    pack = system.pack
    soc = pack.soc_min + NEARLY_EMPTY * (pack.soc_max - pack.soc_min)
    return torque_table(system, soc, external_resistance_ohm, 0.0, PEAK_HOLD_S, of_profile=True)


def _worst_power_w(system: System, external_resistance_ohm: float) -> float:
    """Least power that the current limit means anywhere in the window, W.

    Voltage and resistance are straight between points of the curve, so the points suffice.
    """
    pack = system.pack
    soc = pack.curve.soc[(pack.curve.soc > pack.soc_min) & (pack.curve.soc < pack.soc_max)]
    soc = np.concatenate([[pack.soc_min], soc, [pack.soc_max]])
    open_v, total = pack.open_circuit(soc), pack.resistance(soc) + external_resistance_ohm
    limit = min(system.controller.battery_current_a, pack.discharge_limit_a(PEAK_HOLD_S))
    current = np.minimum(limit, open_v / (2.0 * total))
    return float(np.min(current * (open_v - total * current)))
