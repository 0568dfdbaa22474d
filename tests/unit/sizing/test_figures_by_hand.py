"""Figures of the smaller rules, each worked out on paper beside it."""

from __future__ import annotations

import math

import pytest

from bomplan.sizing.bonding import JOINTS_OHM, SECTIONS_MM2, strap_mm2, strap_ohm
from bomplan.sizing.charging import (
    charge_hours,
    gassing_correction_v,
    inlet_limit_a,
    usable_supply_a,
    wall_energy_j,
)
from bomplan.sizing.low_voltage import (
    branch_fuse_a,
    cold_share,
    converter_input_a,
    converter_w,
    reserve_ah,
    reserve_minutes,
)
from bomplan.sizing.precharge import (
    bleed_for_ohm,
    closing_share,
    closing_surge_a,
    discharge_s,
    gap_v,
    peak_current_a,
    peak_power_w,
    pulse_energy_j,
    resistance_for_ohm,
    stalled_share,
    time_to_share_s,
    time_with_load_s,
    voltage_after_v,
)
from bomplan.sizing.protection import CableData
from bomplan.sizing.restraint import (
    DEFAULT,
    bolts_needed,
    combined_share,
    design_shear_n,
    design_tension_n,
    force_n,
    proof_load_n,
    stress_area_mm2,
    tightening_nm,
)
from bomplan.sizing.vacuum import booster_l, presses_left, swept_l, vacuum_after_kpa
from bomplan.sizing.ventilation import (
    air_flow_m3_h,
    gassing_a,
    hydrogen_g,
    hydrogen_l_h,
    opening_cm2,
    room_m3,
)
from bomplan.sizing.wiring_12v import (
    Circuit12V,
    blade,
    blade_a,
    check_circuits,
    drop_v,
    short_a,
    tired_short_a,
)
from bomplan.sizing.withstand import k_factor, least_area_mm2, withstand_a2s


def near(value: float) -> object:
    return pytest.approx(value, rel=1e-12)


def test_the_twelve_volt_side() -> None:
    assert converter_w(20.0) == near(13.8 * 20 / 0.8)
    assert converter_input_a(360.0, 80.0) == near(5.0)
    assert branch_fuse_a(8.0) == 10.0
    assert branch_fuse_a(8.0, 1.5) == 12.0


def test_wires_of_the_twelve_volt_side() -> None:
    # A quarter to spare: 2.4 A take 3 A, 2.5 A take 5 A, 24 A the last of the series.
    rated = [blade_a(amps) for amps in (0.1, 2.4, 2.5, 8.0, 24.0, 24.1)]
    assert rated == [3.0, 3.0, 5.0, 10.0, 30.0, None]
    fuse = blade(10.0)
    assert (fuse.v_dc, fuse.rated_a, fuse.breaking_a, fuse.kind) == (
        32.0,
        10.0,
        1_000.0,
        "full_range",
    )
    assert (fuse.melt_s_at_2x, fuse.melt_s_at_3x, fuse.melt_s_at_5x) == (4.0, 0.9, 0.16)
    assert fuse.clearing_a2s == near(360.0)
    # 20 Ah: 13.75 mohm new and 45 mohm worn, a milliohm of joints.
    assert short_a(20.0) == near(12.8 / 0.01475)
    assert tired_short_a(20.0, 0.054) == near(11.5 / 0.1)
    assert Circuit12V("pump", 12.0, (1_500, 1_000, 500)).loop_m == 3.0
    assert drop_v(10.0, 3.0, 8.0) == near(10 * 3 * 8e-3 * (1 + 0.00393 * 50))


def test_the_hardest_circuit_decides() -> None:
    """Largest fuse, greatest drop and least fault over rating each come from their own circuit."""
    wire = CableData(7.98, 90.0, 60.0)
    far = Circuit12V("lamp", 2.0, (9_000, 9_000))
    near_by = Circuit12V("pump", 12.0, (500, 500))
    loop_ohm = 18 * 7.98e-3 * (1 + 0.00393 * 70)
    found = {one.id: one for one in check_circuits((near_by, far), wire, 40.0, 20.0)}
    assert found["wire_12v-drop"].words.endswith("to lamp (2 A)")
    assert found["wire_12v-drop"].value == near(drop_v(2.0, 18.0, 7.98))
    assert found["wire_12v-route"].value == 15.0
    assert found["wire_12v-series"].value == 0.0
    fault = 0.95 * tired_short_a(20.0, loop_ohm)
    pump = 0.95 * tired_short_a(20.0, 1 * 7.98e-3 * (1 + 0.00393 * 70))
    assert pump / 15 < fault / 3
    assert found["blade_fuse-least-fault"].value == near(pump)
    alone = {one.id: one for one in check_circuits((far,), wire, 40.0, 20.0)}
    assert alone["blade_fuse-least-fault"].value == near(fault)


