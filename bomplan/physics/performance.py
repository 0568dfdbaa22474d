"""What it can do: top speed, climbs, gradeability, and the table of steady speeds.

Every limit is checked together: torque and current ratings for as long as they must hold,
the pack's current and voltage under that very load, grip, gearbox and motor speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bomplan.physics.arrays import FloatArray
from bomplan.physics.battery import current_for_power
from bomplan.physics.powertrain import (
    BATTERY_CURRENT,
    CAUSES,
    MOTOR_CURRENT,
    MOTOR_SPEED,
    PACK_VOLTAGE,
    TORQUE,
    VOLTAGE,
    draw,
    torque_table,
)
from bomplan.physics.road import steady_force
from bomplan.physics.system import System

SpeedCause = Literal["power", "voltage", "motor speed", "current rating", "gearing", "none"]
SPEED_POINTS = 400
STEEPEST = 1.0


@dataclass(frozen=True)
class TopSpeed:
    """Greatest speed that can be held, the gear (from 0) that does it, and why no more."""

    speed_m_s: float
    gear: int
    cause: SpeedCause


@dataclass(frozen=True)
class Climb:
    """Whether a grade is climbed, and the thrust to spare (negative: lacking) in the best gear.

    Currents are those of just holding the speed in that gear; nan where it is not possible.
    """

    possible: bool
    margin_n: float
    gear: int
    motor_current_a: float
    battery_current_a: float
    limit_cause: str


@dataclass(frozen=True)
class SteadyPoint:
    """Holding one speed in one gear."""

    speed_m_s: float
    gear: int
    motor_speed_rad_s: float
    motor_current_a: float
    battery_current_a: float
    pack_voltage_v: float
    battery_w: float
    feasible: bool


def thrust(
    system: System,
    gear: int,
    speed_m_s: FloatArray,
    soc: float,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    hold_s: float,
    grade: float = 0.0,
) -> FloatArray:
    """Greatest steady force at the wheels in a gear, N; -inf beyond the motor's speed."""
    force = _drive_force(system, gear, speed_m_s, soc, external_resistance_ohm, auxiliary_w, hold_s)
    cosine = 1.0 / math.sqrt(1.0 + grade * grade)
    grip = system.driveline.grip_force(mass_kg, cosine, system.road.gravity)
    return np.asarray(np.minimum(force, grip), dtype=np.float64)


def _drive_force(
    system: System,
    gear: int,
    speed_m_s: FloatArray,
    soc: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    hold_s: float,
) -> FloatArray:
    """:func:`thrust` on tyres that never slip, the same on every grade."""
    line = system.driveline
    ratio = line.ratios[gear]
    turning = line.motor_speed(speed_m_s, ratio)
    table = torque_table(system, soc, external_resistance_ohm, auxiliary_w, hold_s)
    torque = np.minimum(table.torque(turning), line.greatest_shaft_torque(ratio))
    force = line.wheel_force(torque, ratio, 0.0)
    return np.where(turning <= system.motor.max_speed_rad_s * (1 + 1e-9), force, -np.inf)


def top_speed(
    system: System,
    soc: float,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    hold_s: float = 1800.0,
) -> TopSpeed:
    """Highest speed held on the flat for ``hold_s`` (headwind as in the road load).

    The margin of thrust is taken at 400 speeds per gear, straight between them.
    """
    line = system.driveline
    best = TopSpeed(0.0, 0, "none")
    for gear, ratio in enumerate(line.ratios):
        fastest = system.motor.max_speed_rad_s * line.wheel_radius_m / ratio
        speed = np.linspace(0.0, fastest, SPEED_POINTS)
        spare = thrust(
            system, gear, speed, soc, mass_kg, external_resistance_ohm, auxiliary_w, hold_s
        ) - steady_force(system.road, speed, mass_kg, 0.0)
        able = np.nonzero(spare >= 0)[0]
        if not len(able):
            continue
        last = int(able[-1])
        found = float(speed[last])
        if last + 1 < SPEED_POINTS:
            step = spare[last] / (spare[last] - spare[last + 1])
            found += float(step * (speed[last + 1] - speed[last]))
        if found > best.speed_m_s * (1 + 1e-9):
            table = torque_table(system, soc, external_resistance_ohm, auxiliary_w, hold_s)
            at = float(line.motor_speed(np.array([found]), ratio)[0])
            turned_out = last + 1 == SPEED_POINTS
            best = TopSpeed(
                found, gear, _speed_cause(turned_out, table.cause_at(at), best, line.gears)
            )
    return best


