"""The curves of a finished plan, from the core and its three couplers."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from bomplan.design.adapter import RPM, Simulator
from bomplan.design.curve_records import (
    Curves,
    EnergyUse,
    GearThrust,
    LapTrace,
    RoadNeed,
    ShaftTorque,
)
from bomplan.design.records import Couplers
from bomplan.physics import RangeAnswer, System
from bomplan.physics.arrays import FloatArray
from bomplan.physics.performance import thrust
from bomplan.physics.powertrain import torque_table
from bomplan.physics.road import steady_force
from bomplan.physics.trace import road_work, trace
from bomplan.project.records import Condition, RangeTarget

# Points of a lap at most, and of a curve over speed.
LAP_POINTS, POINTS = 240, 25
HOLDS_S = (60.0, 1800.0)
HILL = 0.05
J_PER_WH = 3600.0
# How far beyond the fastest speed on the flat the road's curves go.
BEYOND = 1.1


def curves_record(
    simulator: Simulator,
    couplers: Couplers,
    load_case: str,
    fastest_kmh: float,
    states: tuple[tuple[RangeTarget, str, Condition], ...],
) -> Curves:
    """Every curve. ``load_case`` and the first condition hold for thrust, road and shaft;
    ``states`` are the range targets in the states that the driving record tells of.
    """
    context = simulator.context
    condition = context.project.conditions[0]
    system = simulator.system_in(condition, load_case)
    mass_kg = simulator.mass_kg(load_case, couplers)
    at = (
        context.project.targets.power_state_of_charge,
        couplers.external_uohm * 1e-6,
        simulator.auxiliary_w(couplers) + condition.heater_w,
    )
    return Curves(
        wheel_radius_mm=context.project.donor.driveline.wheel_radius_mm,
        energy=tuple(_energy(simulator, couplers, states)),
        traces=tuple(
            lap
            for target in context.project.targets.range
            if (lap := _lap(simulator, couplers, target)) is not None
        ),
        thrust=tuple(_thrust(system, mass_kg, gear, *at) for gear in range(system.driveline.gears)),
        road=_road(simulator, system, mass_kg, fastest_kmh),
        shaft=_shaft(system, *at),
    )


def _energy(
    simulator: Simulator,
    couplers: Couplers,
    states: tuple[tuple[RangeTarget, str, Condition], ...],
) -> Iterator[EnergyUse]:
    for target, state, condition in states:
        answer = simulator.range_in(target, condition, couplers)
        if not answer.followed or not math.isfinite(answer.drive_s) or answer.distance_m <= 0:
            continue
        system = simulator.system_in(condition, target.load_case)
        air_j, rolling_j = road_work(
            system,
            simulator.profile(target),
            simulator.mass_kg(target.load_case, couplers),
            answer.drive_s,
        )
        yield _use(target.name, state, answer, air_j, rolling_j)


def _use(target: str, state: str, answer: RangeAnswer, air_j: float, rolling_j: float) -> EnergyUse:
    went = answer.balance
    joules = {
        "air": air_j,
        "rolling": rolling_j,
        "brakes": went.brake,
        "slopes": went.wheel - air_j - rolling_j - (went.brake - went.refused),
        "driveline": went.driveline,
        "motor": went.motor + went.rotor,
        "controller": went.controller,
        "beside": went.auxiliary,
        "circuit": went.external,
        "pack": went.pack,
        "cells": went.battery,
    }
    km = answer.distance_m / 1000
    figures = {
        f"{name}_wh_per_km": round(value / J_PER_WH / km, 1) + 0.0 for name, value in joules.items()
    }
    return EnergyUse.model_validate({"target": target, "state": state, **figures})


def _lap(simulator: Simulator, couplers: Couplers, target: RangeTarget) -> LapTrace | None:
    """None where the pack does not last a second."""
    context = simulator.context
    condition = context.condition(target.condition)
    profile = simulator.profile(target)
    answer = simulator.range(target, couplers)
    found = trace(
        simulator.system(condition, target.load_case),
        profile,
        simulator.gears(target),
        simulator.mass_kg(target.load_case, couplers),
        couplers.external_uohm * 1e-6,
        simulator.auxiliary_w(couplers) + condition.heater_w,
        answer.drive_s,
    )
    if not len(found.battery_a):
        return None
    point_s = max(1, math.ceil(len(found.battery_a) / LAP_POINTS))
    speed = profile.mean_speed_m_s[: len(found.battery_a)] * 3.6
    returned = np.maximum(-found.battery_a, 0.0)
    return LapTrace(
        target=target.name,
        profile=target.profile,
        lap_s=float(profile.steps),
        lap_m=round(profile.length_m),
        laps=round(answer.distance_m / profile.length_m, 2)
        if math.isfinite(answer.distance_m)
        else None,
        point_s=point_s,
        speed_kmh=_points(speed, point_s, "mean"),
        motor_a=_points(found.motor_a, point_s, "max"),
        battery_a=_points(np.maximum(found.battery_a, 0.0), point_s, "max"),
        returned_a=_points(returned, point_s, "max") if returned.any() else (),
        pack_v=_points(found.pack_v, point_s, "min"),
        last_pack_v=() if found.last_pack_v is None else _points(found.last_pack_v, point_s, "min"),
    )


def _points(values: FloatArray, point_s: int, how: str) -> tuple[float, ...]:
    """One figure for every ``point_s`` seconds, the last of fewer."""
    starts = np.arange(0, len(values), point_s)
    if how == "mean":
        counts = np.diff(np.append(starts, len(values)))
        found = np.add.reduceat(values, starts) / counts
    else:
        reduce = np.maximum if how == "max" else np.minimum
        found = reduce.reduceat(values, starts)
    return tuple(round(float(one), 1) + 0.0 for one in found)


def _thrust(
    system: System, mass_kg: float, gear: int, soc: float, external_ohm: float, beside_w: float
) -> GearThrust:
    line = system.driveline
    fastest = system.motor.max_speed_rad_s * line.wheel_radius_m / line.ratios[gear]
    speed = np.linspace(0.0, fastest, POINTS)
    minute, half_hour = (
        thrust(system, gear, speed, soc, mass_kg, external_ohm, beside_w, hold_s)
        for hold_s in HOLDS_S
    )
    return GearThrust(
        gear=gear + 1,
        speed_kmh=_tenths(speed * 3.6),
        minute_n=_whole(minute),
        half_hour_n=_whole(half_hour),
    )


def _road(
    simulator: Simulator, system: System, mass_kg: float, fastest_kmh: float
) -> tuple[RoadNeed, ...]:
    """On the flat, up a usual hill, and on every grade that the project asks for."""
    speed = np.linspace(0.0, BEYOND * fastest_kmh / 3.6, POINTS)
    grades = {0.0, HILL, *(target.grade for target in simulator.context.project.targets.climb)}
    return tuple(
        RoadNeed(
            grade=grade,
            speed_kmh=_tenths(speed * 3.6),
            force_n=_whole(steady_force(system.road, speed, mass_kg, grade)),
        )
        for grade in sorted(grades)
    )


def _shaft(system: System, soc: float, external_ohm: float, beside_w: float) -> ShaftTorque:
    speed = np.linspace(0.0, system.motor.max_speed_rad_s, POINTS)
    minute, half_hour = (
        torque_table(system, soc, external_ohm, beside_w, hold_s).torque(speed)
        for hold_s in HOLDS_S
    )
    return ShaftTorque(
        rpm=_whole(speed / RPM), minute_nm=_tenths(minute), half_hour_nm=_tenths(half_hour)
    )


def _tenths(values: FloatArray) -> tuple[float, ...]:
    return tuple(round(float(one), 1) + 0.0 for one in values)


def _whole(values: FloatArray) -> tuple[float, ...]:
    return tuple(float(round(float(one))) + 0.0 for one in values)
