"""Runs, descents, gears, routes and schedules by hand and by rule."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from physics_cases import compact_lead, compact_lithium, ideal_controller, ideal_pack
from physics_limited import LIMITED, changed

from bomplan.physics import (
    Driveline,
    EnvelopeMotor,
    RoadLoad,
    System,
    acceleration,
    cap,
    choose_gears,
    fixed_gear,
    load_profile,
    route_profile,
    schedule_names,
    worst_descent,
)
from bomplan.physics.demand import drive_lap, force_terms
from bomplan.physics.gears import by_table, least_loss_gears, preference
from bomplan.physics.powertrain import (
    draw,
    least_torque,
    reference_table,
)
from bomplan.physics.profile import from_speeds
from bomplan.physics.schedules import constant_speed

# -- runs --------------------------------------------------------------------------------------


def ideal(grip: float = 9.0, rotor: float = 0.0, ratios: tuple[float, ...] = (8.0,)) -> System:
    """100 N m to 400 rad/s and 40 kW beyond, 1,000 kg without any resistance."""
    motor = EnvelopeMotor("induction", 100.0, 40e3, 400.0, 300.0, 4_000.0)
    shifts = tuple(10.0 * (one + 1) for one in range(len(ratios) - 1))
    line = Driveline(
        ratios, 0.4, 1.0, shift_speeds_m_s=shifts, shift_seconds=0.5, rotating_mass_factor=1.0,
        rotor_inertia_kgm2=rotor, grip=grip, driven_share=1.0, centre_height_m=0.0,
    )  # fmt: skip
    road = RoadLoad(1e-12, 0.0, 0.0, 1.2, gravity=10.0)
    return System(road, line, motor, ideal_controller(), ideal_pack())


def test_a_run_at_even_pull_by_hand() -> None:
    # 2,000 N: 2 m/s^2 up to 20 m/s (400 rad/s): 10 m/s after 5 s and 25 m.
    found = acceleration(ideal(), 10.0, 0.5, 1_000.0, 0.0, 0.0)
    assert found.seconds == pytest.approx(5.0, rel=1e-6)
    assert found.distance_m == pytest.approx(25.0, rel=1e-6)
    assert (found.grip_limited, found.shifts) == (False, 0)
    # The rotor is 0.5 x (8 / 0.4)^2 = 200 kg more.
    slower = acceleration(ideal(rotor=0.5), 10.0, 0.5, 1_000.0, 0.0, 0.0)
    assert slower.seconds == pytest.approx(6.0, rel=1e-6)
    # Uphill 3-4-5: 6,000 N are needed and 2,000 there.
    assert acceleration(ideal(), 10.0, 0.5, 1_000.0, 0.0, 0.0, 0.75).seconds == math.inf
    gentle = 0.05 / math.sqrt(1 - 0.05**2)
    uphill = acceleration(ideal(), 10.0, 0.5, 1_000.0, 0.0, 0.0, gentle)
    assert uphill.seconds == pytest.approx(10 / 1.5, rel=1e-6)


def test_a_run_that_grip_holds_by_hand() -> None:
    # 0.1 x 10,000 N: 1 m/s^2, and a rotor that is not sped up by what slips.
    found = acceleration(ideal(grip=0.1, rotor=0.5), 10.0, 0.5, 1_000.0, 0.0, 0.0)
    assert found.seconds == pytest.approx(10.0, rel=1e-6)
    assert found.grip_limited


def test_a_run_at_even_power_by_hand() -> None:
    # From 20 m/s on 40 kW: t = 10 s + m (v^2 - 400) / (2 P).
    found = acceleration(ideal(), 30.0, 0.5, 1_000.0, 0.0, 0.0)
    assert found.seconds == pytest.approx(10 + 1_000 * 500 / 80e3, rel=1e-3)
    far = 100 + 1_000 * (30**3 - 20**3) / (3 * 40e3)
    assert found.distance_m == pytest.approx(far, rel=1e-3)


def test_a_change_of_gear_costs_what_it_costs() -> None:
    """16:1 pulls 4 m/s^2 to 10 m/s, 8:1 two: half a second each, and no speed is lost."""
    both = ideal(ratios=(16.0, 8.0))
    limited = replace(both, motor=replace(both.motor, max_speed_rad_s=400.0), limit_tables={})
    found = acceleration(limited, 15.0, 0.5, 1_000.0, 0.0, 0.0)
    assert found.shifts == 1
    assert found.seconds == pytest.approx(10 / 4 + 5 / 2 + 0.5, rel=5e-3)
    assert found.distance_m == pytest.approx(100 / 8 + 125 / 4 + 0.5 * 10, rel=5e-3)
    slow = replace(limited, driveline=replace(limited.driveline, shift_seconds=9.0))
    high = acceleration(replace(slow, limit_tables={}), 15.0, 0.5, 1_000.0, 0.0, 0.0)
    assert high.shifts == 0
    assert high.seconds == pytest.approx(7.5, rel=1e-3)


def test_a_change_of_gear_loses_the_speed_of_coasting() -> None:
    """Drag of 500 N at the change: half a second at 0.5 m/s^2 is won back at 1.5 m/s^2."""
    both = ideal(ratios=(16.0, 8.0))
    hard = replace(
        both, road=replace(both.road, rolling=0.05),
        motor=replace(both.motor, max_speed_rad_s=400.0), limit_tables={},
    )  # fmt: skip
    found = acceleration(hard, 15.0, 0.5, 1_000.0, 0.0, 0.0)
    regain = 0.5 * 0.5 / 1.5
    assert found.seconds == pytest.approx(10 / 3.5 + 5 / 1.5 + 0.5 + regain, rel=5e-3)
    metres = 100 / 7 + 125 / 3 + 10 * (0.5 + regain)
    assert found.distance_m == pytest.approx(metres, rel=5e-3)


def test_ratings_are_taken_for_as_long_as_the_run_lasts() -> None:
    """40 kW for 5 s, 20 kW for 20 s: a run of t seconds takes 20 / (2 sqrt(5 / t)), five times."""
    rated = replace(ideal().motor, ratings=((5.0, 40e3), (20.0, 20e3)))
    system = replace(ideal(), motor=rated, limit_tables={})
    seconds = 10.0
    for _ in range(5):
        hold = math.ceil(seconds * 10) / 10
        seconds = 10 * math.sqrt(hold / 5)
    found = acceleration(system, 20.0, 0.5, 1_000.0, 0.0, 0.0)
    assert found.seconds == pytest.approx(seconds, rel=1e-3)
    assert 19 < seconds < 20


def test_a_run_to_no_speed_is_refused() -> None:
    words = "^the speed to reach must be above zero$"
    for speed in (0.0, -1.0):
        with pytest.raises(ValueError, match=words):
            acceleration(ideal(), speed, 0.5, 1_000.0, 0.0, 0.0)


# -- descents ----------------------------------------------------------------------------------


def test_the_worst_descent_by_hand() -> None:
    """Two of them, the longer one with a level second in it."""
    rise = np.array([0.4, -0.8, -0.8, 0.5, -0.9, 0.0, -0.9, -0.9, 0.1, 0.0, 0.0])
    profile = from_speeds(np.full(12, 12.0), "hills", rise)
    weak = {"regeneration_torque_nm": 5.0}
    system, gears = changed(compact_lithium(), motor=weak), fixed_gear(profile, 2)
    for full in (True, False):
        lap = drive_lap(
            replace(system, regeneration=False) if full else system, profile, gears, 1_300.0
        )
        found = worst_descent(system, profile, gears, 1_300.0, pack_full=full)
        assert found is not None
        assert found.brake_j == pytest.approx(float(lap.brake_w[4:8].sum()))
        assert found.seconds == 4.0
        assert found.height_m == pytest.approx(2.7)
        assert found.mean_brake_w == pytest.approx(found.brake_j / 4)
        assert not found.warn
    flat = from_speeds(np.full(12, 12.0), "flat")
    assert worst_descent(system, flat, fixed_gear(flat, 2), 1_300.0, pack_full=True) is None
    # One that lasts to the end counts too.
    end = from_speeds(np.full(4, 12.0), "end", np.array([0.0, -0.8, -0.8]))
    last = worst_descent(system, end, fixed_gear(end, 2), 1_300.0, pack_full=True)
    assert last is not None
    assert (last.seconds, last.height_m) == (2.0, pytest.approx(1.6))


def test_a_descent_is_warned_of_above_what_brakes_take() -> None:
    def warned(seconds: int) -> tuple[bool, float]:
        profile = from_speeds(np.full(seconds + 1, 12.0), "long", np.full(seconds, -1.0))
        found = worst_descent(
            compact_lead(), profile, fixed_gear(profile, 3), 1_300.0, pack_full=True
        )
        assert found is not None
        return found.warn, found.brake_j / 1_300.0

    each = warned(100)[1] / 100
    last = int(1_400 / each)
    assert warned(last) == (False, pytest.approx(last * each))
    assert warned(last + 1)[0]


# -- gears -------------------------------------------------------------------------------------


def test_the_drivers_table_by_hand() -> None:
    speeds = np.array([5.0, 6.0, 6.1, 5.2, 5.1, 5.0, 13.0, 25.0, 17.0, 16.1, 10.3, 10.1, 2.0])
    profile = from_speeds(np.repeat(speeds, 2), "steps")
    # Seconds of even speed are every other one.
    gears = by_table(profile, (6.0, 12.0, 19.0))[::2].tolist()
    # Up above 6, 12 and 19; down below 5.1, 10.2 and 16.15.
    assert gears == [0, 0, 1, 1, 1, 0, 2, 3, 3, 2, 2, 1, 0]
    assert by_table(profile, (6.0, 12.0, 19.0)) is by_table(profile, (6.0, 12.0, 19.0))
    assert by_table(profile, ()).tolist() == [0] * profile.steps
    with pytest.raises(ValueError, match="read-only"):
        by_table(profile, ())[0] = 1


def test_the_order_in_which_gears_are_preferred() -> None:
    assert preference(np.array([0, 2, 3]), 4).T.tolist() == [
        [0, 5, 6, 7], [2, 1, 0, 5], [3, 2, 1, 0],
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["lithium", "lead", "weak pack"])
def test_gears_are_chosen_as_the_rule_says(name: str) -> None:
    system = replace(LIMITED[name], limit_tables={})
    line, mass = system.driveline, 1_900.0
    speeds = np.concatenate([np.linspace(0.0, 28.0, 29), np.full(12, 28.0), np.full(6, 62.0)])
    rise = np.concatenate(
        [0.6 * np.sin(np.arange(28)) * np.linspace(0.2, 6.0, 28), np.full(18, 1.0)]
    )
    profile = from_speeds(speeds, "hard", rise)
    for ohm in (None, 0.03):
        table = reference_table(system, 0.010 if ohm is None else ohm)
        per_kg, fixed = force_terms(system.road, profile, line.rotating_mass_factor)
        wanted = by_table(profile, line.shift_speeds_m_s)
        chosen, cheapest = [], []
        for at in range(profile.steps):
            v, dv = float(profile.mean_speed_m_s[at]), float(profile.acceleration_m_s2[at])
            force = mass * float(per_kg[at]) + float(fixed[at])
            grip = float(line.grip_force(mass, float(profile.cosine[at]), system.road.gravity))
            able, pulls, powers = [], {}, {}
            for gear, ratio in enumerate(line.ratios):
                turning = v * ratio / line.wheel_radius_m
                if turning > system.motor.max_speed_rad_s:
                    continue
                ceiling = min(
                    float(table.torque(np.array([turning]))[0]),
                    float(line.greatest_shaft_torque(ratio)),
                )
                asked = float(line.shaft_torque(np.array([min(force, grip)]), ratio, dv)[0])
                if asked - ceiling * (1 + 1e-9) <= 1e-9:
                    able.append(gear)
                pulls[gear] = float(line.wheel_force(np.array([ceiling]), ratio, dv)[0])
                full = line.shaft_torque(np.array([force]), ratio, dv)
                turn = np.array([turning])
                torque = np.maximum(full, least_torque(system, turn))
                powers[gear] = float(draw(system, torque, turn).power_w[0])
            if able:
                order = [*range(int(wanted[at]), -1, -1), *range(int(wanted[at]) + 1, 4)]
                chosen.append(next(gear for gear in order if gear in able))
                cheapest.append(min(able, key=lambda gear: (powers[gear], gear)))
            else:
                best = max(pulls, key=lambda gear: (pulls[gear], -gear)) if pulls else 3
                chosen.append(best)
                cheapest.append(best)
        assert choose_gears(system, profile, mass, ohm).tolist() == chosen
        assert least_loss_gears(system, profile, mass, ohm).tolist() == cheapest
        assert len(set(chosen)) > 2
    assert fixed_gear(profile, 2).tolist() == [2] * profile.steps


# -- routes and schedules ------------------------------------------------------------------------


def test_a_route_on_the_flat_by_hand() -> None:
    """1 km at 20 m/s from rest to rest, at 1 and 2 m/s^2: 200 m up, 100 m down, 700 m even."""
    points = np.array([0.0, 1_000.0])
    profile = route_profile(
        points, np.array([20.0, 20.0]), np.zeros(2), np.zeros(2),
        acceleration_m_s2=1.0, braking_m_s2=2.0, name="flat",
    )  # fmt: skip
    assert profile.name == "flat"
    assert profile.steps in (20 + 35 + 10, 20 + 35 + 11)
    speed = profile.speed_m_s
    assert speed[:21].tolist() == pytest.approx(list(range(21)), abs=0.35)
    assert speed[21:55].tolist() == pytest.approx([20.0] * 34, abs=1e-6)
    assert speed[56:66].tolist() == pytest.approx(list(range(18, -1, -2)), abs=0.6)
    assert speed[0] == speed[-1] == 0.0
    assert profile.length_m == pytest.approx(1_000.0, rel=2e-3)
    assert route_profile(points, np.full(2, 20.0), np.zeros(2), np.zeros(2)).name == "route"


def test_a_route_keeps_the_lower_limit_at_a_point_and_stands_where_it_stops() -> None:
    profile = route_profile(
        np.array([0.0, 500.0, 900.0, 1_500.0]), np.array([10.0, 20.0, 8.0, 8.0]),
        np.array([0.0, 20.0, 20.0, 0.0]), np.array([0.0, 7.0, 0.0, 4.0]),
    )  # fmt: skip
    place = np.concatenate([[0.0], np.cumsum(profile.distance_m)])
    speed = profile.speed_m_s
    assert float(speed[place < 495].max()) <= 10 + 1e-6
    assert float(speed[place > 905].max()) <= 8 + 1e-6
    assert float(speed[(place > 500) & (place < 900)].max()) > 13
    standing = np.flatnonzero(speed < 1e-9)
    # Seven seconds at 500 m, four at the end.
    assert int(np.count_nonzero(np.abs(place[standing] - 500) < 5)) in (7, 8)
    assert int(np.count_nonzero(place[standing] > 1_490)) in (4, 5)
    height = np.concatenate([[0.0], np.cumsum(profile.rise_m)])
    wanted = np.interp(place * 1_500.0 / place[-1], [0, 500, 900, 1500], [0, 20, 20, 0])
    assert height.tolist() == pytest.approx(wanted.tolist(), abs=0.6)


def test_routes_that_are_none_in_words() -> None:
    two, flat = np.array([0.0, 100.0]), np.zeros(2)
    limit = np.array([10.0, 10.0])

    def words(*arguments: Any, **more: float) -> str:
        with pytest.raises(ValueError) as caught:  # noqa: PT011 (the whole text follows)
            route_profile(*arguments, **more)
        return str(caught.value)

    points = "a route needs two points or more, each with all four figures"
    assert words(two[:1], limit[:1], flat[:1], flat[:1]) == points
    for short in range(4):
        some = [two, limit, flat, flat]
        some[short] = np.array([0.0, 100.0, 200.0])
        assert words(*some) == points
    rise = "route distances must start at 0 and rise"
    assert words(two + 1, limit, flat, flat) == rise
    assert words(flat, limit, flat, flat) == rise
    speeds = "speed limits must be above zero and stops not negative"
    assert words(two, np.array([0.0, 10.0]), flat, flat) == speeds
    assert words(two, limit, flat, np.array([0.0, -1.0])) == speeds
    # The limit at the last point means nothing.
    assert route_profile(two, np.array([10.0, 0.0]), flat, flat).steps > 10
    pulls = "acceleration and braking must be above zero"
    assert words(two, limit, flat, flat, acceleration_m_s2=0.0) == pulls
    assert words(two, limit, flat, flat, braking_m_s2=0.0) == pulls
    steep = "a route may not be steeper than 40 %"
    assert words(two, limit, np.array([0.0, 40.1]), flat) == steep
    assert words(two, limit, np.array([40.1, 0.0]), flat) == steep
    long = np.array([0.0, 4_000.0])
    assert route_profile(long, limit, np.array([0.0, 1_600.0]), flat).steps > 10


def test_a_cap_by_hand() -> None:
    flat = from_speeds(np.array([0.0, 4.0, 12.0, 12.0, 2.0]), "lap")
    capped = cap(flat, 10.0)
    assert capped.name == "lap capped at 36 km/h"
    assert capped.speed_m_s.tolist() == [0.0, 4.0, 10.0, 10.0, 2.0]
    assert cap(flat, 12.0) is flat
    for speed in (0.0, -1.0):
        with pytest.raises(ValueError, match=r"^a speed cap must be above zero$"):
            cap(flat, speed)
    # On a hill the road stays: 10 s at 20 m/s are 20 s at 10 m/s, with all of the height.
    hill = from_speeds(np.full(11, 20.0), "hill", np.full(10, 1.0))
    slow = cap(hill, 10.0)
    assert slow.steps == 20
    assert slow.length_m == pytest.approx(200.0)
    assert slow.rise_m.tolist() == pytest.approx([0.5] * 20)
    assert slow.speed_m_s.tolist() == pytest.approx([10.0] * 21)
    stop = from_speeds(np.array([0.0, 0.0, 20.0, 20.0]), "go", np.array([0.0, 1.0, 1.0]))
    assert cap(stop, 10.0).length_m == pytest.approx(30.0, rel=0.2)


def test_constant_speeds_and_names_that_are_none() -> None:
    assert load_profile("constant 72 km/h").speed_m_s.tolist() == pytest.approx([20.0] * 601)
    assert load_profile("constant 50 mph").speed_m_s[0] == pytest.approx(22.352)
    assert load_profile("constant 7 m/s").speed_m_s[0] == 7.0
    assert load_profile("constant 72 km/h").name == "constant 72 km/h"

    def words(name: str) -> str:
        with pytest.raises(ValueError) as caught:  # noqa: PT011 (the whole text follows)
            load_profile(name)
        return str(caught.value)

    for name in ("constant 72", "constant fast km/h", "constant 72 knots"):
        assert words(name) == (
            f"cannot read {name!r}: write it as 'constant 80 km/h' or 'constant 50 mph'"
        )
    for name in ("constant 0 km/h", "constant 360 km/h", "constant -5 km/h"):
        assert words(name) == "a constant speed must lie between 0 and 360 km/h"
    assert constant_speed(99.9, "fast").steps == 600
    known = ", ".join(schedule_names())
    for name in ("wltc-1-high", "wltc-1-extra-high", "udds-low", "nowhere", "wltc-3b-lowest"):
        assert words(name) == (f"no driving schedule {name!r}; known: {known}, 'constant 80 km/h'")
    assert load_profile("wltc-3b-extra-high").steps == 323
    assert load_profile("wltc-3b-high").steps == 455


def test_breakpoints_of_the_older_schedules() -> None:
    ece, eudc, nedc = (load_profile(name) for name in ("ece-15", "eudc", "nedc"))
    assert (ece.steps, eudc.steps, nedc.steps) == (195, 400, 1_180)
    assert nedc.speed_m_s[:196].tolist() == pytest.approx(ece.speed_m_s.tolist())
    assert nedc.speed_m_s[585:781].tolist() == pytest.approx(ece.speed_m_s.tolist())
    assert nedc.speed_m_s[780:].tolist() == pytest.approx(eudc.speed_m_s.tolist())
    # Half way from 0 to 15 km/h at 13 s.
    assert float(ece.speed_m_s[13]) == pytest.approx(7.5 / 3.6)
    golf = load_profile("j227a-c")
    # 18 s up to 30 mph, 20 s even, 8 s of coasting to nine tenths, 9 s down, 25 s standing.
    assert golf.steps == 80
    at = (golf.speed_m_s / 0.44704).tolist()
    assert [at[one] for one in (0, 9, 18, 38, 46, 55, 80)] == pytest.approx(
        [0.0, 15.0, 30.0, 30.0, 27.0, 0.0, 0.0]
    )
