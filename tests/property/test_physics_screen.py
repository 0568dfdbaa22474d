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
from bomplan.physics.energy_floor import may_have_energy
from bomplan.physics.screen import Asked, may_reach, pack_table


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

    assert may_have_energy(
        system.road,
        system.driveline,
        profile,
        table,
        np.array([0, 0]),
        np.array([mass, mass * 0.97]),
        answer.distance_m,
        reserve,
        gives_back=system.regeneration and system.controller.regeneration,
        beside_w=watts + heat,
    ).all()

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


@pytest.mark.parametrize("system", [compact_lithium(), compact_lead()], ids=["lithium", "lead"])
def test_road_and_driveline_alone_put_away_packs_that_are_much_too_small(system: System) -> None:
    profile = load_profile("udds")
    answer = range_answer(
        system, profile, choose_gears(system, profile, 1300.0), 1300.0, 0.0, 250.0
    )
    one = np.array([1.0])
    table = pack_table([system.pack], np.array([0]), one, one)

    def may(distance_m: float) -> bool:
        kept = may_have_energy(
            system.road, system.driveline, profile, table, np.array([0]), np.array([1300.0]),
            distance_m, 0.0, gives_back=False, beside_w=250.0,
        )  # fmt: skip
        return bool(kept[0])

    assert may(answer.distance_m)
    # Motor and controller take about a fifth, and lead gives less the faster it is drained.
    assert not may(2.5 * answer.distance_m)
