"""The screen over many packs at once never throws out one that reaches."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lanes import examples
from physics_cases import compact_lead, compact_lithium
from physics_strategies import profiles, systems

from bomplan.physics import Profile, System, choose_gears, load_profile, range_answer
from bomplan.physics.screen import Asked, Classes, may_reach, pack_table


@settings(
    max_examples=examples(20, 80),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)
@given(
    systems(),
    profiles(),
    st.floats(700.0, 2400.0),
    st.floats(0.0, 1500.0),
    st.floats(0.0, 2000.0),
    st.sampled_from([0.0, 0.1, 0.25]),
)
def test_a_pack_that_reaches_is_never_screened_out(
    system: System, profile: Profile, mass: float, watts: float, heat: float, reserve: float
) -> None:
    gears = choose_gears(system, profile, 2700.0)
    answer = range_answer(system, profile, gears, mass, 0.0, watts, heat, reserve)
    if not answer.followed or not math.isfinite(answer.distance_m) or answer.distance_m < 1.0:
        return
    one = np.array([1.0])
    table = pack_table([system.pack], np.array([0]), one, one)

    def reached(distance_m: float) -> bool:
        asked = Asked(
            distance_m,
            reserve,
            watts + heat,
            2700.0,
            system.reference_external_ohm,
            system.controller.battery_current_a,
        )
        which = np.array([0])
        return bool(may_reach(system, profile, asked, table, which, np.array([mass]), 1, 1)[0])

    assert reached(answer.distance_m)
    # And it does throw out: twice as far is beyond any bound worth the name.
    assert not reached(2.0 * answer.distance_m)


@pytest.mark.parametrize("system", [compact_lithium(), compact_lead()], ids=["lithium", "lead"])
def test_a_pack_among_others_is_never_screened_out_either(system: System) -> None:
    """Classes of unlike packs, unlike masses and several gears: still only optimistic."""
    profile = load_profile("udds")
    packs = [
        replace(system.pack, capacity_ah=ah, resistance_ohm=ohm)
        for ah in (60.0, 110.0, 180.0)
        for ohm in (0.05, 0.12, 0.3)
    ]
    masses = np.linspace(1150.0, 1500.0, len(packs))
    one = np.ones(len(packs))
    which = np.arange(len(packs))
    table = pack_table(packs, which, one, one)
    outcomes = set()
    for wanted in (20_000.0, 45_000.0, 90_000.0):
        asked = Asked(wanted, 0.05, 300.0, 1700.0, 0.01, system.controller.battery_current_a)
        for strengths, cells in ((1, 1), (3, 2), (9, 1)):
            kept = may_reach(system, profile, asked, table, which, masses, strengths, cells)
            for pack, mass, may in zip(packs, masses, kept, strict=True):
                own = replace(system, pack=pack, limit_tables={})
                gears = choose_gears(own, profile, 1700.0, 0.01)
                answer = range_answer(own, profile, gears, float(mass), 0.0, 300.0, 0.0, 0.05)
                outcomes.add((bool(may), answer.followed and answer.distance_m >= wanted))
    assert (False, True) not in outcomes
    assert {(True, True), (False, False)} <= outcomes


@settings(
    max_examples=examples(6, 40),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)
@given(
    systems(),
    profiles(),
    st.lists(
        st.tuples(
            st.floats(0.5, 1.6),  # capacity
            st.floats(0.6, 3.0),  # resistance
            st.floats(900.0, 1900.0),  # kg
            st.floats(0.0, 0.02),  # ohm of the circuit
            st.floats(0.0, 600.0),  # W beside
        ),
        min_size=2,
        max_size=7,
    ),
    st.floats(0.3, 1.0),
)
def test_a_close_look_never_throws_out_one_that_reaches(
    system: System,
    profile: Profile,
    cars: list[tuple[float, float, float, float, float]],
    share: float,
) -> None:
    """Packs looked at at their own mass, circuit and load, after classes made for lighter ones."""
    packs = [
        replace(
            system.pack,
            capacity_ah=system.pack.capacity_ah * capacity,
            resistance_ohm=system.pack.resistance_ohm * resistance,
        )
        for capacity, resistance, *_ in cars
    ]
    answers = []
    for pack, (_, _, mass, ohm, watts) in zip(packs, cars, strict=True):
        own = replace(system, pack=pack, limit_tables={})
        gears = choose_gears(own, profile, 2700.0)
        answers.append(range_answer(own, profile, gears, mass, ohm, watts, 100.0, 0.1))
    reached = [
        answer.distance_m if answer.followed and math.isfinite(answer.distance_m) else 0.0
        for answer in answers
    ]
    wanted = max(reached) * share
    if wanted < 1.0:
        return
    one, which = np.ones(len(packs)), np.arange(len(packs))
    masses, ohms, watts = (np.array([car[place] for car in cars]) for place in (2, 3, 4))
    asked = Asked(
        wanted, 0.1, 100.0, 2700.0, system.reference_external_ohm,
        system.controller.battery_current_a,
    )  # fmt: skip
    table = pack_table(packs, which, one, one)
    classes = Classes(system, profile, asked, table, which, masses * 0.98, 2, 3)
    coarse = classes.may_reach(which)
    places = which[::-1].copy()
    close, _ = classes.may_reach_at(places, masses[places], ohms[places], watts[places] + 100.0)
    for place, may in zip(places.tolist(), close.tolist(), strict=True):
        if reached[place] >= wanted:
            assert may
            assert coarse[place]
    # Half the energy that the best one needs is too little at close quarters: it stands against
    # all that is in the pack, also where the drive ended before, at the least voltage.
    best = reached.index(max(reached))
    whole = system.pack.soc_max - system.pack.soc_min
    used = max(0.01, (system.pack.soc_max - answers[best].end_soc) / whole)
    far = Classes(
        system,
        profile,
        replace(asked, wanted_m=2.2 * max(reached) / used),
        table,
        which,
        masses,
        1,
        1,
    )
    at = np.array([best])
    assert not far.may_reach_at(at, masses[at], ohms[at], watts[at] + 100.0)[0].any()


@settings(
    max_examples=examples(8, 60),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)
@given(
    systems(),
    profiles(),
    st.floats(1200.0, 2600.0),
    st.floats(0.0, 900.0),
    st.sampled_from([0.0, 0.1, 0.25]),
    st.sampled_from([1.0, 1.0, 2.0, 4.0]),
)
def test_only_packs_that_overload_the_motor_are_said_to(
    system: System, profile: Profile, mass: float, watts: float, reserve: float, larger: float
) -> None:
    """What the first hour is said to take at least, the simulated drive takes."""
    system = replace(system, regeneration=False)
    ohm = system.reference_external_ohm
    packs = [
        replace(
            system.pack,
            capacity_ah=system.pack.capacity_ah * size * larger,
            resistance_ohm=system.pack.resistance_ohm / size / larger,
        )
        for size in (0.6, 1.0, 1.5)
    ]
    answers = []
    for pack in packs:
        own = replace(system, pack=pack, limit_tables={})
        gears = choose_gears(own, profile, mass, ohm)
        answers.append(range_answer(own, profile, gears, mass, ohm, watts, 0.0, reserve))
    amps = [answer.motor_rms_a[3600.0] for answer in answers]
    one, which = np.ones(len(packs)), np.arange(len(packs))
    table = pack_table(packs, which, one, one)
    asked = Asked(1000.0, reserve, watts, mass, ohm, system.controller.battery_current_a)
    masses = np.full(len(packs), mass)
    for share in (0.8, 0.95, 1.0, 1.05):
        limit_a = max(amps) * share
        classes = Classes(system, profile, asked, table, which, masses, 3, 1, None, limit_a)
        for over, found in zip(classes.overloads.tolist(), amps, strict=True):
            assert over * limit_a <= found * (1.0 + 1e-9)


@pytest.mark.parametrize("system", [compact_lithium(), compact_lead()], ids=["lithium", "lead"])
def test_an_hour_of_overload_is_seen_unless_the_pack_ends_before_it(system: System) -> None:
    system = replace(system, regeneration=False)
    profile, ohm = load_profile("udds"), 0.01
    small = replace(system.pack, capacity_ah=system.pack.capacity_ah * 0.1)
    table = pack_table([system.pack, small], np.array([0, 1]), np.ones(2), np.ones(2))
    answer = range_answer(
        system, profile, choose_gears(system, profile, 1400.0, ohm), 1400.0, ohm, 250.0
    )
    assert answer.drive_s > 3700.0
    asked = Asked(1000.0, 0.0, 250.0, 1400.0, ohm, system.controller.battery_current_a)

    def over(limit_a: float) -> list[float]:
        which, masses = np.arange(2), np.full(2, 1400.0)
        return Classes(
            system, profile, asked, table, which, masses, 2, 1, None, limit_a
        ).overloads.tolist()

    close = answer.motor_rms_a[3600.0] * 0.9
    assert over(close)[0] > 1.0
    assert over(close)[1] == 0.0
    assert over(answer.motor_rms_a[3600.0]) == [0.0, 0.0]
