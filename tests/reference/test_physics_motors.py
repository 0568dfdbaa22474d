"""Series-motor problems of the textbooks, and the envelope of alternating-current machines."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bomplan.physics import Controller, EnvelopeMotor, SeriesMotor, from_nameplate

RPM = 2 * math.pi / 60


def linear_series_motor(brush_v: float) -> SeriesMotor:
    """250 V, 25 hp, 0.15 ohm, 85 A at 600 rpm, flux in proportion to current."""
    back_emf = 250.0 - 85.0 * 0.15 - brush_v
    torque = back_emf * 85.0 / (600 * RPM)
    currents = np.array([20.0, 40.0, 60.0, 85.0, 100.0, 120.0])
    return SeriesMotor(
        currents, torque * (currents / 85.0) ** 2, 0.15, brush_v, 250.0, 200.0, 250.0, 300.0
    )


def test_classic_series_motor_problem() -> None:
    """Textbook problem, 3 V of brush drop: 100 A -> 505.10 rpm, 40 A -> 1311.74 rpm."""
    motor = linear_series_motor(3.0)
    assert float(motor.torque(np.array([85.0]))[0]) == pytest.approx(316.9, rel=2e-4)
    assert motor.speed(250.0, 100.0) / RPM == pytest.approx(505.10, rel=2e-4)
    assert motor.speed(250.0, 40.0) / RPM == pytest.approx(1311.74, rel=2e-4)
    assert float(motor.torque(np.array([100.0]))[0]) == pytest.approx(438.6, rel=2e-4)
    at_85 = float(motor.torque(np.array([85.0]))[0])
    for amps, ratio in ((100.0, 1.3841), (40.0, 0.2215)):
        assert float(motor.torque(np.array([amps]))[0]) / at_85 == pytest.approx(ratio, rel=5e-4)


def test_the_printed_solution_with_two_brushes() -> None:
    """The page's own solution takes 2 x 3 V: 505.75 and 1312.2 rpm."""
    motor = linear_series_motor(6.0)
    assert motor.speed(250.0, 100.0) / RPM == pytest.approx(505.75, rel=2e-3)
    assert motor.speed(250.0, 40.0) / RPM == pytest.approx(1312.2, rel=2e-3)


def test_chapman_series_motor_example() -> None:
    """Chapman, *Electric Machinery Fundamentals*, series-motor example (from memory): 250 V,
    0.08 ohm, 50 A; magnetisation gives 80 V at 1200 rpm: 3690 rpm, 12.30 kW, 31.83 N·m."""
    flux = 80.0 / (1200 * RPM)
    motor = SeriesMotor(
        np.array([25.0, 50.0, 100.0]), np.array([25.0, 50.0, 100.0]) * flux * [0.55, 1.0, 1.6],
        0.08, 0.0, 250.0, 200.0, 250.0, 500.0,
    )  # fmt: skip
    speed = motor.speed(250.0, 50.0)
    torque = float(motor.torque(np.array([50.0]))[0])
    assert speed / RPM == pytest.approx(3690.0, rel=1e-3)
    assert torque == pytest.approx(31.83, rel=1e-3)
    assert torque * speed == pytest.approx(12_300.0, rel=1e-3)


def test_power_balance_of_a_series_motor() -> None:
    """T w = E I, and the terminals take E I + I² R + I V_brush."""
    motor = linear_series_motor(3.0)
    amps, speed = np.array([55.0, 90.0]), np.array([80.0, 62.0])
    volts = motor.voltage(amps, speed)
    mechanical = motor.torque(amps) * speed
    assert volts * amps == pytest.approx(mechanical + amps**2 * 0.15 + amps * 3.0, rel=1e-9)


def test_an_unloaded_series_motor_runs_away() -> None:
    motor = linear_series_motor(3.0)
    assert motor.runaway_speed(250.0, 2.0) > 2 * motor.max_speed_rad_s
    assert motor.runaway_speed(250.0, 1.0) > motor.runaway_speed(250.0, 2.0)


