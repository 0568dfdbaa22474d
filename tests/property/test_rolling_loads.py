"""Rolling means at the reference mass stand above those of every lighter car."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lanes import examples
from physics_strategies import SCHEDULES, systems

from bomplan.physics import System, choose_gears, load_profile, range_answer, rolling_rms
from bomplan.physics.thermal import rolling_rms_of_laps

REFERENCE_KG = 2400.0
# Less mass brakes a little less and so may coast a little less: a second's force turns its sign.
SLACK = 1.002
quick = settings(
    max_examples=examples(8, 25),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
)


@quick
@given(systems(), st.sampled_from(SCHEDULES), st.floats(700.0, REFERENCE_KG))
def test_a_lighter_car_never_loads_motor_and_pack_more(
    system: System, name: str, mass_kg: float
) -> None:
    """On closed schedules: mean motor current and battery current over a minute to an hour.

    Where a limit cuts seconds short at the reference mass, the lighter car may draw longer.
    """
    profile = load_profile(name)
    gears = choose_gears(system, profile, REFERENCE_KG)
    heavy = range_answer(system, profile, gears, REFERENCE_KG, 0.01, 300.0)
    light = range_answer(system, profile, gears, mass_kg, 0.01, 300.0)
    if heavy.not_followed_s:
        return
    for seconds in (60.0, 300.0, 600.0, 3600.0):
        assert light.motor_rms_a[seconds] <= heavy.motor_rms_a[seconds] * SLACK
        if heavy.drive_s > 2 * seconds:
            assert light.battery_rms_a[seconds] <= heavy.battery_rms_a[seconds] * SLACK


@quick
@given(st.lists(st.floats(0.0, 500.0), min_size=5, max_size=200), st.integers(1, 2000))
def test_means_of_laps_are_those_of_the_whole_series(lap: list[float], steps: int) -> None:
    """Never below them; equal where the drive holds every window that the lap has."""
    values = np.array(lap)
    short = rolling_rms_of_laps(values, steps, (10, 60, 300))
    whole = rolling_rms(np.resize(values, steps), (10, 60, 300))
    for window in (10.0, 60.0, 300.0, math.inf):
        assert short[window] >= whole[window] * (1 - 1e-9) - 1e-6
        if window + len(lap) <= steps or window == math.inf:
            assert math.isclose(short[window], whole[window], rel_tol=1e-9, abs_tol=1e-6)