@pytest.mark.parametrize(
    ("celsius", "share"), [(40.0, 1.0), (25.0, 1.0), (15.0, 0.9), (-20.0, 0.55), (-80.0, 0.2)]
)
def test_a_lead_battery_in_the_cold(celsius: float, share: float) -> None:
    assert cold_share(celsius) == near(share)
    # Ten amperes for half an hour out of half of what the cold leaves.
    assert reserve_ah(10.0, temperature_c=celsius) == near(10.0 / share)
    assert reserve_minutes(20.0, 10.0, temperature_c=celsius) == near(60.0 * share)


def test_reserves_by_hand() -> None:
    assert reserve_ah(10.0, 2.0, 0.8) == near(25.0)
    assert reserve_ah(10.0, 2.0, 1.0) == near(20.0)
    assert reserve_minutes(20.0, 10.0, 0.25) == near(30.0)
    assert reserve_minutes(20.0, 0.5) == near(1_200.0)
    assert reserve_minutes(20.0, 0.0) == reserve_minutes(20.0, -1.0) == math.inf


def test_pre_charge_by_hand() -> None:
    # 100 ohm and 10 mF: a time constant of one second.
    assert time_to_share_s(100.0, 0.01, 1 - math.exp(-3)) == near(3.0)
    assert resistance_for_ohm(0.01, 1 - math.exp(-3), 6.0) == near(200.0)
    assert voltage_after_v(120.0, 100.0, 0.01, 2.0) == near(120 * (1 - math.exp(-2)))
    assert (peak_current_a(120.0, 100.0), peak_power_w(120.0, 100.0)) == (1.2, 144.0)
    assert pulse_energy_j(120.0, 0.01) == near(72.0)
    assert gap_v(100.0) == near(5.0)
    assert gap_v(100.0, 0.9) == near(10.0)
    assert closing_surge_a(10.0, 0.05) == near(200.0)
    # 20 V are left at most: from 400 V on that asks for more than 95 %.
    assert closing_share(400.0) == 0.95
    assert closing_share(800.0) == near(0.975)
    assert closing_share(100.0) == 0.95


def test_pre_charge_with_a_load_by_hand() -> None:
    assert stalled_share(100.0, 300.0) == near(0.75)
    # 75 ohm side by side: to half of the source, two thirds of where it ends.
    assert time_with_load_s(100.0, 300.0, 0.01, 0.5) == near(0.75 * math.log(3))
    assert time_with_load_s(100.0, 300.0, 0.01, 0.75) == math.inf
    assert time_with_load_s(100.0, 300.0, 0.01, 0.9) == math.inf


def test_discharge_by_hand() -> None:
    assert discharge_s(60 * math.e, 1_000.0, 0.01) == near(10.0)
    assert discharge_s(60.0, 1_000.0, 0.01) == 0.0
    assert discharge_s(40 * math.e, 1_000.0, 0.01, 40.0) == near(10.0)
    assert bleed_for_ohm(60 * math.e, 0.01, 10.0) == near(1_000.0)
    words = "^the voltage is already at or below the end voltage$"
    for volts in (60.0, 12.0):
        with pytest.raises(ValueError, match=words):
            bleed_for_ohm(volts, 0.01, 10.0)


def test_charging_by_hand() -> None:
    assert usable_supply_a(20.0, "continuous-80") == 16.0
    assert usable_supply_a(20.0, "as-rated") == 20.0
    assert usable_supply_a(0.0, "as-rated") == 0.0
    assert charge_hours(100.0, 20.0, 1.1, 2.0) == near(7.5)
    assert charge_hours(100.0, 0.0, 1.1, 2.0) == math.inf
    assert charge_hours(100.0, 0.5, 1.1, 2.0) == near(222.0)
    assert wall_energy_j(900.0, 1.1, 0.9) == near(1_100.0)
    assert gassing_correction_v(15.0, 24) == near(0.72)
    limits = [inlet_limit_a(volts, pilot) for volts, pilot in (
        (150.0, True), (150.1, True), (240.0, False), (120.0, False))]  # fmt: skip
    assert limits == [16.0, 80.0, 16.0, 16.0]


def test_bolts_by_hand() -> None:
    # M8: pi/4 (8 - 0.9382 x 1.25)^2.
    area = math.pi / 4 * (8 - 0.9382 * 1.25) ** 2
    assert stress_area_mm2(8) == near(area)
    assert proof_load_n(8) == near(580 * area)
    assert proof_load_n(8, "10.9") == near(830 * area)
    assert design_shear_n(8) == near(0.6 * 800 * area / 1.25)
    assert design_shear_n(8, "10.9") == near(0.5 * 1_000 * area / 1.25)
    assert design_tension_n(8) == near(0.9 * 800 * area / 1.25)
    assert design_tension_n(8, "10.9") == near(0.9 * 1_000 * area / 1.25)
    assert tightening_nm(8) == near(0.2 * 0.75 * 580 * area * 8 / 1000)
    assert tightening_nm(8, friction=0.1) == near(0.1 * 0.75 * 580 * area * 8 / 1000)
    assert force_n(100.0, 20.0) == near(19_620.0)
    assert DEFAULT.greatest_g == 20.0


