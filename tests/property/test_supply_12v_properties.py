"""What must hold of the 12 V side, the brakes' vacuum and bolts in a roll-over, for all figures."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lanes import examples

from bomplan.project.twelve_volt import WORST, Load12V, mean_w, on_w, peak_w, reserve_w
from bomplan.sizing import combined_share, design_shear_n, design_tension_n
from bomplan.sizing.low_voltage import cold_share, reserve_ah, reserve_minutes
from bomplan.sizing.vacuum import booster_l, presses_left, swept_l, vacuum_after_kpa

SHARE = st.integers(0, 1_000).map(lambda thousandths: thousandths / 1_000)
WATTS = st.integers(0, 9_000).map(lambda tenths: tenths / 10)
LOADS = st.lists(
    st.fixed_dictionaries(
        {
            "name": st.just("load"),
            "power_w": WATTS,
            "peak_w": WATTS,
            "kind": st.sampled_from(["continuous", "intermittent"]),
            **dict.fromkeys(("day", "night", "rain", "winter", "reserve"), SHARE),
        }
    ).map(Load12V.model_validate),
    max_size=12,
)
SETS = [some for size in range(4) for some in combinations(WORST, size)]


@settings(max_examples=examples(50, 500))
@given(LOADS)
def test_the_worst_night_takes_most_and_a_quiet_day_least(loads: list[Load12V]) -> None:
    means = {some: mean_w(loads, some) for some in SETS}
    assert min(means.values()) == means[()]
    assert max(means.values()) == means[WORST]
    for some, watts in means.items():
        assert all(watts <= means[more] for more in SETS if set(some) <= set(more))
    while_on = on_w(loads, "continuous") + on_w(loads, "intermittent")
    assert means[WORST] <= while_on <= peak_w(loads) + 1
    assert reserve_w(loads) <= while_on


@settings(max_examples=examples(50, 500))
@given(LOADS, LOADS)
def test_a_load_more_never_makes_a_sum_smaller(loads: list[Load12V], more: list[Load12V]) -> None:
    for some in SETS:
        both, one = mean_w(loads + more, some), mean_w(loads, some)
        assert one <= both <= one + mean_w(more, some)


@settings(max_examples=examples(50, 500))
@given(st.floats(0.1, 100), st.floats(0.01, 4), st.floats(-50, 60), st.floats(0, 30))
def test_a_colder_battery_lasts_no_longer(
    amps: float, hours: float, degrees: float, colder: float
) -> None:
    assert 0.2 <= cold_share(degrees - colder) <= cold_share(degrees) <= 1
    wanted = reserve_ah(amps, hours, temperature_c=degrees)
    assert reserve_ah(amps, hours, temperature_c=degrees - colder) >= wanted
    lasts = reserve_minutes(wanted, amps, temperature_c=degrees)
    assert lasts == pytest.approx(60 * hours)


@settings(max_examples=examples(50, 500))
@given(st.floats(0, 20), st.floats(0, 5), st.integers(150, 300), st.floats(21, 80))
def test_a_larger_reservoir_never_holds_fewer_presses(
    litres: float, more: float, diameter_mm: int, start_kpa: float
) -> None:
    swept, booster = swept_l(diameter_mm), booster_l(diameter_mm)
    left = presses_left(litres + booster, start_kpa, swept, 20.0)
    assert presses_left(litres + more + booster, start_kpa, swept, 20.0) >= left
    assert presses_left(litres + booster, start_kpa, swept, 30.0) <= left
    assume(left < 100)
    held = vacuum_after_kpa(start_kpa, left, swept, litres + booster)
    assert held >= 20.0 * (1 - 1e-6)
    assert vacuum_after_kpa(start_kpa, left + 1, swept, litres + booster) < 20.0


@settings(max_examples=examples(50, 500))
@given(
    st.floats(0, 1e5), st.floats(0, 1e5), st.floats(1, 2), st.integers(1, 20),
    st.sampled_from([5, 6, 8, 10, 12, 14, 16]), st.sampled_from(["8.8", "10.9"]),
)  # fmt: skip
def test_more_force_or_fewer_bolts_use_more_of_them(
    shear: float, pull: float, more: float, bolts: int, size: int, strength: str
) -> None:
    used = combined_share(shear, pull, bolts, size, strength)
    assert combined_share(shear * more, pull, bolts, size, strength) >= used
    assert combined_share(shear, pull * more, bolts, size, strength) >= used
    assert combined_share(shear, pull, bolts + 1, size, strength) <= used
    assert used >= shear / (bolts * design_shear_n(size, strength)) * (1 - 1e-12)
    assert used >= pull / (bolts * design_tension_n(size, strength)) * (1 - 1e-12)
