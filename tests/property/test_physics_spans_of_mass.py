"""Where a heavier car may go farther: what is asked over a span of mass is no mass's more."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lanes import examples
from physics_strategies import profiles, systems

from bomplan.physics import (
    EnvelopeMotor,
    Profile,
    System,
    choose_gears,
    range_answer,
    route_profile,
)
from bomplan.physics.bounds import STEP_SLACK
from bomplan.physics.demand import force_terms, least_force
from bomplan.physics.lap_floor import lap_floor, least_lap
from bomplan.physics.pack_table import pack_table
from bomplan.physics.screen import Asked, Classes
from bomplan.physics.torque_bounds import Strength

REFERENCE_KG = 1800.0


@st.composite
def downhill_ways(draw: st.DrawFn) -> Profile:
    """A way that begins with a descent, ends lower than it began, or both."""
    legs = draw(st.lists(st.floats(300.0, 2500.0), min_size=2, max_size=6))
    distance = np.concatenate([[0.0], np.cumsum(legs)])
    slopes = np.array([draw(st.floats(-0.09, 0.06)) for _ in legs])
    slopes[0] = -abs(slopes[0])
    limits = np.array([draw(st.floats(6.0, 30.0)) for _ in distance])
    stops = np.array([0.0, *(draw(st.sampled_from([0.0, 20.0])) for _ in legs[1:]), 5.0])
    heights = np.concatenate([[0.0], np.cumsum(slopes * np.array(legs))])
    if draw(st.booleans()):  # home on the hill
        heights[-1] = 0.0
        steepest = float((np.abs(np.diff(heights)) / np.diff(distance)).max())
        heights *= min(1.0, 0.09 / max(1e-9, steepest))
    return route_profile(distance, limits, heights, stops)


def reached(
    car: System, profile: Profile, masses: list[float], watts: float, reserve: float
) -> float:
    """The farthest that the car goes at one of these masses where it follows."""
    gears = choose_gears(car, profile, REFERENCE_KG)
    answers = [range_answer(car, profile, gears, mass, 0.0, watts, 0.0, reserve) for mass in masses]
    return max((min(one.distance_m, 1e6) for one in answers if one.followed), default=0.0)


SEARCHED = settings(
    max_examples=examples(50, 500),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)


def weakened(car: System, current: float, capacity: float) -> System:
    """The car with so much of its battery current and of its pack's capacity."""
    controller = replace(
        car.controller, battery_current_a=car.controller.battery_current_a * current
    )
    pack = replace(car.pack, capacity_ah=car.pack.capacity_ah * capacity)
    return replace(car, controller=controller, pack=pack, limit_tables={})


@SEARCHED
@given(
    systems(),
    downhill_ways(),
    st.floats(700.0, 1600.0),
    st.floats(1.05, 1.9),
    st.floats(0.0, 1500.0),
    st.sampled_from([0.0, 0.1, 0.25]),
    st.floats(0.02, 1.0),
    st.floats(0.1, 1.2),
)
def test_no_mass_up_to_the_heaviest_goes_where_a_pack_is_said_to_fall(
    car: System,
    profile: Profile,
    light: float,
    times: float,
    watts: float,
    reserve: float,
    capacity: float,
    current: float,
) -> None:
    """Small packs may be empty within a lap, weak controllers miss seconds of it."""
    car = weakened(car, current, capacity)
    heavy = light * times
    distance_m = reached(car, profile, np.linspace(light, heavy, 6).tolist(), watts, reserve)
    if not math.isfinite(distance_m) or distance_m < 1.0:
        return
    one, which = np.array([1.0]), np.array([0])
    table = pack_table([car.pack], which, one, one)
    open_v, ohm = table.nearly_empty(which, car.reference_external_ohm)
    limit_a = np.minimum(car.controller.battery_current_a, table.greatest_a)
    volts = car.motor.reference_voltage_v if isinstance(car.motor, EnvelopeMotor) else 1.0
    strength = Strength(
        open_v,
        ohm,
        table.greatest_power_w(which, limit_a, car.reference_external_ohm),
        np.array([volts]),
    )
    scaled = float(ohm[0]) / volts**2
    here = np.array([light])
    for spans in (1, 6):
        masses = np.linspace(light, heavy, spans + 1)[:-1]
        floor = lap_floor(car, profile, masses, (scaled * 0.8, scaled * 2.0), REFERENCE_KG, heavy)
        assert floor.may_reach(distance_m, reserve, table, which, here, strength, watts)[0]


