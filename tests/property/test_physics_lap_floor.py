"""What a motor asks of any pack at least is never more than a drive that reaches has."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lanes import examples
from physics_cases import compact_lead, compact_lithium
from physics_strategies import profiles, systems

from bomplan.physics import EnvelopeMotor, Profile, System, choose_gears, load_profile, range_answer
from bomplan.physics.lap_floor import _FreeLap, best_of, lap_floor
from bomplan.physics.powertrain import draw
from bomplan.physics.screen import pack_table
from bomplan.physics.torque_bounds import Strength

REFERENCE_KG = 2700.0


def floor_says(
    asked: System, best: System, profile: Profile, mass: float, watts: float, reserve: float,
    distance_m: float,
) -> bool:  # fmt: skip
    """Whether the floor lets the system's pack try; its mass lies between two of the floor's."""
    one, which = np.array([1.0]), np.array([0])
    table = pack_table([asked.pack], which, one, one)
    open_v, ohm = table.nearly_empty(which, asked.reference_external_ohm)
    limit_a = np.minimum(asked.controller.battery_current_a, table.greatest_a)
    motor = asked.motor
    volts = motor.reference_voltage_v if isinstance(motor, EnvelopeMotor) else 1.0
    strength = Strength(
        open_v, ohm,
        table.greatest_power_w(which, limit_a, asked.reference_external_ohm),
        np.array([volts]),
    )  # fmt: skip
    scaled = float(ohm[0]) / volts**2
    lighter = 0.97 if profile.closed else 1.0
    masses = mass * np.array([0.9 * lighter, lighter, 1.04, 1.3])
    floor = lap_floor(best, profile, masses, (scaled * 0.8, scaled * 2.0), REFERENCE_KG)
    may = floor.may_reach(distance_m, reserve, table, which, np.array([mass]), strength, watts)
    return bool(may[0])


def short_peak(peak_w: float, seconds: float, after: float) -> tuple[tuple[float, float], ...]:
    """Ratings of a peak that is held for so many seconds, and of a share of it ever after."""
    return ((seconds, peak_w), (3600.0, after * peak_w), (math.inf, after * peak_w))


@settings(
    max_examples=examples(60, 600),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)
@given(
    systems(),
    profiles(),
    st.floats(700.0, 2400.0),
    st.floats(0.0, 1500.0),
    st.sampled_from([0.0, 0.1, 0.25]),
    st.lists(
        st.tuples(
            st.floats(0.4, 1.6),  # capacity
            st.floats(0.5, 4.0),  # resistance
            st.floats(0.1, 1.2),  # battery current
            st.floats(0.4, 1.3),  # motor current
            st.floats(0.5, 2.0),  # losses
            # How long the peak is held, and what is held after it: more where the schema lets it.
            st.sampled_from([None, (3.0, 2.5), (5.0, 1.3), (8.0, 0.6)]),
        ),
        min_size=1,
        max_size=4,
    ),
)
def test_a_drive_that_reaches_stands_above_the_floor_of_its_motor(
    system: System,
    profile: Profile,
    mass: float,
    watts: float,
    reserve: float,
    drives: list[tuple[float, float, float, float, float, tuple[float, float] | None]],
) -> None:
    """Several controllers of one motor, some so weak that seconds of the lap are missed."""
    cars = []
    for capacity, resistance, battery, amps, losses, short in drives:
        controller, motor = system.controller, system.motor
        controller = replace(
            controller,
            battery_current_a=controller.battery_current_a * battery,
            motor_current_peak_a=controller.motor_current_peak_a * amps,
            motor_current_hour_a=controller.motor_current_hour_a * min(amps, 1.0),
            motor_current_continuous_a=controller.motor_current_continuous_a * min(amps, 1.0),
            loss_fixed_w=controller.loss_fixed_w * losses,
            loss_v=controller.loss_v * losses,
            loss_ohm=controller.loss_ohm * losses,
        )
        if isinstance(motor, EnvelopeMotor):  # a pair has an envelope of its own
            motor = replace(
                motor,
                peak_torque_nm=motor.peak_torque_nm * amps,
                peak_power_w=motor.peak_power_w * amps,
                ratings=tuple((seconds, power * amps) for seconds, power in motor.ratings)
                if short is None
                else short_peak(motor.peak_power_w * amps, *short),
                regeneration_torque_nm=motor.regeneration_torque_nm * amps,
            )
        pack = replace(
            system.pack,
            capacity_ah=system.pack.capacity_ah * capacity,
            resistance_ohm=system.pack.resistance_ohm * resistance,
        )
        cars.append(replace(system, motor=motor, controller=controller, pack=pack, limit_tables={}))
    best = best_of(cars[0], [one.motor for one in cars], [one.controller for one in cars])
    for car in cars:
        gears = choose_gears(car, profile, REFERENCE_KG)
        answer = range_answer(car, profile, gears, mass, 0.0, watts, 0.0, reserve)
        if not math.isfinite(answer.distance_m) or answer.distance_m < 1.0:
            continue
        if not profile.mass_never_pays(answer.distance_m):
            continue
        if answer.followed:
            for one in (car, best):
                assert floor_says(car, one, profile, mass, watts, reserve, answer.distance_m)


@settings(
    max_examples=examples(20, 200),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)
@given(systems(), st.lists(st.floats(0.5, 2.0), min_size=2, max_size=4))
def test_the_best_of_several_controllers_loses_no_more_than_any(
    system: System, losses: list[float]
) -> None:
    some = [
        replace(
            system,
            controller=replace(
                system.controller,
                loss_fixed_w=system.controller.loss_fixed_w * share,
                loss_v=system.controller.loss_v / share,
                loss_ohm=system.controller.loss_ohm * share,
                motor_current_peak_a=system.controller.motor_current_peak_a * share,
            ),
        )
        for share in losses
    ]
    speed = np.linspace(0.0, system.motor.max_speed_rad_s, 40)
    torque = np.linspace(0.0, 120.0, 40)[:, None]
    best = best_of(system, [system.motor for _ in some], [one.controller for one in some])
    least = draw(best, np.broadcast_to(torque, (40, 40)), speed).power_w
    for one in some:
        taken = draw(one, np.broadcast_to(torque, (40, 40)), speed).power_w
        assert bool(np.all(least <= taken * (1.0 + 1e-12) + 1e-9))


@pytest.mark.parametrize("system", [compact_lithium(), compact_lead()], ids=["lithium", "lead"])
def test_the_floor_of_a_motor_is_close_to_what_the_drive_takes(system: System) -> None:
    profile = load_profile("udds")
    answer = range_answer(
        system, profile, choose_gears(system, profile, 1300.0), 1300.0, 0.0, 250.0
    )

    def may(distance_m: float) -> bool:
        return floor_says(system, system, profile, 1300.0, 250.0, 0.0, distance_m)

    assert may(answer.distance_m)
    # What is left is the choice of gears and that lead gives less the faster it is drained.
    assert not may((1.25 if system.pack.peukert == 1.0 else 1.75) * answer.distance_m)


def test_two_kinds_of_motor_have_no_best() -> None:
    some = compact_lithium(), compact_lead()
    motors, controllers = [one.motor for one in some], [one.controller for one in some]
    with pytest.raises(ValueError, match="two kinds"):
        best_of(some[0], motors, controllers)


@pytest.mark.parametrize(("seconds", "after"), [(3.0, 2.5), (5.0, 2.0), (5.0, 1.3), (8.0, 1.3)])
def test_what_is_held_beyond_a_short_peak_is_not_taken_from_a_motor(
    seconds: float, after: float
) -> None:
    """Ten seconds are held at more than the peak, where the data say so."""
    system, profile, mass, followed = compact_lithium(), load_profile("udds"), 1300.0, 0
    assert isinstance(system.motor, EnvelopeMotor)
    for peak_w in np.arange(13e3, 19e3, 0.5e3):
        motor = replace(
            system.motor,
            peak_torque_nm=170.0,
            peak_power_w=peak_w,
            base_speed_rad_s=peak_w / 170.0,
            reference_voltage_v=100.0,
            ratings=short_peak(peak_w, seconds, after),
        )
        car = replace(system, motor=motor, limit_tables={})
        answer = range_answer(
            car, profile, choose_gears(car, profile, REFERENCE_KG), mass, 0.0, 250.0
        )
        if answer.followed:
            followed += 1
            best = best_of(car, [car.motor], [car.controller])
            assert floor_says(car, best, profile, mass, 250.0, 0.0, 0.5 * answer.distance_m)
    assert followed >= 2


@settings(max_examples=examples(60, 600), deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.floats(0.0, 9.0), st.floats(0.0, 9.0), st.integers(1, 4)),
        min_size=4,
        max_size=20,
    ),
    st.integers(1, 6),
    st.randoms(use_true_random=False),
)
def test_some_second_that_is_not_cut_stands_below_both_bounds(
    kinds: list[tuple[float, float, int]], spare: int, random: Random
) -> None:
    """The bounds on two figures of a second are those of one second, whichever are missed."""
    lap = object.__new__(_FreeLap)
    lap.count = np.array([count for *_, count in kinds])
    lap.possible = np.ones((1, 1, len(kinds)), dtype=np.bool_)
    power = np.array([[[one for one, *_ in kinds]]])
    other = np.array([[[one for _, one, _ in kinds]]])
    least_w = float(lap._among(power, other, spare).item())
    least_other = float(lap._ranked(other, spare).item())
    seconds = [kind for kind, (*_, count) in enumerate(kinds) for _ in range(count)]
    if len(seconds) <= spare:
        return
    missed = set(random.sample(range(len(seconds)), spare))
    kept = [kind for place, kind in enumerate(seconds) if place not in missed]
    assert any(power[0, 0, kind] >= least_w and other[0, 0, kind] >= least_other for kind in kept)
