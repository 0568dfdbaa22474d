"""Motor and controller together: what they draw for a torque at a speed, and their limits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from bomplan.physics.arrays import BoolArray, Columns, FloatArray, frozen
from bomplan.physics.battery import current_for_power
from bomplan.physics.controller import Controller
from bomplan.physics.envelope_motor import EnvelopeMotor
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import AnyMotor, System, TableKey, TorqueTable

REFERENCE_POINTS = 128
HALVINGS = 24
_AT_ONCE = 64  # tables settled together: arrays that stay in the processor's cache
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
    loads = _Loads.of(
        system, open_circuit_v, resistance_ohm, auxiliary_w, hold_s, floor_v, power_cap_w
    )
    return _limited(system, fixed, speed, loads.repeated(len(speed)))


def _limited(system: System, fixed: FloatArray, speed: FloatArray, loads: _Loads) -> TorqueLimit:
    """:func:`torque_limit` at points that stand by themselves, each with its own loads.

    ``fixed`` holds a row for each limit that reads no pack. Only motor and controller are read
    of the system, so that points of many packs may stand in one array.
    """
    torque = np.min(fixed, axis=0)
    cause = np.argmin(fixed, axis=0).astype(np.float64)
    over, too_much, too_low = _broken(system, torque, speed, loads)
    blocked = np.flatnonzero(over | too_much | too_low)
    if len(blocked):
        turning, under = speed[blocked], loads.some(blocked)
        low, high = np.zeros(len(blocked)), torque[blocked]
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            over, too_much, too_low = _broken(system, middle, turning, under)
            passed = over | too_much | too_low
            low, high = np.where(passed, low, middle), np.where(passed, middle, high)
        first = np.argmax(np.stack(_broken(system, high, turning, under)), axis=0)
        torque[blocked], cause[blocked] = low, first + VOLTAGE
    return TorqueLimit(torque, cause)


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


@dataclass(frozen=True, eq=False)
class _Loads(Columns):
    """What limits read of the pack and of what else it feeds, one value for each point."""

    open_circuit_v: FloatArray
    resistance_ohm: FloatArray
    auxiliary_w: FloatArray
    floor_v: FloatArray
    battery_a: FloatArray
    power_cap_w: FloatArray
    current_share: FloatArray

    @classmethod
    def of(
        cls,
        system: System,
        open_circuit_v: float,
        resistance_ohm: float,
        auxiliary_w: float,
        hold_s: float,
        floor_v: float,
        power_cap_w: float | None,
    ) -> _Loads:
        """One point."""
        # The 12 V supply does not pass the controller's own current limit.
        beside = auxiliary_w / open_circuit_v
        battery_a = min(
            system.controller.battery_current_a + beside, system.pack.discharge_limit_a(hold_s)
        )
        peak = system.controller.motor_current_peak_a
        share = min(1.0, system.controller.motor_current_a(hold_s) / peak)
        capped = power_cap_w is not None
        values = (
            open_circuit_v,
            resistance_ohm,
            auxiliary_w,
            floor_v,
            np.inf if capped else battery_a,
            power_cap_w if capped else np.inf,
            share,
        )
        return cls(*(np.array([value], dtype=np.float64) for value in values))

    @classmethod
    def joined(cls, several: Sequence[_Loads]) -> _Loads:
        """The points of several behind each other."""
        names = [one.name for one in fields(cls)]
        return cls(*(np.concatenate([getattr(one, name) for one in several]) for name in names))


def _broken(
    system: System, torque: FloatArray, speed: FloatArray, loads: _Loads
) -> tuple[BoolArray, BoolArray, BoolArray]:
    """Whether voltage, battery current and pack voltage are broken at this torque."""
    motor = system.motor
    taken = draw(system, torque, speed)
    current = current_for_power(
        taken.power_w + loads.auxiliary_w, loads.open_circuit_v, loads.resistance_ohm
    )
    unreachable = np.isnan(current)
    current = np.where(unreachable, loads.open_circuit_v / (2 * loads.resistance_ohm), current)
    voltage = loads.open_circuit_v - loads.resistance_ohm * current
    if isinstance(motor, SeriesMotor):
        amps = taken.motor_current_a
        available = np.minimum(voltage, motor.voltage_limit(amps))
        over = motor.voltage(amps, speed) > available
    else:
        over = torque > motor.envelope(speed, voltage) * loads.current_share
    too_much = (current > loads.battery_a) | (taken.power_w > loads.power_cap_w)
    return over & (torque > 0), too_much, unreachable | (voltage < loads.floor_v)


@dataclass(frozen=True, eq=False)
class TableAsked:
    """A torque table that will be needed: the arguments of :func:`torque_table`."""

    system: System
    soc: float
    external_resistance_ohm: float
    auxiliary_w: float
    hold_s: float
    of_profile: bool = False

    @property
    def key(self) -> TableKey:
        """Under which the system keeps it."""
        return (
            self.soc,
            self.external_resistance_ohm,
            self.auxiliary_w,
            self.hold_s,
            self.of_profile,
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
    if known is None:
        prepare_tables([TableAsked(system, *key)])
        known = system.limit_tables[key]
    return known


def prepare_tables(asked: Iterable[TableAsked]) -> None:
    """Work out many torque tables at once, the same to the last bit as each by itself.

    Systems with one motor and one controller go through the halving together: their packs, and
    the battery current that the controller is set to, differ in plain figures, which stand
    beside each point.
    """
    alike: dict[tuple[AnyMotor, Controller], list[TableAsked]] = {}
    seen: set[tuple[int, TableKey]] = set()
    for one in asked:
        here = id(one.system), one.key
        if one.key not in one.system.limit_tables and here not in seen:
            seen.add(here)
            controller = replace(one.system.controller, battery_current_a=0.0)
            alike.setdefault((one.system.motor, controller), []).append(one)
    for group in alike.values():
        for begin in range(0, len(group), _AT_ONCE):
            _prepare(group[begin : begin + _AT_ONCE])


def _prepare(group: Sequence[TableAsked]) -> None:
    system = group[0].system
    speed = frozen(np.linspace(0.0, system.motor.max_speed_rad_s, REFERENCE_POINTS))
    by_hold = {
        hold: _fixed_limits(system, speed, None, hold)
        for hold in dict.fromkeys(one.hold_s for one in group)
    }
    limit = _limited(
        system,
        np.concatenate([by_hold[one.hold_s] for one in group], axis=1),
        np.tile(speed, len(group)),
        _Loads.joined([_loads_of(one) for one in group]).repeated(REFERENCE_POINTS),
    )
    torques = limit.torque_nm.reshape(len(group), REFERENCE_POINTS)
    causes = limit.cause.reshape(len(group), REFERENCE_POINTS)
    for one, torque, cause in zip(group, torques, causes, strict=True):
        one.system.limit_tables[one.key] = TorqueTable(speed, torque, cause)


def _loads_of(one: TableAsked) -> _Loads:
    pack, external = one.system.pack, one.external_resistance_ohm
    at = np.array([one.soc])
    return _Loads.of(
        one.system,
        float(pack.open_circuit(at)[0]),
        float(pack.resistance(at)[0]) + external,
        one.auxiliary_w,
        one.hold_s,
        0.0 if one.of_profile else pack.min_voltage_v,
        _worst_power_w(one.system, external) if one.of_profile else None,
    )


def reference_table(system: System, external_resistance_ohm: float) -> TorqueTable:
    """Greatest torque that a profile may ask: the pack nearly empty, for ten seconds.

    Neither the plan's mass nor its cables nor its 12 V load are read, so that what a profile
    may ask does not depend on them. Running into the cut-off voltage does not limit it: that
    ends the drive. Battery current is limited to the power it means at the worst state of
    charge, so that it holds all the way.
    """
    asked = reference_asked(system, external_resistance_ohm)
    return torque_table(system, *asked.key)


def reference_asked(system: System, external_resistance_ohm: float) -> TableAsked:
    """The table of :func:`reference_table`, to be worked out with others."""
    pack = system.pack
    soc = pack.soc_min + NEARLY_EMPTY * (pack.soc_max - pack.soc_min)
    return TableAsked(system, soc, external_resistance_ohm, 0.0, PEAK_HOLD_S, True)


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
