"""Whole answers on the sample vehicles: what a builder would check by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from physics_cases import (
    LITHIUM_PACK,
    NINE_INCH,
    compact_lead,
    compact_lithium,
    ideal_controller,
    ideal_pack,
)

from bomplan.physics import (
    Driveline,
    EnvelopeMotor,
    RoadLoad,
    System,
    acceleration,
    cap,
    choose_gears,
    climb,
    fixed_gear,
    gradeability,
    least_battery_energy,
    load_profile,
    optimistic_range,
    range_answer,
    route_profile,
    steady_table,
    top_speed,
    worst_descent,
)
from bomplan.physics.performance import thrust
from bomplan.physics.profile import from_speeds

KMH = 1 / 3.6


def lossless() -> System:
    """No losses anywhere but on the road."""
    motor = EnvelopeMotor("induction", 500.0, 200e3, 400.0, 300.0, 2000.0)
    line = Driveline((8.0,), 0.3, 1.0, rotating_mass_factor=1.0, grip=3.0)
    road = RoadLoad(0.01, 0.0, 0.6, 1.2, 0.0, 9.81)
    return System(road, line, motor, ideal_controller(), ideal_pack(), False)


def test_range_in_closed_form_at_constant_speed() -> None:
    """30 kWh over (0.01 m g + 0.36 v²) N: no cycle, no losses, no tolerance to hide in."""
    system = lossless()
    profile = load_profile("constant 72 km/h")
    force = 0.01 * 1000 * 9.81 + 0.36 * 400.0
    answer = range_answer(system, profile, fixed_gear(profile, 0), 1000.0, 0.0, 0.0)
    assert answer.distance_m == pytest.approx(300 * 100 * 3600 / force, rel=1e-6)
    assert answer.energy_battery_wh_km == pytest.approx(force / 3.6, rel=1e-6)
    assert answer.end_cause == "empty"
    with_load = range_answer(system, profile, fixed_gear(profile, 0), 1000.0, 0.0, 600.0)
    assert with_load.energy_battery_wh_km == pytest.approx(force / 3.6 + 600 / 72, rel=1e-6)


def test_two_kilowatts_of_heat_at_town_speed() -> None:
    """2 kW at a mean 30 km/h is 67 Wh/km more (common practice's figure)."""
    system, profile = lossless(), load_profile("constant 30 km/h")
    gears = fixed_gear(profile, 0)
    cold, mild = (
        range_answer(system, profile, gears, 1000.0, 0.0, 0.0, heat).energy_battery_wh_km
        for heat in (2000.0, 0.0)
    )
    assert cold - mild == pytest.approx(66.7, abs=0.1)


def test_reserve_is_kept_as_energy() -> None:
    system, profile = compact_lithium(), load_profile("udds")
    gears = choose_gears(system, profile, 1700.0)
    whole, kept = (
        range_answer(system, profile, gears, 1250.0, 0.01, 300.0, 0.0, share)
        for share in (0.0, 0.2)
    )
    assert kept.end_cause == "reserve"
    assert kept.usable_wh == pytest.approx(0.8 * whole.usable_wh, rel=5e-3)
    assert kept.distance_m <= 0.8 * whole.distance_m + 1e-6


def test_cut_off_under_load_ends_the_drive() -> None:
    system = compact_lead()
    profile = load_profile("wltc-3b-low")
    gears = choose_gears(system, profile, 1700.0)
    answer = range_answer(system, profile, gears, 1450.0, 0.01, 300.0)
    tight = replace(system, pack=replace(system.pack, min_voltage_v=138.0), limit_tables={})
    early = range_answer(tight, profile, gears, 1450.0, 0.01, 300.0)
    assert early.end_cause == "voltage"
    assert early.distance_m < answer.distance_m
    assert early.min_voltage_v >= 138.0


def test_voltage_sags_deeper_when_nearly_empty() -> None:
    for system, mass in ((compact_lithium(), 1250.0), (compact_lead(), 1450.0)):
        full, empty = (
            steady_table(system, (80 * KMH,), soc, mass, 0.01, 300.0)[-1] for soc in (0.95, 0.25)
        )
        assert empty.pack_voltage_v < full.pack_voltage_v
        assert empty.battery_current_a > full.battery_current_a


def test_a_schedule_too_fast_is_said_so() -> None:
    system, profile = compact_lithium(), load_profile("wltc-3b")
    weak = replace(
        system, motor=replace(system.motor, peak_torque_nm=60.0, peak_power_w=15e3), limit_tables={}
    )
    answer = range_answer(weak, profile, choose_gears(weak, profile, 1700.0), 1250.0, 0.01, 300.0)
    assert not answer.followed
    assert answer.not_followed_s > 36
    assert 0 < answer.not_followed_m < profile.length_m


def test_regeneration_pays_and_is_refused_when_full() -> None:
    system, profile = compact_lithium(), load_profile("udds")
    gears = choose_gears(system, profile, 1700.0)
    without = range_answer(
        replace(system, regeneration=False, limit_tables={}), profile, gears, 1250.0, 0.01, 300.0
    )
    with_it = range_answer(system, profile, gears, 1250.0, 0.01, 300.0)
    assert 1.02 < with_it.distance_m / without.distance_m < 1.35
    assert with_it.regenerated_wh > 0
    assert with_it.balance.refused > 0  # the first kilometre, on a full pack
    assert without.regenerated_wh == 0
    assert without.brake_wh > with_it.brake_wh


def test_gentle_coasting_draws_nothing_from_a_series_pack() -> None:
    """A coast-down steeper than road load alone: only the 12 V supply and the idle chopper."""
    system = compact_lead()
    falling = from_speeds(np.linspace(20.0, 10.0, 21), "coast")
    answer = range_answer(system, falling, fixed_gear(falling, 3), 1450.0, 0.0, 0.0)
    assert answer.peak_battery_a == pytest.approx(40.0 / 152.0, rel=0.05)


def test_series_motor_pulls_away_in_top_gear_at_the_price_of_current() -> None:
    system = compact_lead()
    flat = np.array([0.0])
    for gear in range(4):
        push = float(thrust(system, gear, flat, 0.5, 1450.0, 0.01, 300.0, 3.0)[0])
        assert push > float(system.road.force(flat, 1450.0)[0])
    need = 0.05 * 1450.0 * 9.81
    torque = system.driveline.shaft_torque(np.array([need]), np.array([13.8, 3.8]), 0.0)
    first, top = NINE_INCH.current(torque)
    assert top > 2 * first


def test_second_gear_serves_25_mph_and_third_45() -> None:
    """And a low gear tops out on motor speed (common practice)."""
    system = compact_lead()
    first = replace(
        system,
        driveline=replace(system.driveline, ratios=(13.8,), shift_speeds_m_s=()),
        limit_tables={},
    )
    assert top_speed(first, 0.8, 1450.0, 0.01, 300.0, 60.0).cause == "motor speed"
    table = steady_table(system, (25 * 0.44704, 45 * 0.44704), 0.8, 1450.0, 0.01, 300.0)
    by_gear = {(round(p.speed_m_s / 0.44704), p.gear): p for p in table}
    assert by_gear[25, 1].feasible
    assert by_gear[45, 2].feasible
    assert not by_gear[45, 0].feasible


def test_top_speed_falls_with_how_long_it_must_be_held() -> None:
    for system, mass in ((compact_lithium(), 1250.0), (compact_lead(), 1450.0)):
        short, hour = (top_speed(system, 0.5, mass, 0.01, 300.0, s) for s in (10.0, 1800.0))
        assert hour.speed_m_s <= short.speed_m_s
        assert 90 * KMH < hour.speed_m_s < 170 * KMH


def test_a_hill_start_that_grip_forbids() -> None:
    """Front drive with 40 % on the front axle, wet road, 15 %: 0.147 g against 0.162."""
    system = compact_lithium()
    rear_heavy = replace(
        system, driveline=replace(system.driveline, grip=0.4, driven_share=0.4), limit_tables={}
    )
    stuck = climb(rear_heavy, 0.15, 0.0, 3.0, 0.5, 1250.0, 0.01, 300.0)
    assert not stuck.possible
    assert stuck.limit_cause == "grip"
    assert climb(system, 0.15, 0.0, 3.0, 0.5, 1250.0, 0.01, 300.0).possible


def test_a_van_cannot_start_on_100_nm_through_8_to_1() -> None:
    """2.5 t at 20 %: 5.1 kN; 100 N·m through 8:1 on a 0.32 m wheel gives half of it."""
    motor = EnvelopeMotor("induction", 100.0, 50e3, 500.0, 300.0, 900.0)
    line = Driveline((8.0,), 0.32, 0.95, driven="rear", grip=0.8, driven_share=0.55)
    system = System(RoadLoad(0.0115, 0.0, 1.9, 1.2), line, motor, ideal_controller(), ideal_pack())
    answer = climb(system, 0.20, 0.0, 3.0, 0.5, 2500.0, 0.0, 0.0)
    assert not answer.possible
    assert answer.margin_n == pytest.approx(100 * 8 * 0.95 / 0.32 - 5085, abs=20)
    assert math.isnan(answer.motor_current_a)


def test_gradeability_agrees_with_climb() -> None:
    system = compact_lithium()
    steepest = gradeability(system, 40 * KMH, 60.0, 0.4, 1250.0, 0.01, 300.0)
    for grade, possible in ((steepest - 1e-4, True), (steepest + 1e-4, False)):
        assert climb(system, grade, 40 * KMH, 60.0, 0.4, 1250.0, 0.01, 300.0).possible is possible
    assert math.isnan(gradeability(system, 80.0, 60.0, 0.4, 1250.0, 0.01, 300.0))


def test_shifts_cost_time() -> None:
    system = compact_lead()
    slow = replace(system, driveline=replace(system.driveline, shift_seconds=2.5), limit_tables={})
    quick = acceleration(system, 80 * KMH, 0.8, 1450.0, 0.01, 300.0)
    dull = acceleration(slow, 80 * KMH, 0.8, 1450.0, 0.01, 300.0)
    assert dull.seconds > quick.seconds
    assert math.isinf(acceleration(system, 300 * KMH, 0.8, 1450.0, 0.01, 300.0).seconds)


def test_route_keeps_limits_stops_and_closes() -> None:
    profile = route_profile(
        np.array([0.0, 800.0, 2000.0, 3500.0, 4300.0]),
        np.array([50.0, 80.0, 80.0, 50.0, 50.0]) * KMH,
        np.array([100.0, 110.0, 150.0, 120.0, 100.0]),
        np.array([0.0, 15.0, 0.0, 20.0, 10.0]),
    )
    assert profile.closed
    assert profile.length_m == pytest.approx(4300.0, rel=5e-3)
    assert float(profile.rise_m.sum()) == pytest.approx(0.0, abs=1e-6)
    assert float(profile.speed_m_s.max()) <= 80 * KMH + 1e-9
    assert float(profile.acceleration_m_s2.max()) <= 1.0 + 1e-6
    assert float(profile.acceleration_m_s2.min()) >= -1.0 - 1e-6
    standing = profile.mean_speed_m_s < 0.05
    assert 43 <= int(standing.sum()) <= 50
    climbed = float(profile.rise_m[profile.rise_m > 0].sum())
    assert climbed == pytest.approx(50.0, abs=0.5)


def test_routes_with_faults_are_refused() -> None:
    two, flat = np.array([10.0, 10.0]), np.zeros(2)
    with pytest.raises(ValueError, match="start at 0"):
        route_profile(np.array([5.0, 10.0]), two, flat, flat)
    with pytest.raises(ValueError, match="steeper"):
        route_profile(np.array([0.0, 100.0]), two, np.array([0.0, 60.0]), flat)
    with pytest.raises(ValueError, match="speed limits"):
        route_profile(np.array([0.0, 100.0]), flat, flat, flat)


def test_a_net_descent_is_not_called_closed() -> None:
    profile = route_profile(
        np.array([0.0, 2000.0]), np.full(2, 15.0), np.array([80.0, 0.0]), np.zeros(2)
    )
    assert not profile.closed


def test_a_long_descent_fills_the_brakes_of_a_series_car() -> None:
    """1.75 t down 200 m sets 0.95 kWh free, less road load (common practice's figure)."""
    system = replace(compact_lead(), limit_tables={})
    descent = from_speeds(np.full(201, 12.5), "down", np.full(200, -1.0))
    found = worst_descent(system, descent, fixed_gear(descent, 2), 1750.0, False)
    assert found is not None
    assert found.height_m == pytest.approx(200.0)
    free_j = 1750 * 9.80665 * 200
    assert free_j / 3.6e6 == pytest.approx(0.953, abs=0.002)
    road_j = float(system.road.force(np.array([12.5]), 1750.0)[0]) * descent.length_m
    assert found.brake_j == pytest.approx(free_j - road_j, rel=0.25)
    assert found.brake_j < free_j - 0.9 * road_j
    with_motor = worst_descent(compact_lithium(), descent, fixed_gear(descent, 2), 1750.0, False)
    full = worst_descent(compact_lithium(), descent, fixed_gear(descent, 2), 1750.0, True)
    assert with_motor is not None
    assert full is not None
    assert with_motor.brake_j < 0.5 * full.brake_j
    level = load_profile("udds")
    assert worst_descent(system, level, fixed_gear(level, 2), 1450.0, True) is None


def test_endless_when_a_lap_takes_nothing() -> None:
    system = lossless()
    stand = from_speeds(np.zeros(60), "parked")
    answer = range_answer(system, stand, fixed_gear(stand, 0), 1000.0, 0.0, 0.0)
    assert answer.end_cause == "endless"
    assert math.isinf(answer.distance_m)


@pytest.mark.parametrize(("stop_s", "laps"), [(3_600, 109.0), (90_000, 12.0)])
@pytest.mark.parametrize("reserve", [0.0, 0.25])
def test_days_of_standing_are_not_without_end(stop_s: int, laps: float, reserve: float) -> None:
    """A pack that is spent little by little counts as far as it came, in at least twelve laps."""
    system = lossless()
    moving = np.concatenate([np.linspace(0.0, 6.0, 31), np.linspace(6.0, 0.0, 31)[1:]])
    stop = from_speeds(np.concatenate([moving, np.zeros(stop_s)]), "a trip a day")
    answer = range_answer(system, stop, fixed_gear(stop, 0), 1000.0, 0.0, 0.0, 0.0, reserve)
    assert answer.end_cause == "time"
    # What is settled together may reach into the next lap.
    assert laps <= answer.distance_m / ((1.0 - reserve) * stop.length_m) + 1e-9 <= laps + 1.1
    assert answer.end_soc > 0.9
    assert 0.0 < answer.energy_battery_wh_km < 100.0
    assert math.isfinite(answer.drive_s)


def test_bad_arguments_are_refused() -> None:
    system, profile = compact_lithium(), load_profile("udds")
    gears = fixed_gear(profile, 2)
    with pytest.raises(ValueError, match="reserve"):
        range_answer(system, profile, gears, 1250.0, 0.01, 300.0, 0.0, 1.0)
    with pytest.raises(ValueError, match="12 V"):
        range_answer(system, profile, gears, 1250.0, 0.01, -1.0)


def test_cold_and_old_packs_go_less_far() -> None:
    profile = load_profile("udds")
    gears = choose_gears(compact_lithium(), profile, 1700.0)
    answers = []
    for capacity, resistance in ((1.0, 1.0), (0.8, 1.4), (0.7, 2.1)):
        pack = replace(
            LITHIUM_PACK,
            capacity_ah=200.0 * capacity,
            resistance_ohm=LITHIUM_PACK.resistance_ohm * resistance,
        )
        system = replace(compact_lithium(), pack=pack, limit_tables={})
        answers.append(range_answer(system, profile, gears, 1250.0, 0.01, 300.0).distance_m)
    assert answers[0] > answers[1] > answers[2]


def test_cap_on_a_hilly_round_keeps_the_road() -> None:
    profile = route_profile(
        np.array([0.0, 3000.0, 6000.0]),
        np.full(3, 25.0),
        np.array([0.0, 90.0, 0.0]),
        np.array([0.0, 10.0, 5.0]),
    )
    capped = cap(profile, 12.0)
    assert float(capped.speed_m_s.max()) == pytest.approx(12.0)
    assert capped.length_m == pytest.approx(profile.length_m, rel=5e-3)
    assert float(capped.rise_m[capped.rise_m > 0].sum()) == pytest.approx(90.0, abs=0.5)
    assert capped.steps > profile.steps
    assert capped.closed
    assert cap(profile, 30.0) is profile


@pytest.mark.parametrize(
    ("make", "mass", "loose"), [(compact_lithium, 1250.0, 1.02), (compact_lead, 1450.0, 1.25)]
)
def test_screening_bounds_are_near_enough_to_be_of_use(
    make: Callable[[], System], mass: float, loose: float
) -> None:
    """A bound that never bites would pass every property: lithium 2 %, lead 25 %."""
    system = make()
    for name in ("udds", "wltc-2", "hwfet"):
        profile = load_profile(name)
        gears = choose_gears(system, profile, 1700.0)
        answer = range_answer(system, profile, gears, mass, 0.0, 300.0)
        screen = optimistic_range(system, profile, gears, mass, 300.0)
        assert answer.distance_m <= screen <= loose * answer.distance_m
        least = least_battery_energy(
            system, profile, gears, mass, 300.0, at_least_m=answer.distance_m
        )
        assert 0.85 * answer.energy_battery_wh_km <= least / 3.6 <= answer.energy_battery_wh_km
