"""The small parts of the driving physics, each against what it says of itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from physics_cases import (
    CHOPPER,
    FLOODED_LEAD,
    FOUR_GEARS,
    INDUCTION,
    INVERTER,
    LEAD_PACK,
    LITHIUM_PACK,
    NINE_INCH,
    compact_lead,
    compact_lithium,
)

from bomplan.physics import (
    CellCurve,
    Driveline,
    Pack,
    choose_gears,
    fixed_gear,
    least_loss_gears,
    load_profile,
    pack_temperature,
    rolling_rms,
    sharing_derate,
)
from bomplan.physics.arrays import log_interpolated
from bomplan.physics.demand import drive_lap
from bomplan.physics.powertrain import draw, reference_table, torque_limit
from bomplan.physics.profile import from_speeds
from bomplan.physics.thermal import rolling_rms_of_laps


def test_ratings_between_their_points() -> None:
    ratings = ((30.0, 70e3), (3600.0, 30e3), (math.inf, 25e3))
    assert log_interpolated(5.0, ratings) == 70e3
    assert log_interpolated(3600.0, ratings) == 30e3
    assert log_interpolated(7200.0, ratings) == 25e3
    middle = log_interpolated(math.sqrt(30.0 * 3600.0), ratings)
    assert middle == pytest.approx(math.sqrt(70e3 * 30e3))
    assert log_interpolated(10.0, ()) == math.inf


def test_driveline_force_and_torque_are_inverse() -> None:
    force = np.array([-900.0, -50.0, 0.0, 300.0, 2500.0])
    for ratio in FOUR_GEARS.ratios:
        torque = FOUR_GEARS.shaft_torque(force, ratio, 0.7)
        assert FOUR_GEARS.wheel_force(torque, ratio, 0.7) == pytest.approx(force, abs=1e-9)


def test_drag_torque_costs_even_without_load() -> None:
    assert float(FOUR_GEARS.shaft_torque(np.array([0.0]), 5.0, 0.0)[0]) == 1.5


def test_gearbox_limits_input_and_wheel_torque() -> None:
    limits = FOUR_GEARS.greatest_shaft_torque(np.array(FOUR_GEARS.ratios))
    assert float(limits.max()) == 200.0
    weak = replace(FOUR_GEARS, wheel_torque_limit_nm=1000.0)
    first = float(weak.greatest_shaft_torque(13.8))
    through = (first - weak.drag_torque_nm) * 13.8 * weak.efficiency
    assert through == pytest.approx(1000.0)


def test_grip_with_transfer() -> None:
    """Front drive unloads its own axle: 0.4 share, 0.4 grip give under 0.147 g; rear gains."""
    front = replace(FOUR_GEARS, grip=0.4, driven_share=0.4)
    rear = replace(front, driven="rear")
    per_g = [float(line.grip_force(1000.0)) / 9806.65 for line in (front, rear)]
    assert per_g[0] == pytest.approx(0.16 / (1 + 0.4 * 0.55 / 2.4))
    # Common practice's figure: a 40 % front axle on a wet road has 0.147 g, not the 0.162
    # that a 15 % hill and rolling ask.
    assert per_g[0] == pytest.approx(0.147, abs=1e-3)
    assert per_g[1] > 0.16 > per_g[0]


def test_motorcycle_is_held_by_its_front_wheel() -> None:
    """a = g b/h, b the distance of the centre of gravity ahead of the rear axle."""
    cycle = Driveline(
        (6.0,), 0.3, 0.95, driven="rear", grip=1.5, wheelbase_m=1.4, centre_height_m=0.65,
        driven_share=0.5, wheelie=True,
    )  # fmt: skip
    assert float(cycle.grip_force(250.0)) == pytest.approx(250 * 9.80665 * 0.7 / 0.65)


def test_bad_drivelines_are_refused() -> None:
    with pytest.raises(ValueError, match="fall"):
        replace(FOUR_GEARS, ratios=(5.0, 7.0, 3.0, 2.0))
    with pytest.raises(ValueError, match="efficiency"):
        replace(FOUR_GEARS, efficiency=1.2)
    with pytest.raises(ValueError, match="shift speeds"):
        replace(FOUR_GEARS, shift_speeds_m_s=(6.0, 3.0))


def test_bad_packs_and_curves_are_refused() -> None:
    with pytest.raises(ValueError, match="window"):
        replace(LITHIUM_PACK, soc_min=0.9, soc_max=0.4)
    with pytest.raises(ValueError, match="Peukert"):
        replace(LEAD_PACK, peukert=0.9)
    with pytest.raises(ValueError, match="rise"):
        CellCurve(np.array([0.0, 0.5, 0.4]), np.ones(3), np.ones(3))


def test_series_motor_pulls_more_than_in_proportion() -> None:
    """Torque goes with a power of the current between 1 and 2 (saturating iron)."""
    amps = np.array([50.0, 100.0, 200.0, 400.0, 800.0])
    slope = np.diff(np.log(NINE_INCH.torque(amps))) / np.diff(np.log(amps))
    assert np.all((slope > 1.0) & (slope <= 2.0))
    assert NINE_INCH.torque(np.array([200.0, 500.0])) == pytest.approx([43.0, 150.0], rel=1e-4)
    assert NINE_INCH.current(NINE_INCH.torque(amps)) == pytest.approx(amps, rel=1e-9)


def test_series_motor_short_ratings_and_stall() -> None:
    assert NINE_INCH.current_limit_a(75.0) == pytest.approx(660.0)  # I² t from 330 A, 300 s
    assert NINE_INCH.current_limit_a(1.0) == 1000.0  # the end of its table
    assert NINE_INCH.current_limit_a(3600.0) == 200.0
    assert NINE_INCH.stall_seconds(330.0) == pytest.approx(3.0)
    assert NINE_INCH.stall_seconds(660.0) == pytest.approx(0.75)


def test_a_fan_on_its_own_shaft_dies_at_low_speed() -> None:
    """Nothing at rest, full from 2000 rpm; the five-minute rating does not need it."""
    own = replace(NINE_INCH, self_cooled=True)
    speed = np.array([0.0, 104.5, 209.0, 400.0])
    assert own.fan_share(speed) == pytest.approx([0.0, 0.5, 1.0, 1.0])
    hour = own.held_current_a(speed, 3600.0)
    assert hour == pytest.approx([200 / 3**0.5, 200 * (2 / 3) ** 0.5, 200.0, 200.0])
    assert own.held_current_a(speed, 300.0) == pytest.approx([330.0] * 4)
    assert NINE_INCH.held_current_a(speed, 3600.0) == pytest.approx([200.0] * 4)
    between = own.held_current_a(speed, 900.0)
    assert np.all((between <= 330.0) & (between >= hour))


def test_back_emf_eats_the_torque() -> None:
    system = compact_lead()
    speed = np.array([50.0, 200.0, 400.0, 550.0])
    limit = torque_limit(system, speed, None, 150.0, 0.08, 0.0, 10.0, 0.0)
    assert np.all(np.diff(limit.torque_nm) < 0) or limit.torque_nm[0] == limit.torque_nm[1]
    assert limit.torque_nm[-1] < 0.5 * limit.torque_nm[0]


def test_chopper_multiplies_current_at_low_speed() -> None:
    """Power in = power out: at walking pace 300 motor amps are some tens from the pack."""
    system = compact_lead()
    torque = NINE_INCH.torque(np.array([300.0]))
    taken = draw(system, torque, np.array([30.0]))
    assert float(taken.motor_current_a[0]) == pytest.approx(300.0)
    assert float(taken.power_w[0]) / 140.0 < 60.0


def test_no_series_motor_regenerates() -> None:
    system = replace(compact_lead(), regeneration=True)
    assert not system.regenerates
    lap = drive_lap(system, load_profile("udds"), fixed_gear(load_profile("udds"), 2), 1450.0)
    assert float(lap.traction_w.min()) >= 0.0


def test_regeneration_needs_everyone() -> None:
    system = compact_lithium()
    assert system.regenerates
    assert not replace(system, regeneration=False).regenerates
    assert not replace(system, controller=replace(INVERTER, regeneration=False)).regenerates
    assert not replace(system, pack=replace(LITHIUM_PACK, charge_limit_a=0.0)).regenerates
    motor = replace(INDUCTION, regeneration_torque_nm=0.0)
    assert not replace(system, motor=motor).regenerates


def test_draw_rises_with_torque_braking_included() -> None:
    """From the most useful braking torque up to the envelope, power never falls."""
    system = compact_lithium()
    for turning in (5.0, 60.0, 300.0, 800.0):
        speed = np.full(400, turning)
        low = float(INDUCTION.least_torque(np.array([turning]), INVERTER, True)[0])
        torque = np.linspace(low, 170.0, 400)
        power = draw(system, torque, speed).power_w
        assert np.all(np.diff(power) >= -1e-9)
        assert np.all(np.diff(power, 2) >= -1e-6)


def test_reference_table_ignores_what_a_plan_may_change() -> None:
    one, two = compact_lithium(), compact_lithium()
    table = reference_table(one, 0.01)
    assert np.array_equal(table.torque_nm, reference_table(two, 0.01).torque_nm)
    assert np.all(reference_table(one, 0.05).torque_nm <= table.torque_nm + 1e-6)


def test_gears_follow_the_table_and_hold_on_to_a_gear() -> None:
    system, profile = compact_lithium(), load_profile("udds")
    gears = choose_gears(system, profile, 1700.0)
    changes = int(np.count_nonzero(np.diff(gears)))
    assert set(gears.tolist()) <= {0, 1, 2, 3}
    assert changes < profile.steps / 10
    cruising = profile.mean_speed_m_s > 20.0
    assert set(gears[cruising].tolist()) == {3}


def test_a_lower_gear_is_taken_where_the_table_gear_cannot() -> None:
    system = compact_lithium()
    hill = from_speeds(np.full(61, 20.0), "hill", np.full(60, 20.0 * 0.12))
    light, heavy = (choose_gears(system, hill, mass) for mass in (900.0, 2000.0))
    assert int(heavy.max()) < int(light.max()) or int(heavy.max()) < 3
    turning = FOUR_GEARS.motor_speed(20.0, np.array(FOUR_GEARS.ratios)[heavy])
    assert float(turning.max()) <= INDUCTION.max_speed_rad_s


def test_least_loss_gears_draw_least() -> None:
    system, profile = compact_lithium(), load_profile("wltc-3b-medium")
    best = least_loss_gears(system, profile, 1300.0)
    driver = choose_gears(system, profile, 1300.0)
    for_best, for_driver = (
        float(drive_lap(system, profile, gears, 1300.0).traction_w.sum())
        for gears in (best, driver)
    )
    assert for_best <= for_driver


def test_rolling_rms_by_hand() -> None:
    values = np.array([0.0] * 50 + [100.0] * 10 + [0.0] * 60)
    found = rolling_rms(values, (10, 40, 500))
    assert found[10.0] == pytest.approx(100.0)
    assert found[40.0] == pytest.approx(50.0)
    assert found[500.0] == found[math.inf] == pytest.approx(100.0 * math.sqrt(10 / 120))


def test_rolling_rms_of_laps_equals_the_long_way() -> None:
    lap = np.abs(np.sin(np.arange(137.0))) * 100.0
    for steps in (90, 137, 300, 5000):
        long_way = rolling_rms(np.resize(lap, steps))
        assert rolling_rms_of_laps(lap, steps) == pytest.approx(long_way)


def test_pack_warms_by_its_losses() -> None:
    """1.0 mohm, 100 Ah, 2 kg: 1C is 18 K an hour without cooling (common practice)."""
    assert pack_temperature(10.0, 3600.0, 2.0, ambient_c=20.0) == pytest.approx(38.0)
    settled = pack_temperature(10.0, 1e6, 2.0, cooling_w_per_k=0.5, ambient_c=20.0)
    assert settled == pytest.approx(40.0)


def test_sharing_derate() -> None:
    assert sharing_derate(np.array([0.05, 0.05])) == pytest.approx(1.0)
    assert sharing_derate(np.array([0.05, 0.06])) == pytest.approx(0.9167, rel=1e-3)


def test_open_circuit_energy_of_a_window() -> None:
    flat = CellCurve(np.array([0.0, 1.0]), np.array([2.0, 2.0]), np.ones(2))
    pack = Pack(flat, 10, 50.0, 0.01, 20.0, 1.0, 0.2, 1.0, 1.0, 30.0, 100.0, 100.0)
    assert pack.usable_energy_j() == pytest.approx(20.0 * 50.0 * 0.8 * 3600.0)
    assert pack.soc_at(0.5) == pytest.approx(0.6)


def test_peukert_counts_discharge_above_the_rated_current_alone() -> None:
    drawn = LEAD_PACK.charge_drawn(np.array([-20.0, 5.0, 11.25, 100.0]))
    assert drawn[:3] == pytest.approx([-20.0, 5.0, 11.25])
    assert drawn[3] == pytest.approx(100.0 * (100.0 / 11.25) ** (LEAD_PACK.peukert - 1))


def test_specific_gravity_rule_of_the_lead_curve() -> None:
    """Volts per cell less 0.845 is the density: 1.277 when full on a maker's sheet."""
    assert float(FLOODED_LEAD.open_circuit_v[-1]) - 0.845 == pytest.approx(1.277)


def test_controller_ratings_and_losses() -> None:
    assert CHOPPER.motor_current_a(10.0) == 500.0
    assert CHOPPER.motor_current_a(3600.0) == 225.0
    assert CHOPPER.motor_current_a(1e5) == 200.0
    assert float(CHOPPER.loss_w(np.array([100.0]))[0]) == pytest.approx(40 + 90 + 8)
