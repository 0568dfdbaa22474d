"""Parts of the drive with round figures, each answer worked out on paper beside it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from physics_cases import CHOPPER, FOUR_GEARS, INDUCTION, IRON_PHOSPHATE, NINE_INCH

from bomplan.physics import (
    CellCurve,
    CoastDown,
    Controller,
    Driveline,
    EnvelopeMotor,
    Pack,
    PackData,
    RoadLoad,
    TemperatureTable,
    air_density,
    condition_pack,
    current_for_power,
    from_nameplate,
    greatest_power_w,
    mpge,
    pack_temperature,
    peukert_exponent,
    peukert_hours,
    rolling_from_pressure,
    rolling_terms,
    sharing_derate,
    stall_seconds,
    string_currents,
    wall_wh_per_km,
)
from bomplan.physics.acceleration import times_and_distances
from bomplan.physics.arrays import frozen, log_interpolated
from bomplan.physics.thermal import RollingRms, rolling_rms_of_laps


def near(value: Any) -> Any:
    return pytest.approx(value, rel=1e-12, abs=1e-12)


def refuses(words: str, ask: Callable[[], object]) -> None:
    with pytest.raises(ValueError) as caught:  # noqa: PT011 (the whole text follows)
        ask()
    assert str(caught.value) == words


# -- ratings ---------------------------------------------------------------------------------


def test_between_rated_points_a_power_law() -> None:
    ratings = ((10.0, 800.0), (1000.0, 200.0), (math.inf, 150.0))
    assert log_interpolated(1.0, ratings) == 800.0
    assert log_interpolated(10.0, ratings) == 800.0
    assert log_interpolated(100.0, ratings) == near(400.0)  # half way on log-log paper
    assert log_interpolated(1000.0, ratings) == 200.0
    assert log_interpolated(1000.1, ratings) == 150.0
    assert log_interpolated(5.0, ()) == math.inf
    two = ((10.0, 800.0), (1000.0, 200.0))
    assert log_interpolated(5000.0, two) == 200.0
    assert log_interpolated(100.0, ((10.0, 800.0), (1000.0, 0.0))) == 0.0
    assert log_interpolated(100.0, ((10.0, 0.0), (1000.0, 5.0))) == 5.0


def test_frozen_arrays_are_copies_that_nobody_writes_to() -> None:
    mine = np.array([1, 2])
    kept = frozen(mine)
    mine[0] = 9
    assert kept.tolist() == [1.0, 2.0]
    assert kept.dtype == np.float64
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 3.0


# -- road ------------------------------------------------------------------------------------


def test_air_by_hand() -> None:
    assert air_density(0.0) == near(101_325 / (287.05 * 273.15))
    thinner = (1 - 2.25577e-5 * 1000) ** 5.25588
    assert air_density(20.0, 1000.0) == near(101_325 * thinner / (287.05 * 293.15))


def test_rolling_rule_by_hand() -> None:
    assert rolling_terms(2.0) == (near(0.01), near(0.0095 * 0.0036**2 * 100 / 2))
    assert rolling_from_pressure(2.0, 100 / 3.6) == near(0.005 + 0.5 * (0.01 + 0.0095))
    assert rolling_from_pressure(2.5, 0.0) == near(0.009)


def test_road_load_by_hand() -> None:
    road = RoadLoad(0.01, 1e-5, 0.6, 1.2, headwind_m_s=-5.0, gravity=10.0)
    speed = np.array([0.0, 10.0])
    assert road.rolling_per_kg(speed).tolist() == near([0.1, 10 * (0.01 + 1e-3)])
    # 0.36 v|v| at -5 m/s and 5 m/s of air.
    assert road.massless_force(speed).tolist() == near([-9.0, 9.0])
    # 3-4-5: grade 0.75, cosine 0.8, sine 0.6.
    assert road.force(speed, 100.0, 0.75).tolist() == near([100 * 0.1 * 0.8 - 9 + 600, 8.8 + 609])
    assert road.force(speed, 100.0).tolist() == near([1.0, 20.0])


def test_coast_down_by_hand() -> None:
    road = CoastDown(120.0, 2.0, 0.5, 1200.0, relative_density=1.1, headwind_m_s=2.0, gravity=10.0)
    speed = np.array([0.0, 10.0])
    assert road.rolling_per_kg(speed).tolist() == near([0.1, 0.1])
    assert road.massless_force(speed).tolist() == near([0.55 * 4, 20 + 0.55 * 144])
    assert road.force(speed, 1000.0, 0.75).tolist() == near(
        [80 + 2.2 + 6000, 80 + 20 + 79.2 + 6000]
    )
    against = replace(road, headwind_m_s=-12.0)
    assert against.massless_force(speed).tolist() == near([-0.55 * 144, 20 - 0.55 * 4])


# -- driveline -------------------------------------------------------------------------------

LINE = Driveline(
    (8.0, 4.0), 0.4, 0.8, drag_torque_nm=2.0, shift_speeds_m_s=(10.0,), rotor_inertia_kgm2=0.5,
    grip=0.5, wheelbase_m=2.5, centre_height_m=0.5, driven_share=0.6, regeneration_grip=0.25,
)  # fmt: skip


def test_speeds_torques_and_forces_by_hand() -> None:
    assert LINE.gears == 2
    assert LINE.motor_speed(np.array([10.0]), 8.0).tolist() == near([200.0])
    # Arm 0.05 m. 800 N / 0.8 x 0.05 + 2 + 0.5 x 1 / 0.05 = 50 + 2 + 10.
    assert LINE.shaft_torque(np.array([800.0]), 8.0, 1.0).tolist() == near([62.0])
    assert LINE.shaft_torque(np.array([-800.0]), 8.0, 0.0).tolist() == near([-30.0])
    assert LINE.wheel_force(np.array([62.0, -30.0]), 8.0, np.array([1.0, 0.0])).tolist() == near(
        [800.0, -800.0]
    )
    assert LINE.wheel_force(np.array([2.0]), 8.0, 0.0).tolist() == [0.0]


def test_what_gearbox_and_shafts_stand_by_hand() -> None:
    assert LINE.greatest_shaft_torque(8.0) == math.inf
    held = replace(LINE, input_torque_limit_nm=100.0, wheel_torque_limit_nm=512.0)
    # 512 / (8 x 0.8) + 2 = 82, in the other gear 162.
    assert held.greatest_shaft_torque(np.array([8.0, 4.0])).tolist() == near([82.0, 100.0])


def test_grip_by_hand() -> None:
    # Weight 10,000 N; front drive: 10,000 x 0.5 x 0.6 / (1 + 0.5 x 0.2).
    assert float(LINE.grip_force(1000.0, 1.0, 10.0)) == near(3000 / 1.1)
    assert float(LINE.grip_force(1000.0, 0.8, 10.0)) == near(2400 / 1.1)
    rear = replace(LINE, driven="rear")
    assert float(rear.grip_force(1000.0, 1.0, 10.0)) == near(3000 / 0.9)
    # On one wheel behind: the front leaves the ground at 10,000 x 0.4 / 0.2 = 20,000 N.
    short = replace(rear, wheelie=True, wheelbase_m=1.25, centre_height_m=1.0)
    assert float(short.grip_force(1000.0, 1.0, 10.0)) == near(10_000 * 0.4 / 0.8)
    tall = replace(rear, wheelbase_m=1.0, centre_height_m=2.0)
    assert float(tall.grip_force(1000.0, 1.0, 10.0)) == math.inf
    assert float(LINE.grip_force(1000.0)) == near(3000 / 1.1 * 0.980665)


def test_braking_through_the_driven_axle_by_hand() -> None:
    # 10,000 x 0.25 x 0.6 / (1 - 0.25 x 0.2) in front, 1 + ... behind.
    assert float(LINE.braking_force(1000.0, 1.0, 10.0)) == near(1500 / 0.95)
    assert float(replace(LINE, driven="rear").braking_force(1000.0, 0.8, 10.0)) == near(1200 / 1.05)
    assert float(LINE.braking_force(1000.0)) == near(1500 / 0.95 * 0.980665)


def test_drivelines_that_are_none_in_words() -> None:
    above = "a driveline needs ratios above zero"
    refuses(above, lambda: replace(LINE, ratios=(), shift_speeds_m_s=()))
    refuses(above, lambda: replace(LINE, ratios=(4.0, 0.0)))
    falls = "gear ratios must fall from the lowest gear to the highest"
    refuses(falls, lambda: replace(LINE, ratios=(4.0, 4.0)))
    share = "driveline efficiency must lie in (0, 1]"
    refuses(share, lambda: replace(LINE, efficiency=0.0))
    refuses(share, lambda: replace(LINE, efficiency=1.0001))
    assert replace(LINE, efficiency=1.0).efficiency == 1.0
    shifts = "shift speeds must rise and be fewer than the gears"
    refuses(shifts, lambda: replace(LINE, shift_speeds_m_s=(5.0, 9.0)))
    three = replace(LINE, ratios=(8.0, 4.0, 2.0))
    refuses(shifts, lambda: replace(three, shift_speeds_m_s=(9.0, 5.0)))
    assert replace(three, shift_speeds_m_s=(5.0, 9.0)).gears == 3


# -- motors and controllers --------------------------------------------------------------------

MACHINE = EnvelopeMotor(
    "induction", 100.0, 50e3, 400.0, 200.0, 900.0, copper_w_per_nm2=0.2, iron_w_per_rad_s=0.5,
    iron_w_per_rad_s2=0.01, fixed_w=30.0, ratings=((10.0, 40e3), (1000.0, 10e3)),
    regeneration_torque_nm=60.0, emf_v_per_rad_s=0.3,
)  # fmt: skip
BRIDGE = Controller("inverter", 50.0, 250.0, 300.0, 400.0, 10.0, 200.0, 100.0, 20.0, 1.5, 0.002)


def test_an_envelope_by_hand() -> None:
    speed = np.array([0.0, 100.0, 400.0, 800.0])
    # 100 Nm x 400 rad/s = 40 kW is less than the 50 kW said.
    assert MACHINE.envelope(speed, 200.0).tolist() == near([100.0, 100.0, 100.0, 50.0])
    assert MACHINE.envelope(speed, 100.0).tolist() == near([100.0, 100.0, 50.0, 25.0])
    weaker = replace(MACHINE, peak_power_w=20e3)
    assert weaker.envelope(speed, 200.0).tolist() == near([100.0, 100.0, 50.0, 25.0])


def test_what_a_machine_holds_by_hand() -> None:
    speed = np.array([0.0, 100.0, 800.0])
    # 20 kW between the rated points: 0.4 of the peak power.
    assert MACHINE.held(speed, 100.0).tolist() == near([40.0, 40.0, 25.0])
    assert MACHINE.held(speed, 10.0).tolist() == near([80.0, 80.0, 50.0])
    unrated = replace(MACHINE, ratings=())
    assert unrated.held(speed, 100.0).tolist() == near([100.0, 100.0, 100.0])


def test_losses_of_a_machine_by_hand() -> None:
    speed = np.array([0.0, 100.0])
    assert MACHINE.idle_loss_w(speed).tolist() == near([0.0, 50 + 100 + 30])
    assert MACHINE.loss_w(np.array([10.0, -10.0]), speed).tolist() == near([20.0, 200.0])
    assert MACHINE.current_per_torque(np.array([100.0, 800.0]), BRIDGE).tolist() == near([4.0, 8.0])
    assert MACHINE.overspeed_emf_v(500.0) == near(150.0)


def test_braking_worth_asking_for_by_hand() -> None:
    speed = np.array([0.0, 100.0, 800.0])
    # 4 A/Nm to base speed, 8 at 800: (w - 1.5 i) / (2 (0.2 + 0.002 i^2)).
    best = [0.0, (100 - 6) / (2 * 0.232), (800 - 12) / (2 * 0.328)]
    # Iron and the like over speed: 180 / 100 and (400 + 6400 + 30) / 800.
    idle = [0.0, 1.8, 8.5375]
    assert (-MACHINE.least_torque(speed, BRIDGE, regenerate=False)).tolist() == near(idle)
    assert (-MACHINE.least_torque(speed, BRIDGE, regenerate=True)).tolist() == near(
        [0.0, 60.0, 50.0]
    )
    strong = replace(MACHINE, regeneration_torque_nm=1e4, peak_torque_nm=1e4, peak_power_w=4e6)
    amps = 400 / 1e4
    square = 0.2 + 0.002 * amps**2
    assert float(-strong.least_torque(speed[1:2], BRIDGE, regenerate=True)[0]) == near(
        (100 - 1.5 * amps) / (2 * square)
    )
    assert best[1] > 60
    lossless = replace(MACHINE, copper_w_per_nm2=0.0)
    bare = replace(BRIDGE, loss_ohm=0.0)
    assert (-lossless.least_torque(speed, bare, regenerate=True)).tolist() == near(
        [0.0, 60.0, 50.0]
    )
    # Where the bridge takes more than turning gives, nothing is asked for.
    greedy = replace(BRIDGE, loss_v=1e3)
    assert np.abs(lossless.least_torque(speed, greedy, regenerate=True)).tolist() == [0.0, 0.0, 0.0]
    greedy = replace(greedy, loss_ohm=0.0)
    assert np.abs(lossless.least_torque(speed, greedy, regenerate=True)).tolist() == [0.0, 0.0, 0.0]


def test_a_controller_by_hand() -> None:
    assert BRIDGE.loss_w(np.array([0.0, 100.0, -100.0])).tolist() == near([20.0, 190.0, 190.0])
    assert [BRIDGE.motor_current_a(hold) for hold in (1.0, 10.0, 3600.0, 3600.1)] == [
        400.0, 400.0, 200.0, 100.0,
    ]  # fmt: skip
    # 190 s is half way from 10 s to 3600 s on log paper: sqrt(400 x 200).
    assert BRIDGE.motor_current_a(math.sqrt(36_000)) == near(math.sqrt(80_000))
    slow = replace(BRIDGE, peak_s=5000.0)
    assert slow.motor_current_a(3599.0) == 400.0
    assert slow.motor_current_a(3600.0) == 200.0


SERIES = replace(
    NINE_INCH, current_a=np.array([100.0, 200.0]), torque_nm=np.array([10.0, 30.0]),
    resistance_ohm=0.02, brush_v=2.0, max_voltage_v=160.0, high_current_a=400.0,
    max_voltage_high_v=120.0, ratings=((100.0, 150.0), (10_000.0, 50.0)),
)  # fmt: skip


def test_a_magnetisation_table_by_hand() -> None:
    amps = np.array([0.0, 50.0, 100.0, 150.0, 200.0, 300.0])
    power = math.log(3.0) / math.log(2.0)  # 1.585, between 1 and 2
    wanted = [0.0, 10 * 0.5**power, 10.0, 10 * 1.5**power, 30.0, 30 + 0.2 * 100]
    assert SERIES.torque(amps).tolist() == pytest.approx(wanted, rel=1e-4)
    assert SERIES.torque(np.array([100.0, 200.0])).tolist() == near([10.0, 30.0])
    # The table ends at twice its last current.
    assert SERIES.torque(np.array([400.0, 900.0])).tolist() == near([70.0, 70.0])
    assert SERIES.current(np.array([-5.0, 0.0, 10.0, 30.0])).tolist() == near([0, 0, 100, 200])
    steep = replace(SERIES, torque_nm=np.array([10.0, 80.0]))  # the cube: taken as the square
    assert float(steep.torque(np.array([50.0]))[0]) == pytest.approx(2.5, rel=1e-3)
    flat = replace(SERIES, torque_nm=np.array([10.0, 12.0]))  # flatter than in proportion
    assert float(flat.torque(np.array([50.0]))[0]) == pytest.approx(5.0, rel=1e-3)


def test_a_series_motor_by_hand() -> None:
    amps = np.array([100.0, 200.0])
    assert SERIES.flux_v_s(amps).tolist() == near([0.1, 0.15])
    assert SERIES.voltage(amps, np.array([300.0, 300.0])).tolist() == near([34.0, 51.0])
    assert SERIES.voltage_limit(np.array([0.0, 200.0, 400.0, 900.0])).tolist() == near(
        [160.0, 140.0, 120.0, 120.0]
    )
    assert SERIES.speed(34.0, 100.0) == near(300.0)
    assert SERIES.speed(3.9, 100.0) == 0.0
    assert SERIES.runaway_speed(34.0, 10.0) == near(300.0)
    current, motor, controller = SERIES.loss_parts(np.array([10.0]), CHOPPER)
    assert current.tolist() == near([100.0])
    assert motor.tolist() == near([100 * (2.0 + 2.0)])
    assert controller.tolist() == near([40 + 90 + 8])


def test_how_long_a_series_motor_holds_by_hand() -> None:
    # I^2 t below the first rating, up to the last current of the table.
    assert SERIES.current_limit_a(90.0) == near(150 * math.sqrt(100 / 90))
    assert SERIES.current_limit_a(25.0) == near(200.0)
    assert SERIES.current_limit_a(0.1) == near(200.0)
    assert SERIES.current_limit_a(100.0) == near(150.0)
    assert SERIES.current_limit_a(1000.0) == near(math.sqrt(150 * 50))
    assert replace(SERIES, ratings=()).current_limit_a(5.0) == 200.0
    over = replace(SERIES, ratings=((100.0, 250.0),))
    assert over.current_limit_a(50.0) == 250.0
    sharp = replace(SERIES, ratings=((0.5, 10.0),))
    assert sharp.current_limit_a(0.1) == near(10.0)


def test_standing_still_under_a_current_by_hand() -> None:
    assert stall_seconds(150.0, 300.0) == near(0.75)
    assert stall_seconds(150.0, 75.0) == 3.0
    assert stall_seconds(150.0, 150.0) == 3.0
    assert stall_seconds(150.0, 0.0) == math.inf
    assert stall_seconds(150.0, 0.5) == 3.0
    assert SERIES.stall_seconds(300.0) == near(0.75)
    assert replace(SERIES, ratings=()).stall_seconds(400.0) == near(0.75)


def test_a_fan_on_its_own_shaft_by_hand() -> None:
    own = replace(SERIES, self_cooled=True)
    speed = np.array([0.0, 104.5, 209.0, 500.0])
    assert own.fan_share(speed).tolist() == near([0.0, 0.5, 1.0, 1.0])
    assert SERIES.fan_share(speed).tolist() == [1.0, 1.0, 1.0, 1.0]
    assert own.held_current_a(speed, 100.0).tolist() == near([150.0] * 4)
    # Half way to the second rating: heat shares 1/3, 2/3 and 1, to the quarter power.
    held = math.sqrt(150 * 50)
    assert own.held_current_a(speed, 1000.0).tolist() == near(
        [held * (1 / 3) ** 0.25, held * (2 / 3) ** 0.25, held, held]
    )
    assert own.held_current_a(speed, 1e6).tolist() == near(
        [50 * math.sqrt(1 / 3), 50 * math.sqrt(2 / 3), 50.0, 50.0]
    )
    assert SERIES.held_current_a(speed, 1000.0).tolist() == near([held] * 4)
    one = replace(own, ratings=((100.0, 150.0),))
    assert one.held_current_a(speed, 1000.0).tolist() == near([150.0] * 4)


def test_a_nameplate_by_hand() -> None:
    # 96 V, 100 A, 8.4 kW: 1.2 kW lost, 0.072 ohm; 28 Nm at 300 rad/s.
    motor = from_nameplate(96.0, 100.0, 8_400.0, 300.0)
    assert motor.resistance_ohm == near(0.072)
    assert motor.estimated
    assert motor.current_a.tolist() == near([25, 50, 75, 100, 150, 200, 300, 400])
    # I^2 / (100 + I) over its value at 100 A, 50.
    assert float(motor.torque_nm[3]) == near(28.0)
    assert float(motor.torque_nm[5]) == near(28 * (40_000 / 300) / 50)
    assert (motor.brush_v, motor.max_voltage_v, motor.high_current_a) == near((2.0, 144.0, 300.0))
    assert (motor.max_voltage_high_v, motor.max_speed_rad_s) == near((115.2, 600.0))
    assert motor.ratings == ((300.0, 180.0), (3600.0, near(110.0)), (math.inf, 100.0))
    soft = from_nameplate(96.0, 100.0, 8_400.0, 300.0, saturation_current_a=300.0)
    assert float(soft.torque_nm[3]) == near(28.0)
    assert float(soft.torque_nm[5]) == near(28 * (40_000 / 500) / 25)
    words = "a nameplate cannot promise more power than volts times amps"
    refuses(words, lambda: from_nameplate(96.0, 100.0, 9_600.0, 300.0))


def test_magnetisation_tables_that_are_none_in_words() -> None:
    two = "a magnetisation table needs two points or more, above zero"
    refuses(two, lambda: replace(SERIES, current_a=np.array([1.0]), torque_nm=np.array([1.0])))
    refuses(two, lambda: replace(SERIES, current_a=np.array([0.0, 9.0])))
    refuses(two, lambda: replace(SERIES, torque_nm=np.array([0.0, 9.0])))
    rise = "current and torque must rise along the magnetisation table"
    refuses(rise, lambda: replace(SERIES, current_a=np.array([9.0, 9.0])))
    refuses(rise, lambda: replace(SERIES, torque_nm=np.array([9.0, 9.0])))


# -- pack ------------------------------------------------------------------------------------

CURVE = CellCurve(np.array([0.0, 0.5, 1.0]), np.array([3.0, 3.2, 3.6]), np.array([2.0, 1.0, 1.5]))
PACK = Pack(CURVE, 10, 100.0, 0.1, 5.0, 1.2, 0.1, 0.9, 25.0, 36.0, 80.0, 160.0, charge_limit_a=50.0)


def test_a_pack_by_hand() -> None:
    soc = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    assert PACK.open_circuit(soc).tolist() == near([30.0, 31.0, 32.0, 34.0, 36.0])
    assert PACK.resistance(soc).tolist() == near([0.2, 0.15, 0.1, 0.125, 0.15])
    assert PACK.rated_current_a() == near(20.0)
    drawn = PACK.charge_drawn(np.array([-40.0, 10.0, 20.0, 40.0]))
    assert drawn.tolist() == near([-40.0, 10.0, 20.0, 40 * 2**0.2])
    assert replace(PACK, peukert=1.0).charge_drawn(np.array([40.0])).tolist() == [40.0]
    assert [PACK.discharge_limit_a(hold) for hold in (1.0, 10.0, 60.0, 1e5)] == [160, 160, 80, 80]
    assert PACK.discharge_limit_a(math.sqrt(600)) == near(80 * math.sqrt(2))
    odd = replace(PACK, discharge_10s_a=40.0)
    assert odd.discharge_limit_a(10.0) == 80.0


def test_energy_of_a_window_by_hand() -> None:
    # 0.1 to 0.5: mean 31.2 V, 40 Ah; 0.5 to 0.9: mean 33.6 V, 40 Ah.
    low, high = 31.2 * 40 * 3600, 33.6 * 40 * 3600
    assert PACK.usable_energy_j() == near(low + high)
    assert PACK.soc_at(0.0) == near(0.1)
    assert PACK.soc_at(1.0) == near(0.9)
    assert PACK.soc_at(low / (low + high)) == near(0.5)


def test_packs_that_are_none_in_words() -> None:
    window = "the usable window must lie in 0 to 1 and not be empty"
    for low, high in ((-0.01, 0.9), (0.5, 0.5), (0.1, 1.01)):
        refuses(window, lambda low=low, high=high: replace(PACK, soc_min=low, soc_max=high))
    assert replace(PACK, soc_min=0.0, soc_max=1.0).soc_max == 1.0
    figures = "a pack needs capacity, resistance and a Peukert exponent of 1 or more"
    for change in ({"capacity_ah": 0.0}, {"resistance_ohm": 0.0}, {"peukert": 0.999}):
        refuses(figures, lambda change=change: replace(PACK, **change))
    assert replace(PACK, capacity_ah=0.5, resistance_ohm=1e-9, peukert=1.0).peukert == 1.0
    rise = "a cell curve must rise with the state of charge"
    refuses(rise, lambda: replace(CURVE, soc=np.array([0.0, 0.5, 0.5])))
    refuses(rise, lambda: replace(CURVE, open_circuit_v=np.array([3.0, 3.2, 3.1])))
    assert replace(CURVE, open_circuit_v=np.array([3.0, 3.2, 3.2])) is not None
    two = "a cell curve needs two points or more and positive resistance"
    refuses(two, lambda: replace(CURVE, resistance_factor=np.array([2.0, 0.0, 1.0])))
    refuses(two, lambda: CellCurve(np.array([0.5]), np.array([3.0]), np.array([1.0])))


def test_current_for_a_power_by_hand() -> None:
    # 100 V, 0.5 ohm: 20 A leave 90 V, 1,800 W; 5,000 W is the most there is.
    volts, ohm = np.full(4, 100.0), np.full(4, 0.5)
    amps = current_for_power(np.array([1800.0, 5000.0, 5000.1, -2200.0]), volts, ohm)
    assert amps[[0, 1, 3]].tolist() == near([20.0, 100.0, -20.0])
    assert math.isnan(amps[2])
    assert greatest_power_w(100.0, 0.5) == near(5000.0)


def test_peukert_by_hand() -> None:
    # 100 Ah in 20 h (5 A), 50 Ah in 1 h (50 A): ln 20 / ln 10.
    assert peukert_exponent(100.0, 20.0, 50.0, 1.0) == near(math.log(20) / math.log(10))
    assert peukert_exponent(100.0, 20.0, 200.0, 2.0) == 1.0
    words = "the shorter discharge must be the one at more current"
    refuses(words, lambda: peukert_exponent(100.0, 20.0, 5.0, 1.0))
    refuses(words, lambda: peukert_exponent(100.0, 1.0, 200.0, 1.0))
    assert peukert_hours(100.0, 20.0, 1.25, 80.0) == near(20 * (1 / 16) ** 1.25)
    assert peukert_hours(100.0, 20.0, 1.25, 5.0) == near(20.0)
    assert peukert_hours(100.0, 20.0, 1.25, 2.5) == near(40.0)


def test_cold_and_age_by_hand() -> None:
    table = TemperatureTable(np.array([-20.0, 25.0]), np.array([0.55, 1.0]), np.array([2.8, 1.0]))
    assert table.at(-20.0) == near((0.55, 2.8))
    assert table.at(2.5) == near((0.775, 1.9))
    assert table.at(40.0) == near((1.0, 1.0))
    data = PackData(
        IRON_PHOSPHATE, 40, 100.0, 0.05, 3.0, 1.05, 0.1, 0.95, 2.5, 3.65, 90.0, 250.0, 70.0,
        0.0, 45.0, state_of_health=0.9,
    )  # fmt: skip
    new = condition_pack(data, table, 25.0, False, 80.0, 200.0)
    assert (new.capacity_ah, new.resistance_ohm) == near((90.0, 0.05))
    assert (new.min_voltage_v, new.max_voltage_v) == near((100.0, 146.0))
    assert (new.cells_series, new.rated_hours, new.peukert) == (40, 3.0, 1.05)
    assert (new.soc_min, new.soc_max) == (0.1, 0.95)
    assert (new.discharge_continuous_a, new.discharge_10s_a) == (90.0, 250.0)
    assert new.charge_limit_a == 70.0
    assert new.curve is IRON_PHOSPHATE
    old = condition_pack(data, table, 2.5, True, 110.0, 120.0, capacity_spread=0.1)
    assert old.capacity_ah == near(100 * 0.775 * 0.9 * 0.8 * 0.9)
    assert old.resistance_ohm == near(0.05 * 1.9 * 1.5)
    assert (old.min_voltage_v, old.max_voltage_v) == near((110.0, 120.0))

    def charges(celsius: float) -> float:
        return condition_pack(data, table, celsius, False, 80.0, 200.0).charge_limit_a

    assert [charges(one) for one in (-0.1, 0.0, 45.0, 45.1)] == [0.0, 70.0, 70.0, 0.0]


def test_strings_by_hand() -> None:
    assert string_currents(np.array([50.0, 48.0]), np.array([0.1, 0.3]), 0.0).tolist() == near(
        [5.0, -5.0]
    )
    assert string_currents(np.array([50.0, 50.0]), np.array([0.1, 0.3]), 40.0).tolist() == near(
        [30.0, 10.0]
    )
    assert sharing_derate(np.array([0.1, 0.3])) == near(1 / 1.5)
    words = "each string needs a voltage and a resistance above zero"
    refuses(words, lambda: string_currents(np.array([50.0]), np.array([0.1, 0.1]), 0.0))
    refuses(words, lambda: string_currents(np.array([]), np.array([]), 0.0))
    refuses(words, lambda: string_currents(np.array([50.0]), np.array([0.0]), 0.0))


# -- heat ------------------------------------------------------------------------------------


def test_rolling_means_by_hand() -> None:
    rms = RollingRms((2, 3, 10))
    rms.add(np.array([1.0, 3.0]))
    rms.add(np.array([4.0]))
    rms.add(np.array([0.0, 0.0]))
    found = rms.greatest()
    assert found[2.0] == near(math.sqrt((9 + 16) / 2))
    assert found[3.0] == near(math.sqrt((1 + 9 + 16) / 3))
    # Longer than the series: the mean of all of it.
    assert found[10.0] == found[math.inf] == near(math.sqrt(26 / 5))
    assert RollingRms((2,)).greatest() == {2.0: 0.0, math.inf: 0.0}
    whole = RollingRms((3,))
    whole.add(np.array([1.0, 2.0, 2.0]))
    assert whole.greatest() == {3.0: near(math.sqrt(3.0)), math.inf: near(math.sqrt(3.0))}


@pytest.mark.parametrize("steps", [3, 6, 7, 8, 20])
def test_means_of_laps_by_hand(steps: int) -> None:
    lap, windows = np.array([1.0, 5.0, 2.0]), (1, 2, 4, 7, 30)
    long = np.resize(lap, steps)
    found = rolling_rms_of_laps(lap, steps, windows)
    for window in windows:
        if window >= steps:
            wanted = math.sqrt(float((long**2).mean()))
        else:
            sums = [float((long[at : at + window] ** 2).sum()) for at in range(steps - window + 1)]
            wanted = math.sqrt(max(sums) / window)
        assert found[float(window)] == near(wanted)
    assert found[math.inf] == near(math.sqrt(float((long**2).mean())))


def test_a_pack_warms_by_hand() -> None:
    assert pack_temperature(500.0, 3600.0, 180.0) == near(25 + 10.0)
    assert pack_temperature(500.0, 3600.0, 90.0, 2000.0, ambient_c=10.0, start_c=20.0) == near(30.0)
    # tau = 100 x 1000 / 50 = 2000 s; P/G = 10 K.
    fade = math.exp(-1.5)
    assert pack_temperature(500.0, 3000.0, 100.0, 1000.0, 50.0, 15.0, 20.0) == near(
        15 + 5 * fade + 10 * (1 - fade)
    )
    assert pack_temperature(500.0, 3000.0, 100.0, 1000.0, 50.0, 15.0) == near(15 + 10 * (1 - fade))


# -- energy and acceleration -------------------------------------------------------------------


def test_energy_from_the_wall_by_hand() -> None:
    assert wall_wh_per_km(144.0, 0.9, 0.8) == near(200.0)
    assert wall_wh_per_km(144.0, 1.0, 1.0) == near(144.0)
    assert wall_wh_per_km(-0.4, 0.9, 0.8) == 0.0
    words = "efficiencies must lie in (0, 1]"
    for pair in ((0.0, 0.8), (1.01, 0.8), (0.8, 0.0), (0.8, 1.01)):
        refuses(words, lambda pair=pair: wall_wh_per_km(100.0, *pair))
    assert mpge(33_705.0 / 1.609344) == near(1.0)


def test_times_and_distances_by_hand() -> None:
    speed, pull = np.array([0.0, 2.0, 4.0]), np.array([2.0, 2.0, 1.0])
    seconds, metres = times_and_distances(speed, pull)
    assert seconds.tolist() == near([0.0, 1.0, 2.5])
    assert metres.tolist() == near([0.0, 1.0, 1.0 + 0.5 * (1.0 + 4.0) * 2.0])
    stuck = times_and_distances(speed, np.array([2.0, 0.0, 1.0]))
    assert [one.tolist() for one in stuck] == [[0.0, math.inf, math.inf]] * 2
    slow = times_and_distances(speed, np.array([2.0, 0.5, 0.5]))[0]
    assert slow.tolist() == near([0.0, 2.5, 6.5])


def test_the_cases_are_what_they_say() -> None:
    assert INDUCTION.kind == "induction"
    assert FOUR_GEARS.gears == 4
