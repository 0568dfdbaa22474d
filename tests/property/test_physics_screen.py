"""The screen over many packs at once never throws out one that reaches."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from physics_strategies import profiles, systems

from bomplan.physics import Profile, System, choose_gears, range_answer
from bomplan.physics.screen import may_reach, pack_table


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
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
    which = np.array([0])
    reached = may_reach(
        system, profile, mass, watts, heat, answer.distance_m, reserve, table, which
    )
    assert bool(reached[0])
    # And it does throw out: three times as far is beyond any bound worth the name.
    far = may_reach(
        system, profile, mass, watts, heat, 3.0 * answer.distance_m, reserve, table, which
    )
    if answer.end_cause != "voltage":
        assert not bool(far[0])
