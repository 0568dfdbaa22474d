"""The chain that opens the contactors, the driver's disconnect, and machines turned too fast."""

from __future__ import annotations

from typing import Any

import pytest
from dangerous_cases import CORE, Car, sound
from oracle.small_cases import generic

from bomplan.catalog.records import Part
from bomplan.design.bill.interlock import (
    cut_checks,
    inertia_and_contactor,
    inertia_checks,
    reach_checks,
    reach_open,
)
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import resolve
from bomplan.requirements.overspeed import burst_checks, fastest

SWITCH = "inertia-switch-basic"
DISCONNECT = "emergency-disconnect-150v-300a"


def context(car: Car | None = None) -> Context:
    car = car or sound()
    return Context(car.project(), car.catalog())


def row(family: str, part: str, **figures: Any) -> Part:
    found = generic().family(family)[part]
    return found.model_copy(update={"figures": {**found.figures, **figures}})


@pytest.mark.parametrize(
    ("figures", "failed"),
    [
        ({}, []),
        ({"v_dc": 12.0}, ["inertia-switch.voltage"]),
        ({"trip_g": 4.0}, ["inertia-switch.kerb"]),
        ({"trip_g": 25.0}, ["inertia-switch.crash"]),
        ({"trip_g": 8.0}, []),
        ({"trip_g": 14.0}, []),
    ],
)
def test_an_inertia_switch_trips_in_a_crash_only(
    figures: dict[str, Any], failed: list[str]
) -> None:
    found = list(inertia_checks(row("inertia_switch", SWITCH, **figures)))
    assert [check.id for check in found if not check.passed] == failed
    assert all(check.caution and check.source for check in found)


def test_the_chain_carries_the_coils_of_both_poles() -> None:
    """Two contactors of 8 W at 12 V are 1.33 A; a pack of at most 60 V has one."""
    here = context()
    contactor = row("contactor", "contactor-120v-200a")
    for series, amps in ((28, 16 / 12), (16, 8 / 12)):
        drive = resolve(here, CORE.model_copy(update={"series": series}))
        currents = no_mean_current(here, drive)
        weak = row("inertia_switch", SWITCH, rated_a=1.0)
        (check,) = inertia_and_contactor(here, drive, currents, weak, contactor)
        assert check.limit == pytest.approx(amps)
        assert check.passed == (amps <= 1.0)
        blank = weak.model_copy(update={"figures": {}})
        assert list(inertia_and_contactor(here, drive, currents, blank, contactor)) == []


def test_the_throttle_is_cut_before_the_contactor() -> None:
    (good,) = cut_checks(row("controller", "inverter-96v-500a"))
    (bad,) = cut_checks(row("controller", "inverter-96v-500a", cut_input=False))
    assert (good.passed, bad.passed) == (True, False)
    assert "arc and weld" in bad.caution


@pytest.mark.parametrize(
    ("driver", "place", "away"),
    [
        ((1_150, None, None), (800, 300, 500), 350),
        ((1_150, 0, 500), (750, 300, 500), 500),
        ((1_150, 0, 500), (0, 0, 500), 1_150),
    ],
)
def test_the_driver_reaches_the_disconnect(
    driver: tuple[int, int | None, int | None], place: tuple[int, int, int], away: float
) -> None:
    car = sound()
    keys = ("x_mm", "y_mm", "z_mm")
    own = {"family": "emergency_disconnect", **dict(zip(keys, place, strict=True))}
    seat = {f"driver_{key}": at for key, at in zip(keys, driver, strict=True)}
    car.fields["places"] = {**car.fields["places"], **seat, "parts": [own]}
    here = context(car)
    part = row("emergency_disconnect", DISCONNECT)
    (check,) = reach_checks(here, part)
    assert check.value == pytest.approx(away)
    assert check.passed == (away <= 700)
    assert reach_open(here, part) == ()
    pulled = row("emergency_disconnect", DISCONNECT, pull_cable=True)
    assert list(reach_checks(here, pulled)) == []


def test_an_unknown_reach_is_told_and_not_passed_in_silence() -> None:
    here = context()
    part = row("emergency_disconnect", DISCONNECT)
    assert list(reach_checks(here, part)) == []
    (told,) = reach_open(here, part)
    assert told.startswith("Not checked: whether the driver reaches")
    assert reach_open(here, row("emergency_disconnect", DISCONNECT, pull_cable=True)) == ()


def test_a_series_motor_bursts_below_its_road_speed_in_a_low_gear() -> None:
    """100 km/h on a wheel of 265 mm through 1.3 x 4.3 are 5,596 rpm; a fifth more are 6,715."""
    car = sound()
    car.fields["targets"] = {
        **car.fields["targets"],
        "top_speed": [
            {"name": "road", "speed_m_s": 100 / 3.6, "condition": "mild", "load_case": "two"}
        ],
    }
    here = context(car)
    motor = row("motor", "motor-series-205mm", burst_speed_rpm=6_700, max_speed_rpm=5_500)
    assert fastest(here, motor, 4.3)[1:] == (3, pytest.approx(1.3 * 4.3))
    margin, in_gear = burst_checks(here, motor, 4.3)
    assert margin.passed
    assert in_gear.value == pytest.approx(1.2 * 5_596, rel=1e-3)
    assert not in_gear.passed
    assert "throws its windings out" in in_gear.caution
    weak = row("motor", "motor-series-205mm", burst_speed_rpm=6_500, max_speed_rpm=5_500)
    assert not next(burst_checks(here, weak, 4.3)).passed


def test_a_drive_unit_turns_by_its_own_gears() -> None:
    here = context()
    motor = row("motor", "drive-unit-front-80kw")
    assert fastest(here, motor, 1.0)[2] == motor.number("unit_ratio")
    blank = {key: value for key, value in motor.figures.items() if key != "burst_speed_rpm"}
    assert list(burst_checks(here, motor.model_copy(update={"figures": blank}), 1.0)) == []
