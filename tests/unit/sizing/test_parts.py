"""Contactors, pre-charge, charging, 12 V side, ventilation, isolation, restraint."""

from __future__ import annotations

from math import inf

import pytest

from bomplan.sizing import (
    CELLS,
    awg_name,
    branch_fuse_a,
    cable_kg_per_m,
    charge_current_a,
    charge_hours,
    check_charger,
    check_contactor,
    check_converter,
    check_precharge,
    check_ventilation,
    class_factor,
    discharge_s,
    gassing_correction_v,
    in_crush_zone,
    leakage_a,
    measured_isolation_ohm,
    nearest_awg,
    pilot_limit_a,
    poles_switched,
    presses_left,
    rolling_rms_a,
    sections,
    stalled_share,
    stress_area_mm2,
    time_to_share_s,
    voltage_after_v,
    voltage_class,
    wall_energy_j,
)
from bomplan.sizing.ventilation import GASSING_A_PER_100AH


def failed(findings) -> list[str]:
    return [finding.id for finding in findings if not finding.passed]


def test_gauge_names():
    assert [awg_name(n) for n in (-3, 0, 1, 8)] == ["4/0", "1/0", "1", "8"]
    assert nearest_awg(67.4) == -1
    assert nearest_awg(50.0) == 0
    assert nearest_awg(16.0) == 5
    with pytest.raises(ValueError, match="above 0"):
        nearest_awg(0.0)


@pytest.mark.parametrize(
    ("area", "diameter", "kg"), [(50, 13, 0.52), (70, 15, 0.71), (120, 19, 1.18)]
)
def test_cable_mass_estimate(area, diameter, kg):
    assert cable_kg_per_m(area, diameter) == pytest.approx(kg, rel=0.15)


def test_no_ampacity_at_the_class_temperature():
    assert class_factor(90.0, 90.0) == 0.0


def test_rolling_rms():
    trace = [0.0] * 10 + [300.0] * 10 + [0.0] * 10
    assert rolling_rms_a(trace, 1.0, 10.0) == 300.0
    assert rolling_rms_a(trace, 1.0, 30.0) == pytest.approx(300.0 / 3**0.5)
    assert rolling_rms_a(trace, 1.0, 600.0) == pytest.approx(300.0 / 3**0.5)
    assert rolling_rms_a([], 1.0, 10.0) == 0.0
    with pytest.raises(ValueError, match="above 0"):
        rolling_rms_a(trace, 0.0, 10.0)


def test_contactor_rules():
    assert failed(check_contactor(450.0, 250.0, 400.0, 403.0, 150.0, 300.0)) == []
    assert failed(
        check_contactor(
            420.0, 160.0, 0.0, 403.0, 150.0, 300.0, continuous_margin=0.1, voltage_margin=0.05
        )
    ) == ["contactor-voltage", "contactor-carry", "contactor-break"]
    assert [poles_switched(v) for v in (48.0, 60.0, 60.1, 144.0)] == [1, 1, 2, 2]


def test_precharge_rules():
    good = check_precharge(56.0, 200.0, 25.0, 250.0, 156.0, 8.8e-3, 2.0)
    assert failed(good) == []
    bad = check_precharge(100.0, 100.0, 1.5, 150.0, 156.0, 8.8e-3, 2.0)
    assert failed(bad) == [
        "precharge-time",
        "precharge-pulse",
        "precharge-retry",
        "precharge-voltage",
    ]


def test_precharge_voltage_follows_the_time():
    seconds = time_to_share_s(56.0, 8.8e-3, 0.95)
    assert voltage_after_v(156.0, 56.0, 8.8e-3, seconds) == pytest.approx(0.95 * 156.0)
    assert stalled_share(56.0, 200.0) == pytest.approx(0.78, abs=0.002)
    with pytest.raises(ValueError, match="share"):
        time_to_share_s(1.0, 1.0, 1.0)


def test_discharge_below_the_safe_voltage_takes_no_time():
    assert discharge_s(48.0, 1e4, 1e-2) == 0.0
    assert discharge_s(156.0, 35_700.0, 8.8e-3) == pytest.approx(300.0, rel=0.01)


def test_charger_rules():
    good = check_charger(100.0, 180.0, 20.0, 112.0, 164.0, 100.0, 6.0, 10.0)
    assert failed(good) == []
    bad = check_charger(120.0, 160.0, 120.0, 112.0, 164.0, 100.0, 12.0, 10.0)
    assert failed(bad) == [
        "charger-reaches-full",
        "charger-starts-empty",
        "charger-current",
        "charger-hours",
    ]