def test_nine_inch_motor_at_72_v() -> None:
    """Typical rows of a 9-inch motor (common practice): 200 A 2900 rpm, 300 A 2390, 500 A
    1940, which T w = E I must return."""
    motor = SeriesMotor(
        np.array([100.0, 200.0, 300.0, 500.0, 1000.0]),
        np.array([15.0, 43.0, 77.0, 150.0, 320.0]), 0.013, 2.0, 160.0, 500.0, 120.0, 576.0,
    )  # fmt: skip
    for amps, rpm in ((200.0, 2900), (300.0, 2390), (500.0, 1940)):
        assert motor.speed(72.0, amps) / RPM == pytest.approx(rpm, rel=0.05)


def test_nameplate_gives_its_own_rated_point_and_is_marked() -> None:
    motor = from_nameplate(72.0, 180.0, 10_500.0, 2500 * RPM)
    assert motor.estimated
    torque = float(motor.torque(np.array([180.0]))[0])
    assert torque * 2500 * RPM == pytest.approx(10_500.0, rel=5e-4)
    # The estimate leaves iron and windage out of the electrical side, hence a little faster.
    assert motor.speed(72.0, 180.0) / (2500 * RPM) == pytest.approx(1.0, abs=0.12)
    with pytest.raises(ValueError, match="nameplate"):
        from_nameplate(48.0, 100.0, 5_000.0, 200.0)


PRODUCTION_CAR = EnvelopeMotor(
    "permanent_magnet", 280.0, 80e3, 80e3 / 280.0, 360.0, 10_390 * RPM
)  # fmt: skip


def test_base_speed_of_a_production_car() -> None:
    """280 N·m and 80 kW: 285.7 rad/s = 2728 rpm."""
    assert PRODUCTION_CAR.base_speed_rad_s / RPM == pytest.approx(2728, rel=1e-3)


def test_envelope_is_continuous_and_never_over_either_limit() -> None:
    speed = np.linspace(0.0, 1000.0, 2001)
    torque = PRODUCTION_CAR.envelope(speed, 360.0)
    assert float(torque.max()) == 280.0
    assert float((torque * speed).max()) <= 80e3 * (1 + 1e-12)
    assert float(np.abs(np.diff(torque)).max()) < 1.0
    corner = PRODUCTION_CAR.envelope(np.array([PRODUCTION_CAR.base_speed_rad_s]), 360.0)
    assert float(corner[0]) == pytest.approx(280.0)


def test_envelope_moves_with_the_voltage() -> None:
    """Below base speed the torque stays; above it goes with the volts."""
    speed = np.array([100.0, 600.0])
    full, sagging = PRODUCTION_CAR.envelope(speed, 360.0), PRODUCTION_CAR.envelope(speed, 300.0)
    assert sagging[0] == full[0]
    assert sagging[1] == pytest.approx(full[1] * 300 / 360)


def test_losses_by_parts_and_efficiency_range() -> None:
    """Induction with its inverter 86 to 92 % at its best (from memory)."""
    motor = EnvelopeMotor(
        "induction", 170.0, 70e3, 398.0, 144.0, 838.0, 0.18, 1.0, 0.002, 100.0, (), 60.0
    )
    controller = Controller("inverter", 72, 170, 400, 500, 30, 200, 180, 60.0, 1.5, 0.002, True)
    best = 0.0
    for torque in np.linspace(5.0, 170.0, 60):
        speed = np.linspace(50.0, 398.0, 60)
        at = np.full_like(speed, torque)
        loss = motor.loss_w(at, speed) + controller.loss_w(
            at * motor.current_per_torque(speed, controller)
        )
        best = max(best, float((torque * speed / (torque * speed + loss)).max()))
    assert 0.86 <= best <= 0.94


def test_overspeed_voltage() -> None:
    """90 V per 1000 rpm at 8000 rpm: 720 V for the controller to stand."""
    motor = EnvelopeMotor(
        "permanent_magnet", 100.0, 50e3, 500.0, 144.0, 900.0, emf_v_per_rad_s=0.09 / RPM
    )
    assert motor.overspeed_emf_v(8000 * RPM) == pytest.approx(720.0)