def _speed_cause(turned_out: bool, cause: int, lower: TopSpeed, gears: int) -> SpeedCause:
    if turned_out:
        return "motor speed"
    if gears > 1 and lower.cause == "motor speed" and cause in (TORQUE, MOTOR_CURRENT):
        return "gearing"
    if cause == VOLTAGE:
        return "voltage"
    if cause in (MOTOR_CURRENT, BATTERY_CURRENT):
        return "current rating"
    if cause == MOTOR_SPEED:
        return "motor speed"
    return "voltage" if cause == PACK_VOLTAGE else "power"


def climb(
    system: System,
    grade: float,
    speed_m_s: float,
    hold_s: float,
    soc: float,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
) -> Climb:
    """Whether some gear holds every limit on a grade (rise over run) for ``hold_s``.

    Speed 0 is the start from rest: stall torque and grip against grade and rolling.
    """
    line = system.driveline
    speed = np.array([float(speed_m_s)])
    need = float(steady_force(system.road, speed, mass_kg, grade)[0])
    margins = [
        float(
            thrust(
                system, gear, speed, soc, mass_kg, external_resistance_ohm, auxiliary_w,
                hold_s, grade,
            )[0]
        )
        - need
        for gear in range(line.gears)
    ]  # fmt: skip
    gear = int(np.argmax(margins))
    margin = margins[gear]
    cause = _climb_cause(
        system, gear, speed, need + margin, soc, mass_kg,
        external_resistance_ohm, auxiliary_w, hold_s, grade,
    )  # fmt: skip
    motor_a, battery_a = math.nan, math.nan
    if margin >= 0:
        point = _hold(system, gear, speed_m_s, need, soc, external_resistance_ohm, auxiliary_w)
        motor_a, battery_a = point.motor_current_a, point.battery_current_a
    return Climb(margin >= 0, margin, gear, motor_a, battery_a, cause)


def climb_speed_ok(
    system: System,
    grade: float,
    speed_m_s: float,
    hold_s: float,
    soc: float,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
) -> bool:
    """``climb(...).possible``."""
    return climb(
        system, grade, speed_m_s, hold_s, soc, mass_kg, external_resistance_ohm, auxiliary_w
    ).possible


def grip_turns(system: System, speed_m_s: float, grade: float, mass_kg: float) -> bool:
    """Whether grip fails at this mass and might hold at a greater one.

    Grip less rolling and grade is mass times a constant; drag does not grow with mass. Where
    the constant is above zero, drag alone can be too much for a light vehicle.
    """
    cosine = 1.0 / math.sqrt(1.0 + grade * grade)
    speed = np.array([float(speed_m_s)])
    grip = float(system.driveline.grip_force(mass_kg, cosine, system.road.gravity))
    air = float(system.road.massless_force(speed)[0])
    need = float(steady_force(system.road, speed, mass_kg, grade)[0])
    return grip < need and grip > need - air


