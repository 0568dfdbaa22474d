"""More current never asks for less: monotone rules, and capabilities that never overstate."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from bomplan.sizing import (
    CableData,
    Currents,
    Faults,
    FuseData,
    Surroundings,
    ampacity_a,
    bolts_needed,
    charge_hours,
    check_precharge,
    effective_area_mm2,
    let_through_a2s,
    melting_s,
    protect,
    protect_branch,
    withstand_a2s,
)
from bomplan.sizing.copper import CLASS_5_OHM_PER_KM

RATINGS = (100.0, 150.0, 200.0, 250.0, 300.0, 350.0, 400.0, 500.0, 630.0)
AREAS = tuple(sorted(CLASS_5_OHM_PER_KM))
AROUND = Surroundings(highest_v=164.0, fuse_ambient_c=45.0, cable_ambient_c=60.0)


def fuse(rated: float) -> FuseData:
    return FuseData(500.0, rated, 10_000.0, "full_range", 25.0, 2.5, 0.2, 4.0 * rated**2)


def cable(area: int) -> CableData:
    return CableData(CLASS_5_OHM_PER_KM[area][0], 125.0, 600.0)


def smallest_cable(currents: Currents, rated: float, faults: Faults) -> int:
    """The thinnest cable that this fuse protects, or one size beyond the table."""
    for area in AREAS:
        if protect(fuse(rated), cable(area), currents, faults, AROUND).passed:
            return area
    return AREAS[-1] + 1


def smallest_fuse(currents: Currents, faults: Faults) -> float:
    for rated in RATINGS:
        if protect(fuse(rated), cable(120), currents, faults, AROUND).passed:
            return rated
    return RATINGS[-1] + 1.0


rms = st.floats(5.0, 350.0)
peak = st.floats(20.0, 900.0)
faults = st.builds(Faults, st.floats(2_000.0, 7_500.0), st.floats(900.0, 2_000.0))


@given(rms, st.floats(1.0, 200.0), peak, st.floats(1.0, 60.0), faults)
def test_more_lasting_current_never_gives_a_thinner_cable_or_smaller_fuse(
    low, more, top, seconds, fault
):
    small = Currents(low, top, seconds, top)
    large = replace(small, rms_a=low + more)
    assert smallest_cable(large, 300.0, fault) >= smallest_cable(small, 300.0, fault)
    assert smallest_fuse(large, fault) >= smallest_fuse(small, fault)


@given(rms, peak, st.floats(1.0, 400.0), st.floats(1.0, 60.0), faults)
def test_a_higher_peak_never_gives_a_thinner_cable_or_smaller_fuse(low, top, more, seconds, fault):
    small = Currents(low, top, seconds, top)
    large = replace(small, peak_a=top + more, battery_limit_a=top + more)
    assert smallest_cable(large, 300.0, fault) >= smallest_cable(small, 300.0, fault)
    assert smallest_fuse(large, fault) >= smallest_fuse(small, fault)


@given(rms, peak, st.floats(1.0, 60.0), faults, st.sampled_from(AREAS), st.sampled_from(RATINGS))
def test_what_is_passed_is_protected_at_both_faults(low, top, seconds, fault, area, rated):
    found = protect(fuse(rated), cable(area), Currents(low, top, seconds, top), fault, AROUND)
    if not found.passed:
        assert found.reasons
        return
    assert found.route in ("fuse-limited", "controller-limited")
    limit = withstand_a2s(effective_area_mm2(cable(area).resistance_mohm_per_m), 125.0)
    assert let_through_a2s(fuse(rated), 0.95 * fault.least_a) <= limit
    assert let_through_a2s(fuse(rated), 1.05 * fault.greatest_a) <= limit
    if found.route == "fuse-limited":
        assert rated <= ampacity_a(cable(area).resistance_mohm_per_m, 60.0, 125.0)


THIN = (1.5, 2.5, 4, 6, 10, 16)
THIN_RATINGS = (10.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0)


@given(faults, st.sampled_from(THIN_RATINGS), st.sampled_from(THIN), st.floats(20.0, 80.0))
def test_a_branch_that_is_passed_is_protected_at_both_faults(fault, rated, area, ambient):
    """IEC 60364-4-43, In <= Iz (from memory), and I²t <= (k S)² of IEC 60364-5-54 (seen)."""
    resistance = CLASS_5_OHM_PER_KM[area][0]
    cable = CableData(resistance, 105.0, 600.0)
    found = protect_branch(fuse(rated), cable, fault, ambient)
    if not found.passed:
        assert found.reasons
        return
    assert found.route == "fuse-limited"
    assert rated <= ampacity_a(resistance, ambient, 105.0, 0.9)
    limit = withstand_a2s(effective_area_mm2(resistance), 105.0)
    assert let_through_a2s(fuse(rated), 0.95 * fault.least_a) <= limit
    assert let_through_a2s(fuse(rated), 1.05 * fault.greatest_a) <= limit
    partial = replace(fuse(rated), kind="aR")
    assert (
        protect_branch(partial, CableData(resistance, 105.0, 600.0), fault, ambient).route is None
    )


@given(faults, st.integers(0, 7), st.integers(0, 7), st.floats(20.0, 80.0))
def test_a_larger_branch_fuse_never_goes_with_a_thinner_cable(fault, one, other, ambient):
    def thinnest(rated: float) -> float:
        for area in THIN:
            cable = CableData(CLASS_5_OHM_PER_KM[area][0], 105.0, 600.0)
            if protect_branch(fuse(rated), cable, fault, ambient).passed:
                return area
        return 1e9

    small, large = sorted((THIN_RATINGS[one], THIN_RATINGS[other]))
    assert thinnest(large) >= thinnest(small)


@given(st.sampled_from(RATINGS), st.floats(5.0, 200.0), st.floats(1.0, 4.0))
def test_far_above_the_rating_the_let_through_energy_is_constant(rated, ratio, more):
    """Adiabatic melting: I²t does not depend on the current (physics of every fuse)."""
    high = let_through_a2s(fuse(rated), rated * ratio)
    assert high == let_through_a2s(fuse(rated), rated * ratio * more)
    assert high >= fuse(rated).clearing_a2s
    assert high >= 25.0 * rated**2 * fuse(rated).melt_s_at_5x


@given(st.sampled_from(RATINGS), st.floats(1.0, 9_000.0), st.floats(0.0, 2_000.0))
def test_melting_time_never_rises_with_current(rated, current, more):
    assert melting_s(fuse(rated), current + more) <= melting_s(fuse(rated), current)


@given(st.floats(0.1, 3.0), st.floats(-20.0, 110.0), st.floats(0.0, 30.0))
def test_hotter_air_and_thinner_cable_carry_less(mohm, ambient, more):
    assert ampacity_a(mohm, ambient + more, 125.0) <= ampacity_a(mohm, ambient, 125.0)
    assert ampacity_a(mohm * 1.1, ambient, 125.0) <= ampacity_a(mohm, ambient, 125.0)
    assert ampacity_a(mohm, ambient, 125.0, 0.8) <= ampacity_a(mohm, ambient, 125.0)


@given(st.floats(60.0, 420.0), st.floats(1e-4, 3e-2), st.floats(1.0, 100.0))
def test_more_capacitance_never_passes_where_less_fails(volts, farads, more):
    def ok(capacitance: float) -> bool:
        return all(
            f.passed for f in check_precharge(56.0, 200.0, 25.0, 500.0, volts, capacitance, 2.0)
        )

    assert ok(farads) or not ok(farads * (1.0 + more))


@given(st.floats(1.0, 600.0), st.floats(0.0, 600.0), st.sampled_from([8, 10, 12]))
def test_heavier_boxes_never_need_fewer_bolts(mass, more, size):
    assert bolts_needed(mass + more, size) >= bolts_needed(mass, size) >= 4


@given(st.floats(1.0, 400.0), st.floats(0.5, 80.0), st.floats(0.1, 80.0))
def test_more_current_never_charges_longer(used, current, more):
    assert charge_hours(used, current + more, 1.05, 0.3) <= charge_hours(used, current, 1.05, 0.3)
