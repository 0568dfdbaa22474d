"""The energy that a distance takes at least, whatever motor and controller do with it, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from physics_cases import compact_lithium

from bomplan.physics import (
    Profile,
    System,
)
from bomplan.physics.energy_floor import (
    least_j_per_m,
    mass_classes,
    most_distance_m,
)
from bomplan.physics.profile import from_speeds


def floor_by_hand(system: System, profile: Profile, mass: float, gives_back: bool) -> list[float]:
    """W at the driveline's input each second, motor and controller without loss."""
    line, road = system.driveline, system.road
    found = []
    for at in range(profile.steps):
        a, b = (float(profile.speed_m_s[at + one]) for one in (0, 1))
        v, sine, cosine = 0.5 * (a + b), float(profile.sine[at]), float(profile.cosine[at])

        def power(u: float, cosine: float = cosine) -> float:
            rolling = float(road.rolling_per_kg(np.array([u]))[0]) * mass * cosine
            return (rolling + float(road.massless_force(np.array([u]))[0])) * u

        work = (power(a) + 4 * power(v) + power(b)) / 6
        force = 0.0
        if v > 0:
            force = work / v + mass * (road.gravity * sine + line.rotating_mass_factor * (b - a))
        force = min(force, float(line.grip_force(mass, cosine, road.gravity)))
        force = max(force, -float(line.braking_force(mass, cosine, road.gravity)))
        carried = force / line.efficiency if force > 0 else force * line.efficiency
        arm = line.wheel_radius_m / line.ratios[0]
        rotor = line.rotor_inertia_kgm2 * min(0.0, b - a) / arm**2
        taken = (carried + rotor) * v
        found.append(taken if gives_back else max(0.0, taken))
    return found


HILLS = from_speeds(
    np.array([0.0, 4.0, 9.0, 12.0, 12.0, 12.0, 10.0, 6.0, 1.0, 0.0] * 6),
    "hills",
    np.array(([0.1, 0.3, 0.5, 0.9, 0.2, -0.7, -0.9, -0.3, -0.1, 0.0] * 6)[:59]),
)


@pytest.mark.parametrize("gives_back", [True, False])
def test_the_least_mean_and_the_farthest_place_by_hand(gives_back: bool) -> None:
    system, mass = compact_lithium(), 1_250.0
    power = floor_by_hand(system, HILLS, mass, gives_back)
    dearest, steps, length = max(power), HILLS.steps, HILLS.length_m
    lap = sum(power) - dearest + 300.0 * steps
    road, line = system.road, system.driveline
    place = np.cumsum(HILLS.distance_m)

    def until(second: int) -> float:
        """J up to where a second begins, within a lap."""
        return sum(power[:second]) - dearest + 300.0 * second if second else 0.0

    for laps in (0, 1, 3):
        found = least_j_per_m(
            road, line, HILLS, np.array([mass]), laps, gives_back=gives_back, beside_w=300.0
        )
        means = [
            (laps * lap + until(at)) / (laps * length + float(place[at])) for at in range(steps)
        ]
        assert float(found[0]) == pytest.approx(min(*means, lap / length), rel=1e-9)
    for energy in (0.0, 0.4 * lap, lap, 2.7 * lap, 40.0 * lap):
        far = most_distance_m(
            road, line, HILLS, np.array([mass]), np.array([0]), np.array([energy]),
            gives_back=gives_back, beside_w=300.0,
        )  # fmt: skip
        best = max(
            laps * length + float(place[at])
            for laps in range(45)
            for at in range(steps)
            if laps * lap + until(at) <= energy
        )
        assert float(far[0]) == pytest.approx(best + 1e-3, abs=1e-6)


def test_a_lap_that_takes_nothing_goes_on_for_ever() -> None:
    system = compact_lithium()
    down = from_speeds(np.full(31, 12.0), "down", np.full(30, -1.5))
    far = most_distance_m(
        system.road, system.driveline, down, np.array([1_200.0, 1_300.0]), np.array([0]),
        np.array([1.0]), gives_back=True, beside_w=0.0,
    )  # fmt: skip
    assert far.tolist() == [math.inf]


def test_classes_of_mass_by_hand() -> None:
    masses, place = mass_classes(np.array([1_000.0, 1_009.9, 1_010.1, 1_230.0]))
    assert masses.tolist() == pytest.approx([1_000.0 + 10 * one for one in range(24)])
    assert place.tolist() == [0, 0, 1, 23]
    same, alone = mass_classes(np.array([900.0, 900.0]))
    assert same[alone].tolist() == [900.0, 900.0]
