"""What must hold for every vehicle on every closed profile."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.plain_drive import PlainDrive
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from lanes import examples
from physics_strategies import profiles, systems

from bomplan.physics import (
    Profile,
    System,
    acceleration,
    choose_gears,
    climb,
    least_battery_energy,
    most_usable_energy,
    optimistic_range,
    range_answer,
    top_speed,
)

REFERENCE_KG = 2700.0
ROUNDING = 1 + 1e-12

masses = st.floats(700.0, 2400.0)
external = st.floats(0.0, 0.03)
auxiliary = st.floats(0.0, 1500.0)
reserves = st.sampled_from([0.0, 0.1, 0.2])
quick = settings(
    max_examples=examples(15, 60),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)


@quick
@given(systems(), profiles(), masses, st.floats(0.1, 300.0), external, auxiliary, reserves)
def test_more_mass_never_lengthens_range(
    system: System, profile: Profile, mass: float, more: float, ohm: float, watts: float,
    reserve: float,
) -> None:  # fmt: skip
    """With gears fixed at the reference mass, on closed profiles, where they are followed."""
    gears = choose_gears(system, profile, REFERENCE_KG)
    light = range_answer(system, profile, gears, mass, ohm, watts, 0.0, reserve)
    heavy = range_answer(system, profile, gears, mass + more, ohm, watts, 0.0, reserve)
    assert profile.closed
    if heavy.followed:
        assert light.followed
        assert heavy.distance_m <= light.distance_m * ROUNDING


@quick
@given(systems(), profiles(), masses, external, auxiliary, reserves)
def test_resistance_auxiliaries_and_heat_never_lengthen_range(
    system: System, profile: Profile, mass: float, ohm: float, watts: float, reserve: float
) -> None:
    gears = choose_gears(system, profile, REFERENCE_KG)
    base = range_answer(system, profile, gears, mass, ohm, watts, 0.0, reserve).distance_m
    for answer in (
        range_answer(system, profile, gears, mass, ohm + 0.004, watts, 0.0, reserve),
        range_answer(system, profile, gears, mass, ohm, watts + 60.0, 0.0, reserve),
        range_answer(system, profile, gears, mass, ohm, watts, 900.0, reserve),
    ):
        assert answer.distance_m <= base * ROUNDING


@quick
@given(systems(), profiles(), masses, auxiliary)
def test_rolling_drag_and_cold_never_lengthen_range(
    system: System, profile: Profile, mass: float, watts: float
) -> None:
    gears = choose_gears(system, profile, REFERENCE_KG)
    base = range_answer(system, profile, gears, mass, 0.01, watts)
    road, pack = system.road, system.pack
    worse = (
        replace(system, road=replace(road, rolling=road.rolling * 1.05), limit_tables={}),
        replace(system, road=replace(road, drag_area_m2=road.drag_area_m2 * 1.05), limit_tables={}),
    )
    for other in worse:
        answer = range_answer(other, profile, gears, mass, 0.01, watts)
        if answer.followed:
            assert answer.distance_m <= base.distance_m * ROUNDING
    cold = replace(
        system,
        pack=replace(
            pack, capacity_ah=pack.capacity_ah * 0.8, resistance_ohm=pack.resistance_ohm * 1.6
        ),
        limit_tables={},
    )
    answer = range_answer(cold, profile, gears, mass, 0.01, watts)
    if base.not_followed_s == 0 and answer.not_followed_s == 0:
        assert answer.distance_m <= base.distance_m * ROUNDING


@quick
@given(systems(), profiles(), masses, st.integers(1, 4))
def test_one_more_group_in_parallel_never_gives_less(
    system: System, profile: Profile, mass: float, parallel: int
) -> None:
    """At the same mass and gears: the group's own mass is the other test's business."""
    gears = choose_gears(system, profile, REFERENCE_KG)
    pack, share = system.pack, (parallel + 1) / parallel
    larger = replace(
        system,
        pack=replace(
            pack,
            capacity_ah=pack.capacity_ah * share,
            resistance_ohm=pack.resistance_ohm / share,
            discharge_continuous_a=pack.discharge_continuous_a * share,
            discharge_10s_a=pack.discharge_10s_a * share,
            charge_limit_a=pack.charge_limit_a * share,
        ),
        limit_tables={},
    )
    small = range_answer(system, profile, gears, mass, 0.01, 300.0)
    large = range_answer(larger, profile, gears, mass, 0.01, 300.0)
    assert large.not_followed_s <= small.not_followed_s
    if small.not_followed_s == 0:
        assert large.distance_m >= small.distance_m / ROUNDING


@quick
@given(systems(), profiles(), masses, external, auxiliary, reserves)
def test_energy_is_balanced_and_in_rising_order(
    system: System, profile: Profile, mass: float, ohm: float, watts: float, reserve: float
) -> None:
    gears = choose_gears(system, profile, REFERENCE_KG)
    answer = range_answer(system, profile, gears, mass, ohm, watts, 400.0, reserve)
    assert answer.balance.error < 1e-6
    parts = answer.balance
    losses = (parts.driveline, parts.motor, parts.controller, parts.pack, parts.external)
    assert min(losses) >= -1e-9
    assert parts.refused >= -1e-6
    assert answer.energy_wheel_wh_km <= answer.energy_battery_wh_km + 1e-9
    if answer.usable_wh:
        assert answer.min_voltage_v >= system.pack.min_voltage_v - 1e-6
        assert system.pack.soc_min - 1e-9 <= answer.end_soc <= system.pack.soc_max


@quick
@given(systems(), profiles(), masses, external, auxiliary, reserves)
def test_screening_forms_are_never_pessimistic(
    system: System, profile: Profile, mass: float, ohm: float, watts: float, reserve: float
) -> None:
    gears = choose_gears(system, profile, REFERENCE_KG)
    answer = range_answer(system, profile, gears, mass, ohm, watts, 0.0, reserve)
    assert optimistic_range(system, profile, gears, mass, watts, 0.0, reserve) >= answer.distance_m
    if math.isfinite(answer.distance_m):
        assert answer.usable_wh * 3600 <= most_usable_energy(system.pack)
    if answer.followed and reserve == 0.0 and math.isfinite(answer.distance_m):
        for chosen in (gears, None):
            least = least_battery_energy(
                system, profile, chosen, mass, watts, at_least_m=max(1.0, answer.distance_m)
            )
            assert least * answer.distance_m <= answer.usable_wh * 3600 * ROUNDING + 1e-6


@settings(quick, max_examples=examples(8, 25))
@given(systems(), profiles(), masses, external, auxiliary)
def test_fast_form_equals_the_plain_loop(
    system: System, profile: Profile, mass: float, ohm: float, watts: float
) -> None:
    """To 0.1 % is asked; it is a thousand times nearer."""
    gears = choose_gears(system, profile, REFERENCE_KG)
    fast = range_answer(system, profile, gears, mass, ohm, watts)
    assume(math.isfinite(fast.distance_m) and fast.drive_s < 40_000)
    plain = PlainDrive(system, profile, gears.tolist()).distance(mass, ohm, watts)
    assert fast.distance_m == pytest.approx(plain, rel=1e-6, abs=0.02)


@quick
@given(systems(), masses, st.floats(0.1, 400.0), st.floats(0.2, 1.0))
def test_more_mass_never_helps_speed_climb_or_acceleration(
    system: System, mass: float, more: float, soc: float
) -> None:
    """Acceleration where grip does not limit."""
    heavy = mass + more
    fast, slow = (top_speed(system, soc, m, 0.01, 300.0, 1800.0) for m in (mass, heavy))
    assert slow.speed_m_s <= fast.speed_m_s + 1e-9
    easy = climb(system, 0.08, 8.0, 60.0, soc, mass, 0.01, 300.0)
    hard = climb(system, 0.08, 8.0, 60.0, soc, heavy, 0.01, 300.0)
    if easy.limit_cause != "grip":
        assert hard.margin_n <= easy.margin_n + 1e-6
    if hard.possible and hard.limit_cause != "grip":
        assert easy.possible
    quickly = acceleration(system, 14.0, soc, mass, 0.01, 300.0)
    slowly = acceleration(system, 14.0, soc, heavy, 0.01, 300.0)
    if not (quickly.grip_limited or slowly.grip_limited):
        assert slowly.seconds >= quickly.seconds / ROUNDING


@quick
@given(systems(), masses, st.floats(0.2, 1.0), external, auxiliary)
def test_resistance_and_auxiliaries_never_help_performance(
    system: System, mass: float, soc: float, ohm: float, watts: float
) -> None:
    base = (soc, mass, ohm, watts)
    for worse in ((soc, mass, ohm + 0.01, watts), (soc, mass, ohm, watts + 400.0)):
        assert top_speed(system, *worse).speed_m_s <= top_speed(system, *base).speed_m_s + 1e-6
        easy = climb(system, 0.06, 12.0, 600.0, *base)
        hard = climb(system, 0.06, 12.0, 600.0, *worse)
        assert hard.margin_n <= easy.margin_n + 1e-3
        assert (
            acceleration(system, 14.0, *worse).seconds
            >= acceleration(system, 14.0, *base).seconds - 1e-3
        )


@quick
@given(systems(), profiles(), masses)
def test_same_question_same_bits(system: System, profile: Profile, mass: float) -> None:
    gears = choose_gears(system, profile, REFERENCE_KG)
    again = replace(system, limit_tables={})
    assert np.array_equal(gears, choose_gears(again, profile, REFERENCE_KG))
    one = range_answer(system, profile, gears, mass, 0.01, 300.0)
    assert one == range_answer(again, profile, gears, mass, 0.01, 300.0)