def test_charge_current_is_the_least_of_four():
    assert charge_current_a(20.0, 9e9, 0.9, 240.0, 1e9, 160.0, 1e9) == 20.0
    assert charge_current_a(1e9, 3200.0, 0.9, 240.0, 1e9, 160.0, 1e9) == 20.0
    assert charge_current_a(1e9, 9e9, 0.9, 240.0, 10.0, 160.0, 1e9) == pytest.approx(13.5)
    assert charge_current_a(1e9, 9e9, 0.9, 240.0, 1e9, 160.0, 7.0) == 7.0
    assert charge_hours(100.0, 0.0, 1.0, 0.0) == inf
    assert charge_hours(100.0, 20.0, 1.02, 0.3) == pytest.approx(5.4)
    assert wall_energy_j(36e6, 1.02, 0.92) == pytest.approx(39.913e6, rel=1e-4)
    with pytest.raises(ValueError, match="pack voltage"):
        charge_current_a(1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 1.0)


def test_chemistries_hang_together():
    for cell in CELLS.values():
        assert cell.absorb_v <= cell.highest_v
        assert 0 < cell.bulk_c <= cell.bulk_max_c
        assert 1.0 <= cell.returned <= 1.2
        assert cell.coldest_c < cell.warmest_c
    for name in ("lfp", "nmc"):
        assert CELLS[name].coldest_c == 0.0
    assert (CELLS["lfp"].highest_v, CELLS["nmc"].highest_v) == (3.65, 4.20)
    assert gassing_correction_v(15.0, 72) == pytest.approx(2.16)


@pytest.mark.parametrize("duty", [9.9, 96.1])
def test_pilot_outside_its_range(duty):
    with pytest.raises(ValueError, match="10 and 96"):
        pilot_limit_a(duty)


def test_converter_rules():
    assert failed(check_converter(90.0, 180.0, 1000.0, True, 105.0, 164.0, 50.0)) == []
    assert failed(check_converter(110.0, 160.0, 500.0, False, 105.0, 164.0, 50.0)) == [
        "dcdc-low",
        "dcdc-high",
        "dcdc-power",
        "dcdc-isolated",
    ]
    assert branch_fuse_a(10.0) == 12.5


def test_brake_presses_without_the_pump():
    # 5 L at 72 kPa, 0.3 L a press: 6 % lost each time, 67.68, 63.62, 59.80, 56.21, 52.84 ... kPa
    assert presses_left(5.0, 72.0, 0.3, 54.0) == 4
    assert presses_left(5.0, 72.0, 0.3, 40.0) == 9
    assert presses_left(1.0, 72.0, 1.0, 54.0) == 0
    assert presses_left(5.0, 53.9, 0.3, 54.0) == 0
    assert presses_left(4.0, 80.0, 2.0, 20.0) == 2  # halved twice, met exactly
    assert presses_left(1e9, 72.0, 0.3, 54.0) == 100
    with pytest.raises(ValueError, match="volumes"):
        presses_left(0.0, 72.0, 0.3, 54.0)


def test_ventilation_rules():
    assert check_ventilation(45, 0.0, 180.0, 0.0, True, False) == ()
    good = check_ventilation(72, GASSING_A_PER_100AH[("vented", "IU")], 220.0, 20.0, True, True)
    assert failed(good) == []
    bad = check_ventilation(72, 2.0, 220.0, 10.0, True, False)
    assert failed(bad) == ["ventilation-flow", "ventilation-cabin"]
    assert failed(check_ventilation(72, 2.0, 220.0, 20.0, False, False)) == []


def test_voltage_classes():
    assert [voltage_class(v) for v in (60.0, 60.1, 1500.0, 1501.0)] == ["A", "B", "B", "above B"]
    assert leakage_a(144.0, 14_400.0) == pytest.approx(0.010)


def test_isolation_from_two_readings():
    # 20 kohm leak from the minus pole, 150 V pack: the plus pole reads all of it
    known, leak, pack = 15_000.0, 20_000.0, 150.0
    bridged = pack * known / (known + leak)
    assert measured_isolation_ohm(known, pack, pack, bridged) == pytest.approx(leak)
    assert measured_isolation_ohm(known, pack, pack, pack) == 0.0
    with pytest.raises(ValueError, match="readings"):
        measured_isolation_ohm(known, pack, 100.0, 120.0)


def test_sections_while_building():
    assert sections(45, 3.65) == [15, 15, 15]
    assert sections(12, 14.7) == [4, 4, 4]
    assert sections(20, 3.65) == [10, 10]
    assert sections(3, 80.0) == [1, 1, 1]
    assert sections(0, 3.65) == []
    for series in range(1, 120):
        parts = sections(series, 3.65)
        assert sum(parts) == series
        assert max(parts) * 3.65 <= 60.0
        assert max(parts) - min(parts) <= 1


def test_crush_zones():
    # a car from -800 to 3400 mm
    assert in_crush_zone(-379, 500, -800, 3400) == (False, False)
    assert in_crush_zone(-381, 3101, -800, 3400) == (True, True)


def test_unknown_bolts():
    with pytest.raises(ValueError, match="M7"):
        stress_area_mm2(7)