@SEARCHED
@given(systems(), downhill_ways(), st.floats(300.0, 1600.0), st.floats(1.0, 2.5))
def test_no_mass_of_a_span_holds_less_force(
    car: System, profile: Profile, light: float, times: float
) -> None:
    line, gravity = car.driveline, car.road.gravity
    terms = force_terms(car.road, profile, line.rotating_mass_factor)
    ends = np.array([light]), np.array([light * times])
    least = least_force(line, gravity, terms, profile.cosine, *ends)
    between = np.linspace(light, light * times, 9)
    held = least_force(line, gravity, terms, profile.cosine, between)
    assert bool((least <= held + 1e-6).all())


@SEARCHED
@given(
    systems(),
    st.one_of(downhill_ways(), profiles()),
    st.floats(700.0, 1600.0),
    st.floats(1.0, 1.3),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1500.0),
    st.sampled_from([0.0, 0.1, 0.25]),
    st.floats(0.02, 1.0),
    st.floats(0.1, 1.2),
)
def test_no_drive_takes_less_a_metre_or_goes_farther_than_is_said(
    car: System,
    profile: Profile,
    light: float,
    times: float,
    share: float,
    watts: float,
    reserve: float,
    capacity: float,
    current: float,
) -> None:
    """Wherever its pack is empty, within the first lap or many laps on."""
    own = weakened(car, current, capacity)
    # A motor's floor is made with the strongest of its controllers.
    best, car = own if current > 1.0 else car, own
    heavy = light * times
    mass = light + share * (heavy - light)
    gears = choose_gears(car, profile, REFERENCE_KG)
    answer = range_answer(car, profile, gears, mass, 0.0, watts, 0.0, reserve)
    if not answer.followed or not 1.0 < answer.distance_m < 1e6:
        return
    lap = least_lap(best, profile, np.array([light]), np.array([heavy]), watts)
    table = pack_table([car.pack], np.array([0]), np.array([1.0]), np.array([1.0]))
    usable_j = table.energy_j * (1.0 + STEP_SLACK - reserve)
    assert answer.distance_m <= lap.most_distance_m(np.array([0]), usable_j)[0] + 1e-6
    for from_m in (0.3 * answer.distance_m, answer.distance_m):
        least = float(lap.least_j_per_m(from_m)[0])
        assert answer.energy_battery_wh_km * 3.6 >= least * (1.0 - 1e-9) - 1e-6


@st.composite
def rounds(draw: st.DrawFn) -> Profile:
    """A short way up and down again: many laps of it, several of which are counted at once."""
    up, down = draw(st.floats(80.0, 250.0)), draw(st.floats(80.0, 250.0))
    height = draw(st.floats(0.03, 0.09)) * min(up, down)
    limit = draw(st.floats(6.0, 14.0))
    return route_profile(
        np.array([0.0, up, up + down]),
        np.full(3, limit),
        np.array([0.0, height, 0.0]),
        np.array([0.0, 0.0, draw(st.sampled_from([0.0, 5.0]))]),
    )


@settings(
    max_examples=examples(60, 600),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)
@given(systems(), rounds(), st.floats(500.0, 1500.0), st.floats(0.05, 1.5))
def test_a_pack_that_goes_many_rounds_is_not_said_to_fall(
    car: System, profile: Profile, mass: float, capacity: float
) -> None:
    """What the descents of some laps give back is there for the climbs of the next."""
    car = weakened(car, 1.0, capacity)
    distance_m = reached(car, profile, [mass], 0.0, 0.0)
    one, which = np.array([1.0]), np.array([0])
    for wanted_m in (distance_m, distance_m - 0.4 * profile.length_m):
        if wanted_m < 1.0 or wanted_m > 9e5:
            continue
        asked = Asked(
            wanted_m=wanted_m,
            reserve=0.0,
            beside_w=0.0,
            reference_mass_kg=REFERENCE_KG,
            gear_circuit_ohm=car.reference_external_ohm,
            battery_a=car.controller.battery_current_a,
        )
        table = pack_table([car.pack], which, one, one)
        classes = Classes(car, profile, asked, table, which, np.array([mass]), 1, 1)
        assert classes.may_reach(which)[0]