def gradeability(
    system: System,
    speed_m_s: float,
    hold_s: float,
    soc: float,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
) -> float:
    """Steepest grade (rise over run) climbed at a speed for ``hold_s``; nan if not even the
    flat is held; at most 1 (45 degrees).

    The drive's force F must reach m g (sin + c cos) + D, so the slope's angle is
    asin((F - D)/(m g sqrt(1 + c²))) - atan(c); grip mu' m g cos gives a second one.
    """
    line, gravity = system.driveline, system.road.gravity
    speed = np.array([float(speed_m_s)])
    weight = mass_kg * gravity
    rolling = float(system.road.rolling_per_kg(speed)[0]) / gravity
    air = float(system.road.massless_force(speed)[0])
    spare = float(line.grip_force(mass_kg, 1.0, gravity)) / weight - rolling
    slips = math.atan(spare) - _arc(air / (weight * math.hypot(1.0, spare)))
    best = -math.inf
    for gear in range(line.gears):
        force = _drive_force(system, gear, speed, soc, external_resistance_ohm, auxiliary_w, hold_s)
        angle = _arc((float(force[0]) - air) / (weight * math.hypot(1.0, rolling)))
        best = max(best, min(angle - math.atan(rolling), slips))
    if not best >= 0:
        return math.nan
    return min(math.tan(min(best, math.atan(STEEPEST))), STEEPEST)


def _arc(share: float) -> float:
    return math.asin(max(-1.0, min(1.0, share)))


def steady_table(
    system: System,
    speeds_m_s: tuple[float, ...],
    soc: float,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    grade: float = 0.0,
    hold_s: float = 3600.0,
) -> list[SteadyPoint]:
    """Motor speed, currents and pack voltage at steady speeds in every gear."""
    points = []
    for speed in speeds_m_s:
        at = np.array([speed])
        need = float(steady_force(system.road, at, mass_kg, grade)[0])
        for gear in range(system.driveline.gears):
            can = thrust(
                system, gear, at, soc, mass_kg, external_resistance_ohm, auxiliary_w, hold_s, grade
            )
            point = _hold(system, gear, speed, need, soc, external_resistance_ohm, auxiliary_w)
            feasible = bool(can[0] >= need) and not math.isnan(point.battery_current_a)
            points.append(SteadyPoint(**{**point.__dict__, "feasible": feasible}))
    return points


def _hold(
    system: System,
    gear: int,
    speed_m_s: float,
    force_n: float,
    soc: float,
    external_ohm: float,
    auxiliary_w: float,
) -> SteadyPoint:
    line, pack = system.driveline, system.pack
    ratio = line.ratios[gear]
    turning = line.motor_speed(np.array([speed_m_s]), ratio)
    torque = line.shaft_torque(np.array([force_n]), ratio, 0.0)
    torque = np.maximum(torque, 0.0)
    taken = draw(system, torque, turning)
    power = taken.power_w + auxiliary_w
    where = np.array([soc])
    open_v, total = pack.open_circuit(where), pack.resistance(where) + external_ohm
    current = current_for_power(power, open_v, total)
    voltage = open_v - (total - external_ohm) * current
    return SteadyPoint(
        speed_m_s=speed_m_s,
        gear=gear,
        motor_speed_rad_s=float(turning[0]),
        motor_current_a=float(taken.motor_current_a[0]),
        battery_current_a=float(current[0]),
        pack_voltage_v=float(voltage[0]),
        battery_w=float(current[0] * voltage[0]),
        feasible=False,
    )


def _climb_cause(
    system: System,
    gear: int,
    speed_m_s: FloatArray,
    thrust_n: float,
    soc: float,
    mass_kg: float,
    external_ohm: float,
    auxiliary_w: float,
    hold_s: float,
    grade: float,
) -> str:
    line = system.driveline
    ratio = line.ratios[gear]
    cosine = 1.0 / math.sqrt(1.0 + grade * grade)
    turning = line.motor_speed(speed_m_s, ratio)
    if turning[0] > system.motor.max_speed_rad_s * (1 + 1e-9):
        return "motor speed"
    if thrust_n >= float(line.grip_force(mass_kg, cosine, system.road.gravity)) * (1 - 1e-9):
        return "grip"
    table = torque_table(system, soc, external_ohm, auxiliary_w, hold_s)
    torque = float(table.torque(turning)[0])
    if float(line.greatest_shaft_torque(ratio)) <= torque:
        return "gearbox"
    return CAUSES[table.cause_at(float(turning[0]))]
