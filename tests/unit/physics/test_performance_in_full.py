"""Limits, thrust, speeds and climbs against searches and sums in plain scalars."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from physics_cases import compact_lead, compact_lithium, ideal_controller, ideal_pack
from physics_limited import LIMITED, changed

from bomplan.physics import (
    Driveline,
    EnvelopeMotor,
    RoadLoad,
    SeriesMotor,
    System,
    climb,
    climb_speed_ok,
    gradeability,
    grip_turns,
    hardest_pull,
    steady_table,
    top_speed,
)
from bomplan.physics.performance import thrust
from bomplan.physics.powertrain import (
    BATTERY_CURRENT,
    CAUSES,
    GEARBOX,
    MOTOR_CURRENT,
    MOTOR_SPEED,
    PACK_VOLTAGE,
    TORQUE,
    VOLTAGE,
    TableAsked,
    draw,
    least_torque,
    prepare_tables,
    reference_table,
    torque_limit,
    torque_table,
)

# -- the greatest torque -----------------------------------------------------------------------


def passed(
    system: System,
    torque: float,
    turning: float,
    open_v: float,
    ohm: float,
    beside: float,
    hold_s: float,
    floor_v: float,
) -> int | None:
    """The first limit that a torque at a speed passes, by scalars; None where it passes none."""
    motor, controller, pack = system.motor, system.controller, system.pack
    taken = draw(system, np.array([torque]), np.array([turning]))
    power, amps = float(taken.power_w[0]), float(taken.motor_current_a[0])
    inside = open_v**2 - 4 * ohm * (power + beside)
    current = (open_v - math.sqrt(inside)) / (2 * ohm) if inside >= 0 else open_v / (2 * ohm)
    volts = open_v - ohm * current
    if isinstance(motor, SeriesMotor):
        needed = float(motor.voltage(np.array([amps]), np.array([turning]))[0])
        stands = float(motor.voltage_limit(np.array([amps]))[0])
        over = torque > 0 and needed > min(volts, stands)
    else:
        corner = min(motor.peak_power_w, motor.peak_torque_nm * motor.base_speed_rad_s)
        envelope = min(
            motor.peak_torque_nm, corner * volts / motor.reference_voltage_v / max(turning, 1e-9)
        )
        share = min(1.0, controller.motor_current_a(hold_s) / controller.motor_current_peak_a)
        over = torque > 0 and torque > envelope * share
    if over:
        return VOLTAGE
    if current > min(
        controller.battery_current_a + beside / open_v, pack.discharge_limit_a(hold_s)
    ):
        return BATTERY_CURRENT
    return PACK_VOLTAGE if inside < 0 or volts < floor_v else None


def greatest(
    system: System,
    turning: float,
    open_v: float,
    ohm: float,
    beside: float,
    hold_s: float,
    floor_v: float,
    ratio: float | None = None,
) -> tuple[float, int]:
    """By halving between nothing and the limits that read no pack."""
    motor, controller = system.motor, system.controller
    fixed = {MOTOR_SPEED: 0.0 if turning > motor.max_speed_rad_s * (1 + 1e-9) else math.inf}
    if isinstance(motor, SeriesMotor):
        held = motor.held_current_a(np.array([turning]), hold_s)
        fixed[TORQUE] = float(motor.torque(held)[0])
        fixed[MOTOR_CURRENT] = float(
            motor.torque(np.array([controller.motor_current_a(hold_s)]))[0]
        )
    else:
        fixed[TORQUE] = float(motor.held(np.array([turning]), hold_s)[0])
    if ratio is not None:
        fixed[GEARBOX] = float(system.driveline.greatest_shaft_torque(ratio))
    cause = min(fixed, key=lambda one: (fixed[one], one))
    top = fixed[cause]
    if passed(system, top, turning, open_v, ohm, beside, hold_s, floor_v) is None:
        return top, cause
    low, high = 0.0, top
    for _ in range(60):
        middle = 0.5 * (low + high)
        if passed(system, middle, turning, open_v, ohm, beside, hold_s, floor_v) is None:
            low = middle
        else:
            high = middle
    found = passed(system, high, turning, open_v, ohm, beside, hold_s, floor_v)
    assert found is not None
    return low, found


@pytest.mark.parametrize("name", LIMITED)
@pytest.mark.parametrize("hold_s", [10.0, 600.0, 3600.0])
def test_the_greatest_torque_by_halving(name: str, hold_s: float) -> None:
    system = LIMITED[name]
    speeds = np.linspace(0.0, system.motor.max_speed_rad_s * 1.02, 25)
    open_v, ohm = 140.0, 0.03 + system.pack.resistance_ohm
    floor = system.pack.min_voltage_v
    found = torque_limit(system, speeds, 7.8, open_v, ohm, 400.0, hold_s, floor)
    for at, turning in enumerate(speeds.tolist()):
        torque, cause = greatest(system, turning, open_v, ohm, 400.0, hold_s, floor, 7.8)
        assert float(found.torque_nm[at]) == pytest.approx(torque, rel=1e-5, abs=1e-5)
        assert int(found.cause[at]) == cause, (turning, CAUSES[cause])


def test_every_cause_is_met_somewhere() -> None:
    met = set()
    for system in LIMITED.values():
        for hold_s in (10.0, 3600.0):
            speeds = np.linspace(0.0, system.motor.max_speed_rad_s * 1.02, 25)
            ohm, floor = 0.03 + system.pack.resistance_ohm, system.pack.min_voltage_v
            found = torque_limit(system, speeds, 7.8, 140.0, ohm, 400.0, hold_s, floor)
            met |= set(found.cause.astype(int).tolist())
    assert met >= {MOTOR_SPEED, TORQUE, MOTOR_CURRENT, VOLTAGE, BATTERY_CURRENT, PACK_VOLTAGE}
    held = changed(compact_lithium(), driveline={"input_torque_limit_nm": 20.0})
    found = torque_limit(held, np.array([100.0]), 7.8, 140.0, 0.05, 0.0, 10.0, 0.0)
    assert (float(found.torque_nm[0]), int(found.cause[0])) == (20.0, GEARBOX)
    free = torque_limit(held, np.array([100.0]), None, 140.0, 0.05, 0.0, 10.0, 0.0)
    assert float(free.torque_nm[0]) > 100.0
    assert CAUSES == (
        "motor speed", "motor rating", "motor current", "gearbox", "voltage", "battery current",
        "pack voltage",
    )  # fmt: skip


def test_a_cap_on_power_stands_in_place_of_the_current() -> None:
    system = LIMITED["small controller"]
    speed = np.array([300.0])
    capped = torque_limit(system, speed, None, 140.0, 0.05, 0.0, 10.0, 0.0, power_cap_w=9_000.0)
    assert float(draw(system, capped.torque_nm, speed).power_w[0]) == pytest.approx(9_000, rel=1e-5)
    assert int(capped.cause[0]) == BATTERY_CURRENT
    wide = torque_limit(system, speed, None, 140.0, 0.05, 0.0, 10.0, 0.0, power_cap_w=1e9)
    narrow = torque_limit(system, speed, None, 140.0, 0.05, 0.0, 10.0, 0.0)
    assert float(wide.torque_nm[0]) > float(narrow.torque_nm[0])


@pytest.mark.parametrize("name", ["lithium", "lead", "weak pack"])
def test_tables_are_the_limits_at_their_speeds(name: str) -> None:
    system = replace(LIMITED[name], limit_tables={})
    soc, pack = np.array([0.4]), system.pack
    table = torque_table(system, 0.4, 0.015, 350.0, 600.0)
    assert table.speed_rad_s.tolist() == pytest.approx(
        np.linspace(0.0, system.motor.max_speed_rad_s, 128).tolist()
    )
    same = torque_limit(
        system, table.speed_rad_s, None, float(pack.open_circuit(soc)[0]),
        float(pack.resistance(soc)[0]) + 0.015, 350.0, 600.0, pack.min_voltage_v,
    )  # fmt: skip
    assert table.torque_nm.tolist() == pytest.approx(same.torque_nm.tolist(), rel=1e-9)
    assert table.cause.tolist() == same.cause.tolist()
    assert torque_table(system, 0.4, 0.015, 350.0, 600.0) is table
    middle = 0.5 * (table.speed_rad_s[3] + table.speed_rad_s[4])
    assert float(table.torque(np.array([middle]))[0]) == pytest.approx(
        0.5 * float(table.torque_nm[3] + table.torque_nm[4])
    )
    assert table.cause_at(float(table.speed_rad_s[7]) + 0.1) == int(table.cause[7])


@pytest.mark.parametrize("name", ["lithium", "lead", "pack rating"])
def test_what_a_profile_may_ask_by_hand(name: str) -> None:
    """Nearly empty, ten seconds, no cut-off, and the current at its worst over the window."""
    system = replace(LIMITED[name], limit_tables={})
    pack = system.pack
    soc = pack.soc_min + 0.2 * (pack.soc_max - pack.soc_min)
    limit = min(system.controller.battery_current_a, pack.discharge_limit_a(10.0))
    powers = []
    for level in [pack.soc_min, *pack.curve.soc[pack.curve.soc > pack.soc_min].tolist()]:
        volts = float(pack.open_circuit(np.array([level]))[0])
        total = float(pack.resistance(np.array([level]))[0]) + 0.01
        amps = min(limit, volts / (2 * total))
        powers.append(amps * (volts - total * amps))
    at = np.array([soc])
    table = reference_table(system, 0.01)
    same = torque_limit(
        system, table.speed_rad_s, None, float(pack.open_circuit(at)[0]),
        float(pack.resistance(at)[0]) + 0.01, 0.0, 10.0, 0.0, power_cap_w=min(powers),
    )  # fmt: skip
    assert table.torque_nm.tolist() == pytest.approx(same.torque_nm.tolist(), rel=1e-9)


def test_tables_of_unlike_machines_are_kept_apart() -> None:
    lithium, lead = compact_lithium(), compact_lead()
    asked = [TableAsked(one, 0.5, 0.01, 300.0, 60.0) for one in (lithium, lead)]
    prepare_tables([*asked, asked[0]])
    for one in asked:
        alone = replace(one.system, limit_tables={})
        mine = torque_table(alone, 0.5, 0.01, 300.0, 60.0)
        kept = one.system.limit_tables[one.key]
        assert kept.torque_nm.tolist() == mine.torque_nm.tolist()


def test_the_least_torque_is_held_by_the_gearbox() -> None:
    system = changed(compact_lithium(), driveline={"input_torque_limit_nm": 20.0})
    speed = np.array([300.0, 700.0])
    assert least_torque(system, speed).tolist() == [-20.0, -20.0]
    free = compact_lithium()
    assert (least_torque(free, speed) < -40.0).all()
    assert (least_torque(free, speed, regenerate=False) > -5.0).all()
    assert least_torque(compact_lead(), speed).tolist() == [0.0, 0.0]


# -- thrust, speed, climbs ---------------------------------------------------------------------


@pytest.mark.parametrize("name", ["lithium", "lead"])
def test_thrust_is_torque_through_the_gear_held_by_grip(name: str) -> None:
    system = replace(LIMITED[name], limit_tables={})
    line = system.driveline
    speed = np.array([0.0, 5.0, 12.0, 40.0, 90.0])
    table = torque_table(system, 0.5, 0.01, 300.0, 60.0)
    for gear, ratio in enumerate(line.ratios):
        found = thrust(system, gear, speed, 0.5, 1_300.0, 0.01, 300.0, 60.0, 0.1)
        for at, v in enumerate(speed.tolist()):
            turning = v * ratio / line.wheel_radius_m
            torque = float(table.torque(np.array([turning]))[0])
            torque = min(torque, float(line.greatest_shaft_torque(ratio)))
            force = (torque - line.drag_torque_nm) * ratio / line.wheel_radius_m
            force = force * line.efficiency if force > 0 else force / line.efficiency
            grip = float(line.grip_force(1_300.0, 1 / math.hypot(1, 0.1)))
            wanted = min(force, grip)
            if turning > system.motor.max_speed_rad_s * (1 + 1e-9):
                wanted = -math.inf
            assert float(found[at]) == pytest.approx(wanted, rel=1e-9)


TIRED = changed(compact_lithium(), motor={"ratings": ((10.0, 70e3), (1e3, 9e3))})


@pytest.mark.parametrize("name", ["lithium", "lead", "small controller", "weak pack", "commutator"])
@pytest.mark.parametrize("hold_s", [10.0, 1800.0])
def test_the_top_speed_is_where_thrust_meets_the_road(name: str, hold_s: float) -> None:
    system = replace(LIMITED[name], limit_tables={})
    found = top_speed(system, 0.6, 1_300.0, 0.01, 300.0, hold_s)
    best, best_gear = 0.0, 0
    for gear, ratio in enumerate(system.driveline.ratios):
        fastest = system.motor.max_speed_rad_s * system.driveline.wheel_radius_m / ratio
        speed = np.linspace(0.0, fastest, 4_001)
        spare = thrust(system, gear, speed, 0.6, 1_300.0, 0.01, 300.0, hold_s)
        fast = speed[spare >= system.road.force(speed, 1_300.0)]
        able = float(fast.max()) if len(fast) else 0.0
        if able > best * (1 + 1e-9):
            best, best_gear = able, gear
    assert found.speed_m_s == pytest.approx(best, rel=2e-3)
    assert found.gear == best_gear


def test_why_it_goes_no_faster() -> None:
    def cause(system: System, hold_s: float = 1800.0, mass: float = 1_300.0) -> str:
        return top_speed(replace(system, limit_tables={}), 0.6, mass, 0.01, 300.0, hold_s).cause

    assert cause(LIMITED["commutator"]) == "voltage"
    assert cause(LIMITED["small controller"], 10.0) == "current rating"
    one = changed(compact_lithium(), driveline={"ratios": (13.8,), "shift_speeds_m_s": ()})
    assert cause(one, 10.0) == "motor speed"
    # What a lower gear cannot turn, this one cannot push; alone it is the power that lacks.
    assert cause(TIRED) == "gearing"
    alone = changed(TIRED, driveline={"ratios": (3.8,), "shift_speeds_m_s": ()})
    assert cause(alone) == "power"
    stuck = top_speed(compact_lithium(), 0.6, 1e5, 0.01, 300.0)
    assert (stuck.speed_m_s, stuck.gear, stuck.cause) == (0.0, 0, "none")


@pytest.mark.parametrize("name", ["lithium", "lead", "small chopper"])
@pytest.mark.parametrize(("grade", "kmh"), [(0.0, 50.0), (0.08, 40.0), (0.25, 0.0), (0.6, 10.0)])
def test_a_climb_in_every_part(name: str, grade: float, kmh: float) -> None:
    system = replace(LIMITED[name], limit_tables={})
    v, line = kmh / 3.6, system.driveline
    at = np.array([v])
    need = float(system.road.force(at, 1_300.0, grade)[0])
    margins = [
        float(thrust(system, gear, at, 0.5, 1_300.0, 0.01, 300.0, 60.0, grade)[0]) - need
        for gear in range(4)
    ]
    found = climb(system, grade, v, 60.0, 0.5, 1_300.0, 0.01, 300.0)
    assert found.margin_n == pytest.approx(max(margins), rel=1e-9)
    assert found.gear == margins.index(max(margins))
    assert found.possible == (max(margins) >= 0)
    assert climb_speed_ok(system, grade, v, 60.0, 0.5, 1_300.0, 0.01, 300.0) == found.possible
    if not found.possible:
        assert math.isnan(found.motor_current_a)
        assert math.isnan(found.battery_current_a)
        return
    motor_a, battery_a, _, _ = holding(system, found.gear, v, need, 0.5, 0.01, 300.0)
    assert found.motor_current_a == pytest.approx(motor_a, rel=1e-9)
    assert found.battery_current_a == pytest.approx(battery_a, rel=1e-9)
    assert found.limit_cause in (*CAUSES, "grip")
    assert line.gears == 4


def holding(
    system: System, gear: int, v: float, need: float, soc: float, ohm: float, beside: float
) -> tuple[float, float, float, float]:
    """Motor and battery current, voltage and power at the poles while holding a speed."""
    line, pack = system.driveline, system.pack
    ratio = line.ratios[gear]
    torque = line.shaft_torque(np.array([need]), ratio, 0.0)
    taken = draw(system, np.maximum(torque, 0.0), np.array([v * ratio / line.wheel_radius_m]))
    open_v = float(pack.open_circuit(np.array([soc]))[0])
    inner = float(pack.resistance(np.array([soc]))[0])
    power = float(taken.power_w[0]) + beside
    inside = open_v**2 - 4 * power * (inner + ohm)
    amps = math.nan if inside < 0 else (open_v - math.sqrt(inside)) / (2 * (inner + ohm))
    volts = open_v - inner * amps
    return float(taken.motor_current_a[0]), amps, volts, volts * amps


def test_what_stops_a_climb() -> None:
    def cause(system: System, grade: float, v: float, hold_s: float = 60.0) -> str:
        here = replace(system, limit_tables={})
        return climb(here, grade, v, hold_s, 0.5, 1_300.0, 0.01, 300.0).limit_cause

    slippery = changed(compact_lithium(), driveline={"grip": 0.2})
    assert cause(slippery, 0.2, 0.0) == "grip"
    held = changed(compact_lithium(), driveline={"input_torque_limit_nm": 20.0})
    assert cause(held, 0.2, 0.0) == "gearbox"
    assert cause(compact_lithium(), 0.0, 300.0) == "motor speed"
    assert cause(TIRED, 0.3, 1.0, 3600.0) == "motor rating"
    assert cause(LIMITED["small controller"], 0.1, 25.0, 10.0) == "battery current"
    assert cause(LIMITED["commutator"], 0.1, 25.0) == "voltage"


def test_grip_that_a_heavier_car_may_have() -> None:
    """Rolling and grade below grip, and drag that is too much for the light one."""
    system = changed(
        compact_lithium(), driveline={"grip": 0.3, "driven_share": 0.5}, road={"drag_area_m2": 4.0}
    )
    line, road = system.driveline, system.road
    for mass in (300.0, 500.0, 800.0, 2_000.0):
        for grade in (0.0, 0.05, 0.2):
            at = np.array([35.0])
            grip = float(line.grip_force(mass, 1 / math.hypot(1, grade)))
            air = float(road.massless_force(at)[0])
            need = float(road.force(at, mass, grade)[0])
            wanted = grip < need and grip > need - air
            assert grip_turns(system, 35.0, grade, mass) == wanted
    assert grip_turns(system, 35.0, 0.0, 300.0)
    assert not grip_turns(system, 35.0, 0.2, 300.0)
    assert not grip_turns(system, 35.0, 0.0, 20_000.0)


def test_gradeability_by_force_and_by_grip() -> None:
    system = compact_lithium()
    # Where grip decides: mu' cos = sin + c cos at rest.
    slippery = changed(system, driveline={"grip": 0.2})
    line = slippery.driveline
    share = float(line.grip_force(1.0, 1.0, 1.0))
    found = gradeability(slippery, 0.0, 10.0, 0.5, 1_300.0, 0.01, 300.0)
    assert found == pytest.approx(share - 0.011, rel=1e-9)
    # At most 45 degrees, for a car that is all motor and all grip.
    strong = System(
        RoadLoad(0.01, 0.0, 0.1, 1.2), Driveline((20.0,), 0.3, 1.0, grip=9.0, driven_share=1.0),
        EnvelopeMotor("induction", 5_000.0, 9e6, 400.0, 300.0, 2_000.0), ideal_controller(),
        ideal_pack(),
    )  # fmt: skip
    assert gradeability(strong, 0.0, 10.0, 0.5, 1_000.0, 0.0, 0.0) == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["lithium", "lead", "weak pack"])
def test_steady_speeds_in_every_part(name: str) -> None:
    system = replace(LIMITED[name], limit_tables={})
    found = steady_table(system, (8.0, 20.0), 0.5, 1_300.0, 0.02, 300.0, 0.02, 3600.0)
    assert [(one.speed_m_s, one.gear) for one in found] == [
        (v, gear) for v in (8.0, 20.0) for gear in range(4)
    ]
    for one in found:
        at = np.array([one.speed_m_s])
        need = float(system.road.force(at, 1_300.0, 0.02)[0])
        motor_a, battery_a, volts, watts = holding(
            system, one.gear, one.speed_m_s, need, 0.5, 0.02, 300.0
        )
        ratio = system.driveline.ratios[one.gear]
        assert one.motor_speed_rad_s == pytest.approx(one.speed_m_s * ratio / 0.29)
        assert one.motor_current_a == pytest.approx(motor_a, nan_ok=True)
        assert one.battery_current_a == pytest.approx(battery_a, nan_ok=True)
        assert one.pack_voltage_v == pytest.approx(volts, nan_ok=True)
        assert one.battery_w == pytest.approx(watts, nan_ok=True)
        can = float(thrust(system, one.gear, at, 0.5, 1_300.0, 0.02, 300.0, 3600.0, 0.02)[0])
        assert one.feasible == (can >= need and not math.isnan(battery_a))


@pytest.mark.parametrize("name", ["lithium", "lead", "small controller"])
def test_the_hardest_pull_by_looking_everywhere(name: str) -> None:
    system = replace(LIMITED[name], limit_tables={})
    system = changed(system, driveline={"input_torque_limit_nm": 90.0})
    found = hardest_pull(system, 0.5, 0.01, 300.0)
    table = torque_table(system, 0.5, 0.01, 300.0, 10.0)
    open_v = float(system.pack.open_circuit(np.array([0.5]))[0])
    inner = float(system.pack.resistance(np.array([0.5]))[0])
    most = 0.0
    for turning, torque in zip(table.speed_rad_s.tolist(), table.torque_nm.tolist(), strict=True):
        asked = draw(system, np.array([min(torque, 90.0)]), np.array([turning]))
        power = float(asked.power_w[0]) + 300.0
        inside = open_v**2 - 4 * power * (inner + 0.01)
        if inside >= 0:
            most = max(most, (open_v - math.sqrt(inside)) / (2 * (inner + 0.01)))
    assert found.rest_v == pytest.approx(open_v)
    assert found.pull_a == pytest.approx(most, rel=1e-9)
    assert found.pull_v == pytest.approx(open_v - inner * most, rel=1e-9)
