"""12 V wires: more current never a smaller fuse, more copper never worse, every rule can fail."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bomplan.sizing.protection import CableData
from bomplan.sizing.wiring_12v import (
    BLADES_A,
    Circuit12V,
    blade,
    blade_a,
    check_battery,
    check_circuits,
    check_feed,
    drop_v,
    short_a,
    tired_short_a,
)

# mohm/m at 20 °C, IEC 60228 class 5, from 1 to 25 mm².
RESISTANCES = (19.5, 13.3, 7.98, 4.95, 3.30, 1.91, 1.21, 0.780)


def cable(milliohm: float) -> CableData:
    return CableData(resistance_mohm_per_m=milliohm, insulation_c=105.0, v_rating=60.0)


def one(amps: float, metres: float) -> tuple[Circuit12V, ...]:
    half = round(500 * metres)
    return (Circuit12V("a load", amps, (half, half)),)


@given(st.floats(0.1, 24.0), st.floats(0.0, 10.0))
def test_more_current_never_gives_a_smaller_blade_fuse(amps: float, more: float) -> None:
    small, large = blade_a(amps), blade_a(amps + more)
    assert small is not None
    assert small >= 1.25 * amps
    assert large is None or large >= small
    assert blade_a(24.01) is None


def test_the_least_blade_fuse_is_taken() -> None:
    assert [blade_a(amps) for amps in (2.4, 2.41, 4.5, 6.0, 12.0, 24.0)] == [3, 5, 7.5, 7.5, 15, 30]
    assert tuple(sorted(BLADES_A)) == BLADES_A


@given(
    st.floats(0.5, 24.0),
    st.floats(1.0, 12.0),
    st.integers(0, len(RESISTANCES) - 2),
    st.floats(5.0, 80.0),
)
@settings(max_examples=60)
def test_more_copper_never_turns_a_sound_wire_unsound(
    amps: float, metres: float, number: int, ah: float
) -> None:
    thin, thick = (
        check_circuits(one(amps, metres), cable(RESISTANCES[at]), 45.0, ah)
        for at in (number, number + 1)
    )
    for before, after in zip(thin, thick, strict=True):
        assert after.passed or not before.passed, before.id


@given(st.floats(0.5, 24.0), st.floats(1.0, 12.0), st.floats(0.5, 20.0), st.floats(5.0, 80.0))
@settings(max_examples=60)
def test_a_longer_way_never_helps(amps: float, metres: float, more: float, ah: float) -> None:
    near, far = (
        check_circuits(one(amps, length), cable(4.95), 45.0, ah)
        for length in (metres, metres + more)
    )
    for before, after in zip(near, far, strict=True):
        assert before.passed or not after.passed, before.id


def test_every_rule_of_a_circuit_fails_where_it_should() -> None:
    def failed(amps: float, metres: float, milliohm: float, ah: float) -> set[str]:
        found = check_circuits(one(amps, metres), cable(milliohm), 45.0, ah)
        return {finding.id for finding in found if not finding.passed}

    assert failed(12.0, 4.0, 4.95, 20.0) == set()
    assert "wire_12v-drop" in failed(12.0, 12.0, 4.95, 20.0)
    # A thread of 0.05 mm² behind 15 A carries nothing and burns.
    assert {"wire_12v-route", "wire_12v-withstand"} <= failed(12.0, 0.2, 390.0, 20.0)
    assert "blade_fuse-clears-in-time" in failed(12.0, 4.0, 4.95, 2.0)
    assert "wire_12v-series" in failed(30.0, 1.0, 1.21, 20.0)


def test_volts_lost_by_hand() -> None:
    """12 A over 6 m of 2.5 mm² at 70 °C: 12 x 6 x 7.98 mohm x (1 + 0.00393 x 50)."""
    assert drop_v(12.0, 6.0, 7.98) == pytest.approx(12 * 6 * 7.98e-3 * 1.1965, rel=1e-6)


def test_short_circuits_of_a_battery_by_hand() -> None:
    """35 Ah: 0.275/35 + 0.001 ohm new; 0.9/35 + 0.001 + 0.01 ohm tired at the end of a wire."""
    assert short_a(35.0) == pytest.approx(12.8 / (0.275 / 35 + 0.001))
    assert tired_short_a(35.0, 0.01) == pytest.approx(11.5 / (0.9 / 35 + 0.011))


@given(st.floats(2.0, 100.0), st.floats(1.01, 4.0))
def test_a_larger_battery_breaks_fewer_fuses_and_blows_more(ah: float, times: float) -> None:
    fuse = blade(30.0)
    small, large = check_battery(fuse, ah), check_battery(fuse, ah * times)
    breaking, *clearing = zip(small, large, strict=True)
    assert breaking[0].passed or not breaking[1].passed
    for before, after in clearing:
        assert after.passed or not before.passed


def test_a_feed_fails_by_rating_by_drop_and_by_heat() -> None:
    def failed(milliohm: float, metres: float) -> set[str]:
        found = check_feed(blade(30.0), cable(milliohm), metres, 45.0)
        return {finding.id for finding in found if not finding.passed}

    assert failed(3.30, 3.0) == set()
    assert failed(3.30, 9.0) == {"feed_wire-drop"}
    assert "feed_wire-route" in failed(13.3, 0.5)
    assert "feed_wire-withstand-least" in failed(390.0, 0.01)
