"""Fuses, faults and the two routes by which a fuse protects a cable."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from bomplan.sizing import (
    CableData,
    Currents,
    Faults,
    Finding,
    FuseData,
    SizingMargins,
    Surroundings,
    continuous_a,
    greatest_a,
    least_a,
    let_through_a2s,
    melting_s,
    prospective_a,
    protect,
    pulse_share,
    temperature_after_peak_c,
)
from bomplan.source import COMMON

FUSE = FuseData(
    v_dc=500.0,
    rated_a=250.0,
    breaking_a=10_000.0,
    kind="full_range",
    melt_s_at_2x=25.0,
    melt_s_at_3x=2.5,
    melt_s_at_5x=0.2,
    clearing_a2s=200_000.0,
)
CABLE_70 = CableData(0.272, 125.0, 600.0)
CABLE_35 = CableData(0.554, 125.0, 600.0)
CURRENTS = Currents(rms_a=120.0, peak_a=420.0, peak_s=20.0, battery_limit_a=420.0)
FAULTS = Faults(greatest_a=4_000.0, least_a=1_100.0)
AROUND = Surroundings(highest_v=164.0, fuse_ambient_c=40.0, cable_ambient_c=60.0)


def failed(protection) -> set[str]:
    return {finding.id for finding in protection.findings if not finding.passed}


def test_melting_time_passes_through_its_points_and_falls():
    assert melting_s(FUSE, 500.0) == pytest.approx(25.0, abs=0.0011)
    assert melting_s(FUSE, 750.0) == pytest.approx(2.5, abs=0.0011)
    assert melting_s(FUSE, 1250.0) == pytest.approx(0.2, abs=0.0011)
    assert melting_s(FUSE, 250.0) == inf
    # constant heat above five times the rating
    assert melting_s(FUSE, 2500.0) == pytest.approx(0.05, abs=0.0011)
    # the line through 2x and 3x goes on below 2x
    slope = melting_s(FUSE, 375.0) / 25.0
    assert slope == pytest.approx((1.5 / 2.0) ** (-5.6788), rel=0.001)


def test_let_through_is_unknown_where_the_curve_is():
    assert let_through_a2s(FUSE, 499.0) == inf
    assert let_through_a2s(replace(FUSE, kind="aR"), 1_249.0) == inf
    assert let_through_a2s(replace(FUSE, min_breaking_a=900.0), 899.0) == inf
    assert let_through_a2s(FUSE, 50_000.0) >= FUSE.clearing_a2s
    assert let_through_a2s(FUSE, 750.0) == pytest.approx(1.25 * 750**2 * 2.5, rel=0.001)


@pytest.mark.parametrize(
    "change",
    [{"melt_s_at_3x": 30.0}, {"melt_s_at_5x": 0.0}, {"rated_a": 0.0}],
)
def test_impossible_fuses_are_refused(change):
    with pytest.raises(ValueError, match="fuse"):
        replace(FUSE, **change)


def test_continuous_current_of_a_warm_fuse():
    assert continuous_a(400.0, 25.0) == 300.0
    assert continuous_a(400.0, 60.0) == pytest.approx(300 * (70 / 105) ** 0.5, abs=0.1)
    assert continuous_a(400.0, 130.0) == 0.0
    assert continuous_a(400.0, -20.0) == 300.0


def test_small_cable_takes_the_controller_route():
    found = protect(FUSE, CABLE_35, CURRENTS, FAULTS, AROUND)
    assert found.passed, found.reasons
    assert found.route == "controller-limited"
    assert found.reasons == ()


def test_large_cable_takes_the_fuse_route():
    found = protect(FUSE, CABLE_70, CURRENTS, FAULTS, AROUND)
    assert (found.passed, found.route) == (True, "fuse-limited")
    without_limit = replace(CURRENTS, battery_limit_a=None)
    assert protect(FUSE, CABLE_70, without_limit, FAULTS, AROUND).passed


def test_no_route_without_a_limit_or_a_thick_cable():
    found = protect(FUSE, CABLE_35, replace(CURRENTS, battery_limit_a=None), FAULTS, AROUND)
    assert found.route is None
    assert not found.passed
    assert {"route-fuse-limited", "route-controller-limited"} <= failed(found)
    assert len(found.reasons) == 2


def test_partial_range_fuse_never_takes_the_fuse_route():
    fuse = replace(FUSE, kind="aR")
    strong = Faults(greatest_a=4_000.0, least_a=1_500.0)
    found = protect(fuse, CABLE_70, CURRENTS, strong, AROUND)
    assert (found.passed, found.route) == (True, "controller-limited")
    assert not protect(
        fuse, CABLE_70, replace(CURRENTS, battery_limit_a=None), strong, AROUND
    ).passed


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"around": replace(AROUND, highest_v=480.0)}, {"fuse-voltage"}),
        ({"around": replace(AROUND, highest_v=590.0)}, {"fuse-voltage", "cable-voltage"}),
        ({"currents": replace(CURRENTS, rms_a=170.0)}, {"fuse-continuous"}),
        ({"currents": replace(CURRENTS, peak_a=700.0)}, {"fuse-holds-peak"}),
        ({"faults": replace(FAULTS, greatest_a=9_000.0)}, {"fuse-breaking"}),
        # 144 V of old lead: 0.9 kA is not enough for a quick end, 0.5 kA not for any
        ({"faults": replace(FAULTS, least_a=600.0)}, {"fuse-clears-in-time"}),
        (
            {"faults": replace(FAULTS, least_a=500.0)},
            {"fuse-least-fault", "fuse-clears-in-time", "cable-withstand-least"},
        ),
    ],
)
def test_each_rule_fails_by_name(change, expected):
    case = {"currents": CURRENTS, "faults": FAULTS, "around": AROUND, **change}
    found = protect(FUSE, CABLE_70, **case)
    assert failed(found) == expected
    assert not found.passed


def test_thin_cable_does_not_withstand_the_fault():
    thin = CableData(4.95, 125.0, 600.0)  # 4 mm²
    slow = replace(FUSE, melt_s_at_2x=100.0, melt_s_at_3x=4.0)
    low = replace(CURRENTS, rms_a=20.0, peak_a=60.0, battery_limit_a=60.0, peak_s=1.0)
    found = protect(slow, thin, low, FAULTS, AROUND)
    assert "cable-withstand-least" in failed(found)
    assert "cable-withstand-greatest" in failed(found)


def test_a_cable_that_works_as_hot_as_a_fault_may_leave_it_withstands_none():
    hottest = CableData(0.272, 250.0, 600.0)  # the most that a catalogue may say
    found = protect(FUSE, hottest, CURRENTS, FAULTS, AROUND)
    assert {"cable-withstand-least", "cable-withstand-greatest"} <= failed(found)
    just_cooler = protect(FUSE, replace(hottest, insulation_c=200.0), CURRENTS, FAULTS, AROUND)
    assert "cable-withstand-least" not in failed(just_cooler)


def test_margins_are_the_users():
    tight = Currents(rms_a=170.0, peak_a=420.0, peak_s=20.0, battery_limit_a=420.0)
    assert "fuse-continuous" in failed(protect(FUSE, CABLE_70, tight, FAULTS, AROUND))
    none = SizingMargins(continuous=0.0, voltage=0.0, fault_current=0.0, breaking=0.0)
    assert protect(FUSE, CABLE_70, tight, FAULTS, AROUND, none).passed


def test_peak_warms_the_conductor():
    cold = temperature_after_peak_c(63.4, 125.0, 60.0, 285.0, 0.0, 0.0, 20.0)
    assert cold == 60.0
    full = temperature_after_peak_c(63.4, 125.0, 60.0, 285.0, 285.0, 0.0, 20.0)
    assert full == 125.0
    peak = temperature_after_peak_c(63.4, 125.0, 60.0, 285.0, 0.0, 500.0, 20.0)
    assert 65.0 < peak < 75.0
    assert temperature_after_peak_c(63.4, 125.0, 130.0, 0.0, 1.0, 1.0, 1.0) == inf


def test_fault_currents():
    assert greatest_a(150.0, 0.040, 0.010) == pytest.approx(3_000)
    assert least_a(130.0, 0.120, 0.010) == pytest.approx(1_000)
    with pytest.raises(ValueError, match="resistances"):
        prospective_a(100.0, 0.0, 0.0)


def test_pulse_shares():
    """22 % for 100 000 pulses, 29, 38, 48 % for fewer (a fuse maker's guide, seen)."""
    assert [pulse_share(n) for n in (100, 1_000, 10_000, 100_000)] == [0.48, 0.38, 0.29, 0.22]
    assert pulse_share(101) == 0.38
    with pytest.raises(ValueError, match="100 000"):
        pulse_share(100_001)


def test_finding_margin_and_sense():
    low = Finding("a", "b", 3.0, 5.0, "V", "at most", COMMON)
    high = replace(low, sense="at least")
    assert (low.passed, low.margin) == (True, 2.0)
    assert (high.passed, high.margin) == (False, -2.0)
