"""What one lap of a profile asks, second by second, backward from the wheels.

The force at the wheels follows from the trace; driveline, motor and controller give what the
pack must deliver. None of it depends on the state of charge. Where the trace asks more than
the limits give, the limit is kept and the second counts as not followed.

Why more mass cannot pay on a closed lap: in every second the power is a non-decreasing,
convex function of the force (losses hinder both ways, copper grows with the square, braking
stops where it returns nothing), the force is linear in mass, so a lap's energy is convex in
mass; it rises at the least mass, hence everywhere above it. Seconds cut at an upper limit
are the exception, and ``followed_share_min`` keeps them few.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.driveline import Driveline
from bomplan.physics.powertrain import draw, least_torque, reference_table
from bomplan.physics.profile import Profile
from bomplan.physics.road import AnyRoad
from bomplan.physics.system import System


@dataclass(frozen=True, eq=False)
class Lap:
    """One lap; arrays hold one value per second, powers in W (= J in that second).

    ``traction_w`` is taken at the controller's input (negative: given back). It equals
    ``wheel_w`` + ``rotor_w`` + ``driveline_loss_w`` + ``motor_loss_w`` +
    ``controller_loss_w``. ``wheel_w`` is what the motor does at the wheels, braking negative;
    ``brake_w`` what the friction brakes take.
    """

    traction_w: FloatArray
    wheel_w: FloatArray
    brake_w: FloatArray
    rotor_w: FloatArray
    driveline_loss_w: FloatArray
    motor_loss_w: FloatArray
    controller_loss_w: FloatArray
    motor_current_a: FloatArray
    shaft_w: FloatArray
    motor_speed_rad_s: FloatArray
    shaft_torque_nm: FloatArray
    missed: BoolArray


def force_terms(
    road: AnyRoad, profile: Profile, inertia_factor: float
) -> tuple[FloatArray, FloatArray]:
    """(N per kg, N): the mean force over each second is mass times the first plus the second.

    Rolling and drag are averaged over distance within the second, with Simpson's rule on
    force times speed: exact for the cubic that an even change of speed makes.
    """
    start, end, mean = profile.speed_m_s[:-1], profile.speed_m_s[1:], profile.mean_speed_m_s
    moving = mean > 0
    safe = np.where(moving, mean, 1.0)

    def averaged(force: FloatArray, at_start: FloatArray, at_end: FloatArray) -> FloatArray:
        work = (at_start * start + 4.0 * force * mean + at_end * end) / 6.0
        return np.where(moving, work / safe, 0.0)

    rolling = averaged(
        road.rolling_per_kg(mean), road.rolling_per_kg(start), road.rolling_per_kg(end)
    )
    fixed = averaged(
        road.massless_force(mean), road.massless_force(start), road.massless_force(end)
    )
    slope = road.gravity * profile.sine * moving
    per_kg = rolling * profile.cosine + slope + inertia_factor * profile.acceleration_m_s2 * moving
    return per_kg, fixed


def least_force(
    line: Driveline,
    gravity: float,
    terms: tuple[FloatArray, FloatArray],
    cosine: FloatArray,
    mass_kg: FloatArray,
    heaviest_kg: FloatArray | None = None,
) -> FloatArray:
    """(masses, seconds) N: what is held at the wheels at these masses, friction brakes aside.

    ``terms`` are those of :func:`force_terms`. With ``heaviest_kg``: the least of all masses
    between each and its heaviest. What road and tyres allow is the lesser of two lines over
    mass, so it is least at an end; what the brakes of the motor hold grows with mass.
    """
    per_kg, fixed = terms

    def driven(mass: FloatArray) -> FloatArray:
        return np.minimum(mass * per_kg + fixed, line.grip_force(mass, cosine, gravity))

    mass = mass_kg[:, None]
    if heaviest_kg is None:
        return np.maximum(driven(mass), -line.braking_force(mass, cosine, gravity))
    heaviest = heaviest_kg[:, None]
    least = np.minimum(driven(mass), driven(heaviest))
    return np.maximum(least, -line.braking_force(heaviest, cosine, gravity))


def drive_lap(system: System, profile: Profile, gears: IntArray, mass_kg: float) -> Lap:
    """One lap at a mass, in the given gear (from 0) each second."""
    line = system.driveline
    per_kg, fixed = force_terms(system.road, profile, line.rotating_mass_factor)
    asked = mass_kg * per_kg + fixed
    ratio = np.asarray(line.ratios, dtype=np.float64)[gears]
    mean, acceleration = profile.mean_speed_m_s, profile.acceleration_m_s2
    top = system.motor.max_speed_rad_s
    speed = line.motor_speed(mean, ratio)
    gravity = system.road.gravity
    held = np.minimum(asked, line.grip_force(mass_kg, profile.cosine, gravity))
    held = np.maximum(held, -line.braking_force(mass_kg, profile.cosine, gravity))
    wanted = line.shaft_torque(held, ratio, acceleration)
    table = reference_table(system, system.reference_external_ohm)
    ceiling = np.minimum(
        table.torque(np.minimum(speed, top)),
        line.greatest_shaft_torque(ratio),
    )
    standing = mean <= 0
    over = asked > held * (1 + 1e-9) + 1e-9
    missed = ~standing & ((over & (asked > 0)) | (wanted > ceiling * (1 + 1e-9) + 1e-9))
    missed |= speed > top * (1 + 1e-9)
    torque = np.minimum(wanted, ceiling)
    torque = np.where(standing, 0.0, np.maximum(torque, least_torque(system, speed)))
    taken = draw(system, torque, speed)
    force = line.wheel_force(torque, ratio, acceleration)
    wheel = np.where(standing, 0.0, force * mean)
    shaft = torque * speed
    rotor = np.where(
        standing, 0.0, line.rotor_inertia_kgm2 * acceleration * ratio / line.wheel_radius_m * speed
    )
    through = np.where(force > 0, force * (1 / line.efficiency - 1), -force * (1 - line.efficiency))
    lost = np.where(standing, 0.0, through * mean + line.drag_torque_nm * speed)
    brake = np.where(standing | missed, 0.0, np.maximum(wheel - asked * mean, 0.0))
    return Lap(
        traction_w=taken.power_w,
        wheel_w=wheel,
        brake_w=brake,
        rotor_w=rotor,
        driveline_loss_w=lost,
        motor_loss_w=taken.motor_loss_w,
        controller_loss_w=taken.controller_loss_w,
        motor_current_a=taken.motor_current_a,
        shaft_w=shaft,
        motor_speed_rad_s=speed,
        shaft_torque_nm=torque,
        missed=missed,
    )