def test_shear_and_tension_together() -> None:
    shear, tension = design_shear_n(8), design_tension_n(8)
    assert combined_share(4 * shear, 0.0, 4, 8) == near(1.0)
    assert combined_share(0.0, 4 * tension, 4, 8) == near(1.0)
    assert combined_share(2 * shear, 1.4 * tension, 4, 8) == near(0.75)
    strong = combined_share(4 * design_shear_n(8, "10.9"), 0.0, 4, 8, "10.9")
    assert strong == near(1.0)


def test_as_many_bolts_as_the_greatest_force_asks() -> None:
    each = design_shear_n(8) / (20 * 9.81)
    assert bolts_needed(2 * each, 8) == 4
    assert bolts_needed(2.001 * each, 8) == 6
    assert bolts_needed(1.0, 8) == 4
    assert bolts_needed(3 * design_shear_n(8, "10.9") / (20 * 9.81), 8, "10.9") == 6


def test_vacuum_by_hand() -> None:
    assert swept_l(200.0) == near(math.pi / 4 * 40_000 * 0.9 * 35 / 1e6)
    assert booster_l(200.0) == near(math.pi / 4 * 40_000 * 0.9 * 110 / 1e6)
    assert vacuum_after_kpa(80.0, 2, 1.0, 4.0) == near(45.0)
    # Three quarters each time: 80, 60, 45, 33.75.
    assert [presses_left(4.0, 80.0, 1.0, least) for least in (60.0, 59.0, 45.0, 33.75, 33.7)] == [
        1, 1, 2, 3, 3,
    ]  # fmt: skip
    assert presses_left(1.0, 80.0, 1.0, 20.0) == 0
    assert presses_left(1.0, 80.0, 0.999, 80.0) == 0
    assert presses_left(1e6, 80.0, 1e-3, 20.0) == 100


def test_hydrogen_by_hand() -> None:
    assert gassing_a(2.0, 250.0) == near(5.0)
    assert air_flow_m3_h(24, 2.0, 250.0) == near(0.055 * 24 * 5)
    assert air_flow_m3_h(24, 2.0, 250.0, 0.05) == near(6.0)
    assert air_flow_m3_h(0, 2.0, 250.0) == 0.0
    assert (opening_cm2(6.0), room_m3(6.0)) == (168.0, 15.0)
    assert hydrogen_l_h(24, 2.0, 250.0) == near(0.4564 * 24 * 5)
    assert hydrogen_g(24, 2.0, 250.0) == near(0.0376 * 24 * 5 * 5)
    assert hydrogen_g(24, 2.0, 250.0, 2.0) == near(0.0376 * 24 * 5 * 2)


def test_straps_by_hand() -> None:
    k = k_factor(90.0, 250.0)
    assert k == near(226 * math.sqrt(math.log(484.5 / 324.5)))
    for section in SECTIONS_MM2:
        assert strap_mm2((k * section) ** 2 * (1 - 1e-12)) == section
    assert strap_mm2((k * 6.01) ** 2) == 10.0
    assert strap_mm2((k * 200.0) ** 2) == near(200.0)
    assert strap_mm2(math.inf) == math.inf
    # A metre of 10 mm2: 1.724 mohm, and two joints.
    assert strap_ohm(10.0, 1_000.0) == near(1 / 580 + JOINTS_OHM)
    assert strap_ohm(10.0, 500.0) == near(1 / 1_160 + 0.002)


def test_fault_energy_by_hand() -> None:
    k = k_factor(90.0, 250.0)
    assert withstand_a2s(50.0) == math.floor((k * 50) ** 2 / 1000) * 1000
    assert withstand_a2s(50.0, 250.0) == withstand_a2s(50.0, 300.0) == 0.0
    assert (
        withstand_a2s(50.0, 105.0, 200.0)
        == math.floor((k_factor(105.0, 200.0) * 50) ** 2 / 1000) * 1000
    )
    assert least_area_mm2(1_000.0, 4.0, 143.0) == near(2_000 / 143)
    words = "^the adiabatic rule holds from 0 to 5 s$"
    for seconds in (0.0, 5.001):
        with pytest.raises(ValueError, match=words):
            least_area_mm2(1_000.0, seconds, 143.0)
    assert least_area_mm2(1_000.0, 5.0, 143.0) > 0
    words = "^the final temperature must be above the starting one$"
    with pytest.raises(ValueError, match=words):
        k_factor(90.0, 90.0)
