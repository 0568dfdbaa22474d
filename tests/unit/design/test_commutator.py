"""One voltage for a controller that knows no more: never above the commutator's line."""

from __future__ import annotations

import numpy as np
import pytest
from sheet_plans import fast, induction, saved

from bomplan.design.circuit_ratings import rating
from bomplan.design.commissioning import commissioning
from bomplan.design.commutator import one_voltage_v
from bomplan.design.series_machine import RPM, series_motor
from bomplan.physics import SeriesMotor


def machine(low: float, high: float, amps: float) -> SeriesMotor:
    return SeriesMotor(
        current_a=np.array([100.0, 300.0]),
        torque_nm=np.array([12.0, 55.0]),
        resistance_ohm=0.02,
        brush_v=2.0,
        max_voltage_v=low,
        high_current_a=amps,
        max_voltage_high_v=high,
        max_speed_rad_s=600.0,
    )


def passes(motor: SeriesMotor, one_v: float, most_a: float, most_w: float) -> bool:
    """Whether any current meets more volts than the commutator bears, tried one by one."""
    amps = np.linspace(0.5, most_a, 4000)
    meets = np.minimum(one_v, most_w / amps)
    return bool(np.any(meets > motor.voltage_limit(amps) + 1e-6))


@pytest.mark.parametrize("most_w", [5e3, 20e3, 28.8e3, 35.9e3, 36.1e3, 60e3])
@pytest.mark.parametrize("most_a", [200.0, 450.0, 500.0, 900.0])
@pytest.mark.parametrize(("low", "high"), [(96.0, 72.0), (120.0, 40.0), (96.0, 96.0)])
def test_the_one_voltage_is_the_highest_that_never_passes_the_line(
    low: float, high: float, most_a: float, most_w: float
) -> None:
    motor = machine(low, high, 500.0)
    found = one_voltage_v(motor, most_a, most_w)
    assert high <= found <= low
    assert not passes(motor, found, most_a, most_w)
    if found < low:
        assert passes(motor, found + 0.5, most_a, most_w)


def test_speeds_that_it_does_not_reach_are_told() -> None:
    plan = fast()
    found = commissioning(plan).commutator
    assert found is not None
    motor = series_motor(commissioning(plan).drive.motor)
    assert (found.low_v, found.high_v) == (motor.max_voltage_v, motor.max_voltage_high_v)
    assert plan.driving is not None
    held = [row for row in plan.driving.steady if row.possible]
    for one in found.beyond:
        row = next(
            row for row in held if (row.speed_kmh, row.gear, row.grade)
            == (one.speed_kmh, one.gear, one.grade)
        )  # fmt: skip
        volts = motor.voltage(np.array([row.motor_a]), np.array([row.motor_rpm * RPM]))
        assert one.motor_v == pytest.approx(float(volts[0]))
        assert one.motor_v > found.one_v
    assert found.beyond
    slow = commissioning(saved()).commutator
    assert slow is not None
    assert slow.beyond == ()
    assert commissioning(induction()).commutator is None


def test_the_circuit_says_both_voltages() -> None:
    motor = commissioning(saved()).drive.motor
    low, high = motor.number("max_motor_v"), motor.number("max_motor_v_high_current")
    assert f"≤ {low:g} V; {high:g} at {motor.number('high_current_a'):g} A" in rating(motor)
