"""What stands exactly at a limit of a rule, what a refusal says, and how each rule is told."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from math import inf, isinf

import pytest
from golden_files import compare

from bomplan import sizing
from bomplan.sizing import (
    CableData,
    Currents,
    Faults,
    Finding,
    FuseData,
    SizingMargins,
    Surroundings,
)
from bomplan.sizing.alignment import housing_mm
from bomplan.sizing.enclosure import check_enclosure, degree, keeps_out
from bomplan.sizing.joining import greatest_difference_v
from bomplan.sizing.precharge import check_discharge
from bomplan.sizing.restraint import crush_reach_mm, in_crush_zone
from bomplan.sizing.wiring_12v import Circuit12V, check_battery, check_circuits, check_feed
from bomplan.source import COMMON

FUSE = FuseData(150.0, 300.0, 20_000.0, "aR", 60.0, 8.0, 0.4, 90_000.0)
CABLE = CableData(0.386, 90.0, 600.0)
CURRENTS = Currents(120.0, 500.0, 10.0, 300.0)
FAULTS = Faults(9_000.0, 3_000.0)
AROUND = Surroundings(120.0, 40.0, 40.0)


def refused(ask: Callable[[], object], said: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(said)}$"):
        ask()


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: sizing.free_air_90c_a(0), "a cross-section must be above 0 mm2"),
        (lambda: sizing.ambient_factor(20, 30), "the insulation class must be above 30 °C"),
        (lambda: sizing.rolling_rms_a([1.0], 0, 1), "step and window must be above 0 s"),
        (lambda: sizing.rolling_rms_a([1.0], 1, 0), "step and window must be above 0 s"),
        (
            lambda: sizing.usable_supply_a(-0.1, "as-rated"),
            "a circuit's rating cannot be below 0 A",
        ),
        (
            lambda: sizing.pilot_limit_a(9.9),
            "the pilot offers a current between 10 and 96 % duty only",
        ),
        (
            lambda: sizing.pilot_limit_a(96.1),
            "the pilot offers a current between 10 and 96 % duty only",
        ),
        (
            lambda: sizing.charge_current_a(9, 9, 1, 9, 9, 0, 9),
            "the pack voltage must be above 0 V",
        ),
        (lambda: sizing.awg_area_mm2(-4), "gauge -4 is outside 4/0 (-3) to 40"),
        (lambda: sizing.awg_area_mm2(41), "gauge 41 is outside 4/0 (-3) to 40"),
        (lambda: sizing.nearest_awg(0), "a cross-section must be above 0 mm2"),
        (lambda: sizing.effective_area_mm2(0), "a resistance must be above 0"),
        (lambda: replace(FUSE, rated_a=0), "a fuse's rating and melting times must be above 0"),
        (
            lambda: replace(FUSE, melt_s_at_5x=0),
            "a fuse's rating and melting times must be above 0",
        ),
        (
            lambda: replace(FUSE, melt_s_at_3x=60.0),
            "a fuse's melting times must fall from 2x over 3x to 5x",
        ),
        (
            lambda: replace(FUSE, melt_s_at_5x=8.0),
            "a fuse's melting times must fall from 2x over 3x to 5x",
        ),
        (lambda: sizing.pulse_share(100_001), "no share is known above 100 000 pulses"),
        (
            lambda: sizing.measured_isolation_ohm(1, 1, 1, 1.1),
            "readings must be above 0 and bridging cannot raise the voltage",
        ),
        (
            lambda: sizing.measured_isolation_ohm(0, 1, 1, 1),
            "readings must be above 0 and bridging cannot raise the voltage",
        ),
        (lambda: sizing.sections(3, 0), "a module's voltage must be above 0 V"),
        (
            lambda: greatest_difference_v(0, 9),
            "resistance and charge current must be above 0",
        ),
        (
            lambda: greatest_difference_v(1, 0),
            "resistance and charge current must be above 0",
        ),
        (
            lambda: sizing.reserve_ah(9, usable=0),
            "the usable share must be above 0 and at most 1",
        ),
        (
            lambda: sizing.reserve_ah(9, usable=1.01),
            "the usable share must be above 0 and at most 1",
        ),
        (lambda: sizing.presses_left(0, 60, 1, 50), "volumes must be above 0 L"),
        (lambda: sizing.presses_left(5, 60, 0, 50), "volumes must be above 0 L"),
        (lambda: sizing.time_to_share_s(1, 1, 0), "the share must lie between 0 and 1"),
        (lambda: sizing.time_to_share_s(1, 1, 1), "the share must lie between 0 and 1"),
        (
            lambda: sizing.bleed_for_ohm(60, 1, 1),
            "the voltage is already at or below the end voltage",
        ),
        (
            lambda: sizing.stress_area_mm2(7),
            "no M7 in the table; sizes: [5, 6, 8, 10, 12, 14, 16]",
        ),
        (
            lambda: sizing.proof_load_n(8, "9.9"),
            "no strength class '9.9'; known: ['10.9', '8.8']",
        ),
        (
            lambda: sizing.pack_resistance_ohm(1, 0, 1),
            "series and parallel must be 1 or more",
        ),
        (
            lambda: sizing.pack_resistance_ohm(1, 1, 0),
            "series and parallel must be 1 or more",
        ),
        (
            lambda: sizing.prospective_a(9, 0, 0),
            "resistances cannot be below 0, nor all of them 0",
        ),
        (
            lambda: sizing.prospective_a(9, -0.1, 1),
            "resistances cannot be below 0, nor all of them 0",
        ),
        (
            lambda: sizing.prospective_a(9, 1, -0.1),
            "resistances cannot be below 0, nor all of them 0",
        ),
        (lambda: sizing.air_flow_m3_h(-1, 1, 100), "cells cannot be below 0"),
        (
            lambda: sizing.k_factor(90, 90),
            "the final temperature must be above the starting one",
        ),
        (lambda: sizing.least_area_mm2(9, 5.01, 143), "the adiabatic rule holds from 0 to 5 s"),
        (lambda: sizing.least_area_mm2(9, 0, 143), "the adiabatic rule holds from 0 to 5 s"),
    ],
)
def test_what_cannot_be_is_refused_in_these_words(ask: Callable[[], object], said: str) -> None:
    refused(ask, said)


def test_the_ends_of_every_range_are_taken() -> None:
    assert sizing.usable_supply_a(0, "as-rated") == 0
    assert sizing.pilot_limit_a(10) == pytest.approx(6)  # SAE J1772, from memory
    assert sizing.pilot_limit_a(85) == pytest.approx(51)
    assert sizing.pilot_limit_a(96) == pytest.approx(80)
    assert sizing.pulse_share(100) == 0.48
    assert sizing.pulse_share(101) == sizing.pulse_share(1_000) == 0.38
    assert sizing.pulse_share(1_001) == sizing.pulse_share(10_000) == 0.29
    assert sizing.pulse_share(10_001) == sizing.pulse_share(100_000) == 0.22
    assert sizing.reserve_ah(10, hours=0.5, usable=1) == 5
    assert sizing.least_area_mm2(143, 5, 143) == pytest.approx(5**0.5)
    assert sizing.measured_isolation_ohm(1_000, 100, 50, 50) == 0
    assert sizing.sections(0, 3.65) == []
    assert sizing.prospective_a(10, 0, 2) == sizing.prospective_a(10, 2, 0) == 5
    assert sizing.pack_resistance_ohm(2.0, 1, 1) == 0.002
    assert sizing.poles_switched(60.0) == 1
    assert sizing.poles_switched(60.1) == 2
    assert sizing.discharge_s(60, 1_000, 1e-3) == 0
    assert sizing.class_factor(90, 90) == sizing.ambient_factor(90, 90) == 0
    assert sizing.temperature_factor(130) == 0
    assert sizing.temperature_factor(20) == sizing.temperature_factor(25) == 1
    assert [sizing.awg_name(n) for n in (-3, -1, 0, 1)] == ["4/0", "2/0", "1/0", "1"]
    assert sizing.voltage_class(60) == "A"
    assert sizing.voltage_class(60.01) == sizing.voltage_class(1_500) == "B"
    assert sizing.voltage_class(1_500.01) == "above B"


def test_a_fuse_melts_after_the_time_of_each_point_and_never_at_its_rating() -> None:
    assert isinf(sizing.melting_s(FUSE, 300.0))
    assert sizing.melting_s(FUSE, 300.1) > 1_000
    points = {600.0: 60.0, 900.0: 8.0, 1_500.0: 0.4, 3_000.0: 0.1}
    for current, seconds in points.items():
        assert sizing.melting_s(FUSE, current) == pytest.approx(seconds, abs=0.002)
    # Half way between two points of a log-log line is the middle of both logarithms.
    middle = sizing.melting_s(FUSE, (600.0 * 900.0) ** 0.5)
    assert middle == pytest.approx((60.0 * 8.0) ** 0.5, abs=0.002)


def test_what_passes_before_a_fault_is_cleared() -> None:
    """A partial-range fuse breaks nothing below five times its rating, nor below its own least."""
    assert FUSE.least_breaking_a == 1_500
    assert isinf(sizing.let_through_a2s(FUSE, 1_499.9))
    assert sizing.let_through_a2s(FUSE, 1_500.0) == pytest.approx(
        1.25 * 1_500**2 * 0.401, rel=0.003
    )
    full = replace(FUSE, kind="full_range")
    assert full.least_breaking_a == 600
    assert isinf(sizing.let_through_a2s(full, 599.9))
    own = replace(full, min_breaking_a=100.0)
    assert own.least_breaking_a == 100
    assert isinf(sizing.let_through_a2s(own, 599.9))
    # Above the curve the heat that melts is constant, and never less than the maker's figure.
    at_five_times = sizing.let_through_a2s(FUSE, 1_500.0)
    assert sizing.let_through_a2s(FUSE, 90_000.0) == pytest.approx(at_five_times, rel=0.003)
    slow = replace(FUSE, clearing_a2s=5e6)
    assert sizing.let_through_a2s(slow, 1_500.0) == 5e6


def test_a_box_reaches_into_a_crush_zone_by_the_millimetre() -> None:
    """Zones of 420 mm in front and 300 mm behind (UN R100.02); car from -800 to 3,200 mm."""
    assert in_crush_zone(-380, 2_900, -800, 3_200) == (False, False)
    assert in_crush_zone(-381, 2_901, -800, 3_200) == (True, True)
    assert crush_reach_mm("front", -380, 500, 2_400, 800, 420) == 0
    assert crush_reach_mm("front", -385, 500, 2_400, 800, 420) == 5
    assert crush_reach_mm("rear", 500, 2_900, 2_400, 800, 300) == 0
    assert crush_reach_mm("rear", 500, 2_907, 2_400, 800, 300) == 7


def test_degrees_of_protection_by_their_letters() -> None:
    """IEC 60529 (from memory): 2 keeps a finger off, 4 a wire; up to 6 lower ones are included."""
    found = {code: degree(code) for code in ("IP54", "ipxxb", "IP6K9K", "IP2X", "IP65/IP67")}
    told = {code: one and (one.touch, one.water) for code, one in found.items()}
    assert told == {
        "IP54": ("D", 4), "ipxxb": ("B", 0), "IP6K9K": ("D", 9), "IP2X": ("B", 0),
        "IP65/IP67": ("D", 7),
    }  # fmt: skip
    assert degree("IP65/tight") is None
    assert degree("tight") is None
    assert keeps_out("IP54", "splash")
    assert not keeps_out("IP53", "splash")
    assert keeps_out("IP65/IP67", "jets")
    assert keeps_out("IP65/IP67", "immersion")
    assert not keeps_out("IP67", "jets")
    assert not keeps_out("tight", "dry")


def test_true_running_with_a_clutch_and_without() -> None:
    assert (housing_mm(True), housing_mm(False)) == (0.13, 0.05)


@pytest.mark.parametrize(
    ("diameter", "kind", "factor"),
    [
        (12, {}, 3), (12.1, {}, 4),
        (12, {"moving": True}, 5), (12.1, {"moving": True}, 6),
        (12, {"moving": True, "rubber": True}, 4), (20, {"moving": True, "rubber": True}, 5),
        (20.1, {"moving": True, "rubber": True}, 6),
        (20.1, {"screened": True}, 6), (20.1, {"screened": True, "moving": True}, 10),
    ],
)  # fmt: skip
def test_bend_radius_in_diameters(diameter: float, kind: dict[str, bool], factor: int) -> None:
    """IEC 62440 (seen in reproduction); screened cable by common practice."""
    assert sizing.bend_radius_mm(diameter, **kind) == factor * diameter


def test_what_limits_the_charge_current() -> None:
    """Charger in A and W, supply, cells: the least of them, and nothing below 0."""
    assert sizing.charge_current_a(20, 9_000, 0.9, 230, 16, 100, 50) == 20
    assert sizing.charge_current_a(99, 1_500, 0.9, 230, 16, 100, 50) == 15
    assert sizing.charge_current_a(99, 9_000, 0.9, 230, 10, 100, 50) == pytest.approx(20.7)
    assert sizing.charge_current_a(99, 9_000, 0.9, 230, 16, 100, 12) == 12
    assert sizing.charge_current_a(0.4, 9_000, 0.9, 230, 16, 100, 12) == 0.4
    assert sizing.charge_current_a(20, 9_000, 0.9, 230, 0, 100, 12) == 0
    assert sizing.charge_current_a(0.5, 1, 1, 1, 1, 1, 1) == 0.5


@pytest.mark.parametrize(("sense", "sign"), [("at most", 1), ("at least", -1)])
def test_a_finding_holds_at_its_limit(sense: str, sign: int) -> None:
    at = Finding("x", "y", 5.0, 5.0, "A", sense, COMMON)  # type: ignore[arg-type]
    beyond = replace(at, value=5.0 + sign * 0.5)
    within = replace(at, value=5.0 - sign * 0.5)
    assert (at.passed, beyond.passed, within.passed) == (True, False, True)
    assert (at.margin, beyond.margin, within.margin) == (0.0, -0.5, 0.5)


def test_rounding_down_by_places_and_by_thousands() -> None:
    assert sizing.floored(12.349, 1) == 12.3
    assert sizing.floored(12_999.0, -3) == 12_000.0
    assert sizing.floored(inf, 2) == inf


@pytest.mark.parametrize("kind", ["full_range", "aR"])
@pytest.mark.parametrize("limited", [300.0, None])
def test_a_route_is_taken_where_it_holds(kind: str, limited: float | None) -> None:
    """A small full-range fuse needs no controller; a large or partial-range one does."""
    fuse = replace(FUSE, kind=kind, rated_a=150.0)  # type: ignore[arg-type]
    found = sizing.protect(fuse, CABLE, replace(CURRENTS, battery_limit_a=limited), FAULTS, AROUND)
    route = "fuse-limited" if kind == "full_range" else limited and "controller-limited"
    assert found.route == route
    assert found.passed == (route is not None and all(x.passed for x in found.findings))
    assert list(found.reasons) == [x.words for x in found.findings if not x.passed]


def told(findings: tuple[Finding, ...]) -> str:
    lines = []
    for one in findings:
        lines.append(
            f"{one.id}: {one.words}\n  {one.value:.6g} {one.sense} {one.limit:.6g} {one.unit}\n"
            f"  {one.source.words} [{one.source.kind}]"
        )
    return "\n".join(lines) + "\n"


WIRE, THIN = CableData(7.98, 90.0, 60.0), CableData(13.3, 90.0, 60.0)
FEED = FuseData(58.0, 60.0, 2_000.0, "full_range", 20.0, 4.0, 0.5, 9_000.0)
CIRCUITS = (
    Circuit12V("pump", 12.0, (1_500, 1_500)),
    Circuit12V("relay", 0.5, (2_000, 1_000, 500)),
    Circuit12V("gauge", 1.0, (4_000, 4_000)),
    Circuit12V("heated screen", 26.0, (400, 300)),
)
MARGINS = SizingMargins(continuous=0.2, voltage=0.07, fault_current=0.04, breaking=0.3)
RULES: dict[str, Callable[[], tuple[Finding, ...]]] = {
    "charger": lambda: sizing.check_charger(60, 90, 18, 66, 87.6, 50, 7.5, 10),
    "contactor": lambda: sizing.check_contactor(
        150, 200, 400, 131.4, 160, 450, continuous_margin=0.1, voltage_margin=0.05
    ),
    "converter": lambda: sizing.check_converter(60, 150, 500, False, 55, 131.4, 30),
    "converter isolated": lambda: sizing.check_converter(60, 150, 900, True, 72, 131.4, 30),
    "discharge": lambda: check_discharge(5_000, 10, 200, 131.4, 1e-3, 300, voltage_margin=0.05),
    "discharge too slow": lambda: check_discharge(1e6, 10, 130, 131.4, 1e-3, 300),
    "low side": lambda: check_circuits(CIRCUITS, WIRE, 50.0, 20.0),
    "low side in thin wire": lambda: check_circuits(
        (*CIRCUITS, Circuit12V("winch", 40.0, (900, 900))), replace(THIN, v_rating=12.0), 60.0, 8.0
    ),
    "low side without a fuse": lambda: check_circuits(CIRCUITS[-1:], WIRE, 50.0, 20.0),
    "feed fuse": lambda: check_battery(FEED, 20.0),
    "feed fuse before a large battery": lambda: check_battery(replace(FEED, rated_a=200.0), 60.0),
    "feed wire": lambda: check_feed(FEED, replace(WIRE, resistance_mohm_per_m=1.21), 3.0, 50.0),
    "feed wire too thin": lambda: check_feed(FEED, WIRE, 3.0, 50.0),
    "precharge": lambda: sizing.check_precharge(
        100, 300, 25, 400, 350, 1e-3, 5, voltage_margin=0.05
    ),
    "ventilation": lambda: sizing.check_ventilation(60, 0.5, 220, 40, True, False),
    "ventilation outside": lambda: sizing.check_ventilation(60, 0.5, 220, 40, True, True),
    "cover in the cabin": lambda: check_enclosure(
        "box", "steel-box", "IPXXB", in_cabin=True, outside=False
    ),
    "cover outside": lambda: check_enclosure(
        "box", "steel-box", "IP54", in_cabin=False, outside=True
    ),
    "cover that is no code": lambda: check_enclosure(
        "box", "steel-box", "tight", in_cabin=True, outside=True
    ),
    "no gas": lambda: sizing.check_ventilation(60, 0.0, 220, 40, True, False),
    "by the fuse": lambda: (
        sizing.protect(
            replace(FUSE, kind="full_range", rated_a=150.0), CABLE, CURRENTS, FAULTS, AROUND
        ).findings
    ),
    "by the controller": lambda: (
        sizing.protect(FUSE, CABLE, CURRENTS, FAULTS, AROUND, MARGINS).findings
    ),
    "by neither": lambda: (
        sizing.protect(
            FUSE, CABLE, replace(CURRENTS, battery_limit_a=None), FAULTS, AROUND
        ).findings
    ),
    "branch": lambda: (
        sizing.protect_branch(
            replace(FUSE, kind="full_range", rated_a=15.0), CABLE, FAULTS, 40.0
        ).findings
    ),
    "branch behind a partial range": lambda: (
        sizing.protect_branch(replace(FUSE, rated_a=15.0), CABLE, FAULTS, 40.0, MARGINS).findings
    ),
}


@pytest.mark.parametrize("name", RULES)
def test_each_rule_is_told_in_these_words_and_figures(name: str) -> None:
    compare("sizing", name.replace(" ", "-"), told(RULES[name]()))
