"""Which gear in which second: the driver's table, the least loss, or one gear throughout."""

from __future__ import annotations

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.demand import force_terms
from bomplan.physics.powertrain import draw, least_torque, reference_table
from bomplan.physics.profile import Profile
from bomplan.physics.system import System

DOWNSHIFT_AT = 0.85  # of the speed at which he changed up: nobody shifts every few seconds


def fixed_gear(profile: Profile, gear: int) -> IntArray:
    """One gear (from 0) throughout."""
    return np.full(profile.steps, gear, dtype=np.int64)


def choose_gears(
    system: System,
    profile: Profile,
    reference_mass_kg: float,
    external_resistance_ohm: float | None = None,
) -> IntArray:
    """Gear per second (from 0) by the driver's shift table, decided at the reference mass.

    He changes up at the table's speeds and down at 85 % of them. Where that gear cannot give
    the torque asked at the reference mass with the pack nearly empty, he takes the next lower
    one that can, within the motor's speed; where none can, the one that pulls hardest.
    Decided once per core: with the gears held fast, consumption does not jump with the
    plan's own mass.
    """
    line = system.driveline
    wanted = by_table(profile, line.shift_speeds_m_s)
    if line.gears == 1:
        return wanted
    short, in_speed, pull = _shortfall(system, profile, reference_mass_kg, external_resistance_ohm)
    able = (short <= 1e-9) & in_speed
    rank = preference(wanted, line.gears)
    best_able = np.argmin(np.where(able, rank, 10 * line.gears), axis=0)
    strongest = np.argmax(np.where(in_speed, pull, -np.inf), axis=0)
    highest = np.full(profile.steps, line.gears - 1)
    none_turns = np.where(in_speed.any(axis=0), strongest, highest)
    chosen = np.where(able.any(axis=0), best_able, none_turns)
    return np.asarray(chosen, dtype=np.int64)


def least_loss_gears(
    system: System,
    profile: Profile,
    reference_mass_kg: float,
    external_resistance_ohm: float | None = None,
) -> IntArray:
    """The gear of least draw in each second: better than any driver, an upper bound on range
    at the reference mass only."""
    line = system.driveline
    short, in_speed, pull = _shortfall(system, profile, reference_mass_kg, external_resistance_ohm)
    per_kg, fixed = force_terms(system.road, profile, line.rotating_mass_factor)
    force = reference_mass_kg * per_kg + fixed
    power = np.empty_like(short)
    for gear, ratio in enumerate(line.ratios):
        speed = line.motor_speed(profile.mean_speed_m_s, ratio)
        torque = line.shaft_torque(force, ratio, profile.acceleration_m_s2)
        torque = np.maximum(torque, least_torque(system, speed))
        power[gear] = draw(system, torque, speed).power_w
    able = (short <= 1e-9) & in_speed
    cheapest = np.argmin(np.where(able, power, np.inf), axis=0)
    strongest = np.argmax(np.where(in_speed, pull, -np.inf), axis=0)
    chosen = np.where(able.any(axis=0), cheapest, strongest)
    return np.asarray(np.where(in_speed.any(axis=0), chosen, line.gears - 1), dtype=np.int64)


def preference(wanted: IntArray, gears: int) -> IntArray:
    """Rank of each gear in each second: the table's, the next lower ones, then the higher."""
    order = np.arange(gears)[:, None]
    return np.asarray(np.where(order <= wanted, wanted - order, gears + order - wanted))


def by_table(profile: Profile, shift_speeds_m_s: tuple[float, ...]) -> IntArray:
    """The gear of the driver's table in each second; kept with the profile, read-only."""
    known = profile.table_gears.get(shift_speeds_m_s)
    if known is None:
        known = _shifted(profile.mean_speed_m_s, shift_speeds_m_s)
        known.setflags(write=False)
        profile.table_gears[shift_speeds_m_s] = known
    return known


def _shifted(speed_m_s: FloatArray, shift_speeds_m_s: tuple[float, ...]) -> IntArray:
    gear, gears = 0, []
    top = len(shift_speeds_m_s)
    for speed in speed_m_s.tolist():
        while gear < top and speed > shift_speeds_m_s[gear]:
            gear += 1
        while gear > 0 and speed < DOWNSHIFT_AT * shift_speeds_m_s[gear - 1]:
            gear -= 1
        gears.append(gear)
    return np.array(gears, dtype=np.int64)


def _shortfall(
    system: System, profile: Profile, mass_kg: float, external_resistance_ohm: float | None
) -> tuple[FloatArray, BoolArray, FloatArray]:
    """Per gear and second: missing shaft torque, whether the motor may turn so fast, pull."""
    line = system.driveline
    external = (
        system.reference_external_ohm
        if external_resistance_ohm is None
        else external_resistance_ohm
    )
    table = reference_table(system, external)
    per_kg, fixed = force_terms(system.road, profile, line.rotating_mass_factor)
    force = np.minimum(
        mass_kg * per_kg + fixed,
        line.grip_force(mass_kg, profile.cosine, system.road.gravity),
    )
    shape = (line.gears, profile.steps)
    short, in_speed, pull = np.empty(shape), np.empty(shape, dtype=bool), np.empty(shape)
    for gear, ratio in enumerate(line.ratios):
        speed = line.motor_speed(profile.mean_speed_m_s, ratio)
        in_speed[gear] = speed <= system.motor.max_speed_rad_s
        ceiling = np.minimum(
            table.torque(speed),
            float(line.greatest_shaft_torque(ratio)),
        )
        asked = line.shaft_torque(force, ratio, profile.acceleration_m_s2)
        short[gear] = asked - ceiling * (1 + 1e-9)
        pull[gear] = line.wheel_force(ceiling, ratio, profile.acceleration_m_s2)
    return short, in_speed, pull
