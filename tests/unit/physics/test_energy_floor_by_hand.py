"""The energy that a distance takes at least, whatever motor and controller do with it, by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from physics_cases import compact_lithium
from physics_limited import one_pack, threshold

from bomplan.physics import (
    Profile,
    System,
    load_profile,
)
from bomplan.physics.energy_floor import (
    least_energy_j,
    least_j_per_m,
    mass_classes,
    may_have_energy,
    most_distance_m,
)
from bomplan.physics.pack_table import pack_table
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
@pytest.mark.parametrize("distance", [0.0, 5.0, 200.0, 500.0, 1_234.5])
def test_energy_over_a_distance_by_hand(gives_back: bool, distance: float) -> None:
    system, masses = compact_lithium(), np.array([900.0, 1_400.0])
    found, seconds = least_energy_j(
        system.road, system.driveline, HILLS, masses, distance,
        gives_back=gives_back, beside_w=300.0,
    )  # fmt: skip
    length, steps = HILLS.length_m, HILLS.steps
    laps = int(max(0.0, distance - 1e-3) // length)
    rest, part = distance - 1e-3 - laps * length, 0
    gone = 0.0
    while gone + float(HILLS.distance_m[part]) < rest and part < steps - 1:
        gone += float(HILLS.distance_m[part])
        part += 1
    assert seconds == laps * steps + part
    for mass, mine in zip((900.0, 1_400.0), found.tolist(), strict=True):
        power = floor_by_hand(system, HILLS, mass, gives_back)
        # One second of 59 may be missed, the dearest.
        dearest = max(power)
        assert int(0.02 * steps + 1e-9) == 1
        wanted = laps * (sum(power) - dearest) + 300.0 * seconds
        if part:
            wanted += sum(power[:part]) - dearest
        assert mine == pytest.approx(wanted, rel=1e-9, abs=1e-6)


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


@pytest.mark.parametrize("reserve", [0.0, 0.2])
def test_the_energy_of_a_pack_is_enough_for_so_far_by_hand(reserve: float) -> None:
    system, trace = compact_lithium(), load_profile("constant 60 km/h")
    pack = replace(system.pack, capacity_ah=50.0)
    table = one_pack(pack, ohm=0.01)
    power = floor_by_hand(system, trace, 1_300.0, True)[0]
    spare = int(0.02 * trace.steps + 1e-9)

    def holds(metres: float) -> bool:
        return bool(
            may_have_energy(
                system.road, system.driveline, trace, table, np.array([0]), np.array([1_300.0]),
                metres, reserve, gives_back=True, beside_w=400.0,
            )[0]
        )  # fmt: skip

    def by_hand(metres: float) -> bool:
        speed = 60 / 3.6
        laps = int((metres - 1e-3) // trace.length_m)
        part = math.ceil((metres - 1e-3 - laps * trace.length_m) / speed - 1e-9) - 1
        seconds = laps * trace.steps + part
        energy = power * (seconds - (laps + (part > 0)) * spare) + 400.0 * seconds
        volts, ohm = float(pack.open_circuit(np.array([1.0]))[0]), 0.0
        inside = pack.curve.soc[pack.curve.soc > pack.soc_min]
        ohm = float(min(pack.resistance(np.array([pack.soc_min, *inside])))) + 0.01
        mean = energy / seconds
        amps = 2 * mean / (volts + math.sqrt(volts**2 - 4 * mean * ohm))
        whole = pack.usable_energy_j() * 1.001
        return whole * 1.001 - energy - seconds * ohm * amps**2 >= reserve * whole

    found, wanted = (threshold(one, 20e3, 400e3) for one in (holds, by_hand))
    assert found == pytest.approx(wanted, abs=60 / 3.6 + 0.01)
    assert may_have_energy(
        system.road, system.driveline, trace, table, np.array([], dtype=np.int64),
        np.array([]), 1.0, 0.0, gives_back=True, beside_w=0.0,
    ).tolist() == []  # fmt: skip


def test_each_of_several_masses_has_its_own_energy() -> None:
    """At the lightest and the heaviest of the classes a pack is asked what it would be alone."""
    system, trace = compact_lithium(), load_profile("ece-15")
    pack = replace(system.pack, capacity_ah=50.0)
    table = pack_table([pack], np.zeros(3, dtype=np.int64), np.ones(3), np.ones(3))

    def holds(masses: list[float], metres: float) -> list[bool]:
        return may_have_energy(
            system.road, system.driveline, trace, table, np.arange(len(masses)),
            np.array(masses), metres, 0.0, gives_back=True, beside_w=300.0,
        ).tolist()  # fmt: skip

    light, heavy = (
        threshold(lambda metres, mass=mass: holds([mass], metres)[0], 5e3, 900e3)
        for mass in (900.0, 2_200.0)
    )
    assert heavy < 0.9 * light
    between_them = 0.5 * (light + heavy)
    assert holds([900.0, 2_200.0], between_them) == [True, False]
    assert holds([2_200.0, 900.0, 900.0], between_them) == [False, True, True]
