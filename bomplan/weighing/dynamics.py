"""Axle loads on a slope and under acceleration or braking; height from lifting an axle."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan, cos, sin, tan

STANDARD_GRAVITY_M_S2 = 9.80665


def loads_in_motion_n(
    mass_kg: float,
    wheelbase_m: float,
    behind_front_m: float,
    height_m: float,
    grade: float = 0.0,
    acceleration_m_s2: float = 0.0,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> tuple[float, float]:
    """Front and rear axle loads in N, square to the road.

    ``behind_front_m`` and ``height_m`` place the centre of gravity; ``grade`` is rise over
    run, positive uphill; ``acceleration_m_s2`` is negative under braking. A negative load
    means that the axle lifts off.

    T. D. Gillespie, Fundamentals of Vehicle Dynamics (SAE 1992), ch. 1, equations of dynamic
    axle loads without aerodynamic and towing terms (from memory).

    ValueError for a wheelbase that is not above 0 m.
    """
    if wheelbase_m <= 0:
        raise ValueError("the wheelbase must be above 0 m")
    weight = mass_kg * gravity_m_s2
    slope = atan(grade)
    tilt = height_m * (acceleration_m_s2 / gravity_m_s2 + sin(slope))
    ahead_of_rear = wheelbase_m - behind_front_m
    front = weight * (ahead_of_rear * cos(slope) - tilt) / wheelbase_m
    rear = weight * (behind_front_m * cos(slope) + tilt) / wheelbase_m
    return front, rear


def height_by_axle_lift_m(
    mass_kg: float,
    wheelbase_m: float,
    lifts: Sequence[tuple[float, float]],
    axle_height_m: float = 0.0,
) -> float:
    """Height of the centre of gravity above the ground in m, from lifting one axle.

    ``lifts``: pairs of (angle in rad, mass in kg gained at the axle left on the ground); with
    several steps the gain is fitted against tan(angle) through the origin. ``axle_height_m``
    is the height of the wheel centres; 0 gives the height above the axle line.

    ISO 10392:2011 asks for at least three steps, blocked springs and full tanks, and puts the
    method at a few per cent (seen in reproduction): do not show the result to the millimetre.

    ValueError without a mass, or without a lift that has an angle.
    """
    slopes = [tan(angle) for angle, _ in lifts]
    square = sum(slope * slope for slope in slopes)
    if not square or mass_kg <= 0:
        raise ValueError("needs a mass above 0 kg and at least one lift with an angle")
    gain = sum(s * gained for s, (_, gained) in zip(slopes, lifts, strict=True)) / square
    return axle_height_m + wheelbase_m * gain / mass_kg
