"""Routes that go down: braking into a pack that is nearly full, and drives without end."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from benchmarks.plain_drive import PlainDrive
from lanes import examples
from physics_cases import compact_lithium

from bomplan.physics import Profile, System, choose_gears, range_answer, route_profile
from bomplan.physics.demand import drive_lap


def hill(drop_m: float, rise_m: float) -> Profile:
    """Down first, then up, 12 km each at 50 km/h."""
    return route_profile(
        np.array([0.0, 12_000.0, 24_000.0]),
        np.full(3, 50 / 3.6),
        np.array([drop_m, 0.0, rise_m]),
        np.array([0.0, 10.0, 0.0]),
    )


def eager() -> System:
    """A small pack that takes a charge quickly, so that its taper feeds back within seconds."""
    system = compact_lithium()
    pack = replace(system.pack, capacity_ah=30.0, charge_limit_a=150.0)
    return replace(system, pack=pack, limit_tables={})


@pytest.mark.parametrize(("drop_m", "rise_m"), [(700.0, 700.0), (700.0, 400.0), (300.0, 700.0)])
def test_a_charge_close_to_full_settles_to_the_plain_loop(drop_m: float, rise_m: float) -> None:
    system, profile = eager(), hill(drop_m, rise_m)
    gears = choose_gears(system, profile, 1700.0)
    answer = range_answer(system, profile, gears, 1300.0, 0.01, 300.0)
    plain = PlainDrive(system, profile, gears.tolist()).distance(1300.0, 0.01, 300.0)
    assert answer.regenerated_wh > 0
    assert answer.distance_m == pytest.approx(plain, rel=1e-7)
    assert answer.balance.error < 1e-6


def test_a_lap_that_gives_what_it_takes_has_no_end() -> None:
    system, profile = eager(), hill(900.0, 0.0)
    gears = choose_gears(system, profile, 1700.0)
    answer = range_answer(system, profile, gears, 1300.0, 0.01, 300.0)
    assert answer.end_cause == "endless"
    assert answer.distance_m == float("inf")
    assert answer.balance.brake > 0


def test_without_regeneration_even_that_ends() -> None:
    system, profile = replace(eager(), regeneration=False, limit_tables={}), hill(900.0, 0.0)
    gears = choose_gears(system, profile, 1700.0)
    answer = range_answer(system, profile, gears, 1300.0, 0.01, 300.0)
    assert answer.end_cause in ("empty", "voltage")
    assert answer.regenerated_wh == 0


def test_more_mass_may_pay_on_less_than_a_lap_that_begins_downhill() -> None:
    """A heavier car brings more back from the first descent; over whole laps it never does."""
    system, profile = eager(), hill(700.0, 700.0)
    assert profile.closed
    assert profile.mass_never_pays(profile.length_m)
    assert not profile.mass_never_pays(1_000.0)
    assert not profile.mass_never_pays(profile.length_m - 1)
    assert not profile.mass_never_pays_from(0.0)
    up_first = route_profile(
        np.array([0.0, 12_000.0, 24_000.0]), np.full(3, 50 / 3.6),
        np.array([0.0, 400.0, 0.0]), np.zeros(3),
    )  # fmt: skip
    assert up_first.mass_never_pays(1.0)
    # From the top to the bottom: what the controller takes less what it gives.
    gears = choose_gears(system, profile, 1700.0)
    light, heavy = (
        float(drive_lap(system, profile, gears, mass).traction_w[: profile.steps // 2].sum())
        for mass in (1200.0, 1600.0)
    )
    assert heavy < light < 0


def test_a_heavier_car_may_go_farther_down_the_hill_of_a_second_lap() -> None:
    """The whole lap costs it more, the descent after it less: at speed the air takes it all."""
    drop_m, end_m = 600.0, 10_000.0
    profile = route_profile(
        np.array([0.0, end_m, 2 * end_m]), np.full(3, 130 / 3.6),
        np.array([drop_m, 0.0, drop_m]), np.zeros(3),
    )  # fmt: skip
    system = compact_lithium()
    pack = replace(system.pack, resistance_ohm=0.2 * system.pack.resistance_ohm)
    heavier_went_farther = 0
    for share in np.arange(0.16, 0.6, 0.008):
        car = replace(
            system,
            pack=replace(pack, capacity_ah=share * pack.capacity_ah, charge_limit_a=500.0),
            limit_tables={},
        )
        gears = choose_gears(car, profile, 1000.0)
        light, heavy = (
            range_answer(car, profile, gears, mass, 0.0, 250.0) for mass in (800.0, 900.0)
        )
        assert light.followed
        assert heavy.followed
        if heavy.distance_m > light.distance_m:
            heavier_went_farther += 1
            assert not profile.mass_never_pays(heavy.distance_m), share
    assert heavier_went_farther > 2
    lap_m = profile.length_m
    # What rolling takes of each lap, 100 m, makes good a first descent that is no deeper.
    assert profile.mass_never_pays(lap_m)
    assert profile.mass_never_pays(lap_m + 1_000.0)
    assert not profile.mass_never_pays(lap_m + 3_000.0)
    assert not profile.mass_never_pays(2 * lap_m - 1.0)
    assert not profile.mass_never_pays_from(5 * lap_m)
    assert profile.mass_never_pays_from(6 * lap_m)


def test_between_two_stops_a_step_apart_the_car_moves() -> None:
    """With no point between them it would creep from one to the other for ever."""
    profile = route_profile(
        np.array([0.0, 50.0, 53.0, 100.0]),
        np.full(4, 8.0),
        np.zeros(4),
        np.array([0.0, 2.0, 2.0, 0.0]),
    )
    assert len(profile.distance_m) < 60
    assert profile.distance_m.sum() == pytest.approx(100.0, rel=0.02)


def test_a_small_dip_at_the_start_pays_for_no_kilogram_that_is_carried_up_later() -> None:
    """Random ways that dip by less than a metre first: no heavier car outdoes a lighter one."""
    rng = np.random.default_rng(11)
    told = 0
    for _ in range(examples(60, 2_000)):
        dip_m = float(rng.uniform(0.05, 1.5))
        heights = np.array([20.0, 20.0 - 1.75 - dip_m, *rng.uniform(0.0, 110.0, 4), 20.0])
        profile = route_profile(
            np.array([0.0, 350.0, 2_500.0, 5_000.0, 7_500.0, 10_000.0, 12_500.0]),
            rng.uniform(8.0, 25.0, 7),
            heights,
            np.zeros(7),
        )
        system = compact_lithium()
        pack = replace(
            system.pack,
            capacity_ah=float(rng.uniform(0.005, 0.045)) * system.pack.capacity_ah,
            resistance_ohm=float(rng.uniform(0.05, 0.6)) * system.pack.resistance_ohm,
            charge_limit_a=float(rng.choice([0.0, 300.0])),
        )
        car = replace(system, pack=pack, limit_tables={})
        gears = choose_gears(car, profile, 1000.0)
        answers = [
            range_answer(car, profile, gears, kg, 0.0, 250.0) for kg in (700.0, 760.0, 950.0)
        ]
        if not all(one.followed and one.end_cause != "voltage" for one in answers):
            continue
        for light, heavy in pairwise(answers):
            if heavy.distance_m > light.distance_m:
                assert not profile.mass_never_pays(heavy.distance_m)
            told += profile.mass_never_pays(light.distance_m) and light.distance_m < 12_500
    assert told > 15


def test_a_dip_is_small_up_to_a_metre_and_has_to_be_climbed_out_of() -> None:
    def way(dip_m: float, up_m: float) -> Profile:
        # Level but for the dip; 350 m of it take 1.75 m of rolling at the least.
        return route_profile(
            np.array([0.0, 350.0, 1_000.0, 6_000.0]), np.full(4, 10.0),
            np.array([10.0, 10.0 - 1.75 - dip_m, 10.0 + up_m, 10.0]), np.zeros(4),
        )  # fmt: skip

    assert way(0.9, 5.0).mass_never_pays(1_000.0)
    assert not way(1.1, 5.0).mass_never_pays(1_000.0)
    assert not way(0.9, 5.0).mass_never_pays(351.0)
    assert not way(0.9, 5.0).mass_never_pays_from(0.0)
    assert way(-0.1, 5.0).mass_never_pays(351.0)
