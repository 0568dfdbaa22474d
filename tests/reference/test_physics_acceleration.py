"""Two worked accelerations of Larminie and Lowry, *Electric Vehicle Technology Explained*."""

from __future__ import annotations

import math

import numpy as np
import pytest
from physics_cases import ideal_controller, ideal_pack

from bomplan.physics import Driveline, EnvelopeMotor, RoadLoad, System, acceleration, top_speed
from bomplan.physics.acceleration import times_and_distances
from bomplan.physics.road import steady_force

KMH, MPH = 1 / 3.6, 0.44704


def small_electric_car(iron: float = 0.0) -> System:
    """Ch. 8 (1st ed. ch. 7), inputs from memory: 1540 kg, 1560 kg inertial, Cd 0.19, 1.8 m²,
    air 1.25, Crr 0.0048, 95 %, G/r 37 per m, 140 N·m, then 102 kW."""
    motor = EnvelopeMotor(
        "induction", 140.0, 102e3, 102e3 / 140.0, 300.0, 2000.0, 0.0, iron, 0.0, 0.0,
        ((math.inf, 102e3),),
    )  # fmt: skip
    line = Driveline(
        (37 * 0.3,), 0.3, 0.95, rotating_mass_factor=1560 / 1540, grip=3.0, driven_share=0.6
    )
    road = RoadLoad(0.0048, 0.0, 0.19 * 1.8, 1.25, 0.0, 9.81)
    return System(road, line, motor, ideal_controller(), ideal_pack())


@pytest.mark.parametrize(
    ("speed", "seconds"),
    [(19.8, 6.40), (60 * MPH, 9.17), (100 * KMH, 9.62), (80 * MPH, 14.14)],
)
def test_small_electric_car(speed: float, seconds: float) -> None:
    """Integrating the book's equations of motion (Runge-Kutta, 1 ms) gives these times."""
    found = acceleration(small_electric_car(), speed, 0.5, 1540.0, 0.0, 0.0)
    assert found.seconds == pytest.approx(seconds, rel=1e-2)
    assert not found.grip_limited


def test_small_electric_car_against_the_road_test() -> None:
    """0 to 60 mph in 8.4 s in a road test of March 1997; the model is 12 % near."""
    found = acceleration(small_electric_car(), 60 * MPH, 0.5, 1540.0, 0.0, 0.0)
    assert found.seconds == pytest.approx(8.4, rel=0.12)


SCOOTER = RoadLoad(0.007, 0.0, 0.75 * 0.6, 1.25, 0.0, 9.81)
GEAR_PER_RADIUS = 2 / 0.21


def scooter_acceleration(speed: np.ndarray) -> np.ndarray:
    """34 N·m held by current, then T = 153 - 1.16 w; belt 2:1 at 98 %; 185 kg, 194 inertial."""
    turning = speed * GEAR_PER_RADIUS
    torque = np.minimum(34.0, 153.0 - 1.16 * turning)
    thrust = 0.98 * GEAR_PER_RADIUS * torque
    return np.asarray((thrust - steady_force(SCOOTER, speed, 185.0, 0.0)) / 194.0)


@pytest.mark.parametrize(("speed", "seconds"), [(30 * KMH, 5.43), (10.0, 6.58), (45 * KMH, 9.23)])
def test_electric_scooter(speed: float, seconds: float) -> None:
    """Same book, inputs from memory (they return its equations: 1.57 - 0.00145 v², then
    7.30 - 0.53 v - 0.00145 v²)."""
    speeds = np.linspace(0.0, speed, 801)
    found, _ = times_and_distances(speeds, scooter_acceleration(speeds))
    assert float(found[-1]) == pytest.approx(seconds, rel=1e-2)


def test_electric_scooter_distance_and_top_speed() -> None:
    """12.76 m/s and 73.7 m at 10 s; 100 m at 12.03 s; 47.69 km/h by the quadratic."""
    speeds = np.linspace(0.0, 13.2, 20_001)
    seconds, metres = times_and_distances(speeds, scooter_acceleration(speeds))
    assert float(np.interp(10.0, seconds, speeds)) == pytest.approx(12.76, rel=1e-2)
    assert float(np.interp(10.0, seconds, metres)) == pytest.approx(73.7, rel=1e-2)
    assert float(np.interp(100.0, metres, seconds)) == pytest.approx(12.03, rel=1e-2)
    pulls = scooter_acceleration(np.linspace(12.0, 14.0, 20_001))
    top = float(np.linspace(12.0, 14.0, 20_001)[np.nonzero(pulls >= 0)[0][-1]])
    assert top * 3.6 == pytest.approx(47.69, rel=5e-3)


def test_top_speed_of_the_small_car_by_its_own_equation() -> None:
    """Where 62.1/v = 0.0465 + 0.000137 v²."""
    roots = np.roots([0.00013702, 0.0, 0.04648, -62.115])
    expected = float(roots[np.isreal(roots)].real.max())
    found = top_speed(small_electric_car(), 0.5, 1540.0, 0.0, 0.0, 1800.0)
    limit = 2000.0 / 37
    assert found.speed_m_s == pytest.approx(min(expected, limit), rel=2e-3)
    assert found.cause == ("motor speed" if expected > limit else "power")


@pytest.mark.slow
def test_against_a_general_integrator() -> None:
    """scipy's solve_ivp on the equation of motion of a geared car, 1 %."""
    from physics_cases import compact_lithium
    from scipy.integrate import solve_ivp

    from bomplan.physics.performance import thrust

    system = compact_lithium()
    line = system.driveline
    gear, mass = 1, 1250.0
    single = System(
        system.road, Driveline((line.ratios[gear],), line.wheel_radius_m, line.efficiency,
                               line.drag_torque_nm, rotor_inertia_kgm2=line.rotor_inertia_kgm2),
        system.motor, system.controller, system.pack, True,
    )  # fmt: skip
    rotor = line.rotor_inertia_kgm2 * (line.ratios[gear] / line.wheel_radius_m) ** 2
    inertia = mass * 1.04 + rotor * line.efficiency

    def motion(_: float, state: np.ndarray) -> list[float]:
        speed = np.array([max(0.0, state[0])])
        push = thrust(single, 0, speed, 0.5, mass, 0.01, 300.0, 10.0)
        return [float((push - steady_force(system.road, speed, mass, 0.0))[0]) / inertia, state[0]]

    def reached(_: float, state: np.ndarray) -> float:
        return float(state[0]) - 22.0

    reached.terminal = True  # type: ignore[attr-defined]
    answer = solve_ivp(motion, (0.0, 60.0), [0.0, 0.0], events=reached, rtol=1e-7, atol=1e-7)
    found = acceleration(single, 22.0, 0.5, mass, 0.01, 300.0)
    if found.seconds <= 10.0:
        assert found.seconds == pytest.approx(float(answer.t[-1]), rel=1e-2)
        assert found.distance_m == pytest.approx(float(answer.y[1, -1]), rel=1e-2)
    else:
        assert found.seconds >= float(answer.t[-1])
