"""Every figure of a range answer, of a lap and of a trace against a plain walk over the seconds."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from benchmarks.plain_drive import PlainDrive, interpolate
from physics_cases import compact_lead, compact_lithium

from bomplan.physics import Profile, SeriesMotor, System, fixed_gear, range_answer, route_profile
from bomplan.physics.demand import Lap, drive_lap
from bomplan.physics.drive import RangeAnswer
from bomplan.physics.profile import from_speeds
from bomplan.physics.thermal import WINDOWS_S
from bomplan.physics.trace import road_work, trace


@dataclass
class Second:
    """One second of the lap, W and so on, as :class:`Lap` has them."""

    traction_w: float
    wheel_w: float
    brake_w: float
    rotor_w: float
    driveline_loss_w: float
    motor_loss_w: float
    controller_loss_w: float
    motor_current_a: float
    shaft_w: float
    motor_speed_rad_s: float
    shaft_torque_nm: float
    missed: bool


class PlainLap(PlainDrive):
    """The plain drive, with what each second's energy becomes."""

    def second(self, at: int, mass: float) -> Second:
        line, controller = self.system.driveline, self.system.controller
        a, b = self.speed[at], self.speed[at + 1]
        v, dv = 0.5 * (a + b), b - a
        ratio = line.ratios[self.gears[at]]
        if v <= 0:
            power = self.draw(0.0, 0.0)
            fixed = controller.loss_fixed_w
            return Second(power, 0, 0, 0, 0, power - fixed, fixed, 0, 0, 0, 0, missed=False)
        gravity = self.system.road.gravity
        asked = self.road_work(a, b, self.grade[at], mass) / v + (
            mass * line.rotating_mass_factor * dv
        )
        cosine = 1 / math.hypot(1, self.grade[at])
        lever = line.centre_height_m / line.wheelbase_m
        sign = 1.0 if line.driven == "front" else -1.0
        axle = mass * gravity * cosine * line.driven_share
        held = min(asked, axle * line.grip / (1 + sign * line.grip * lever))
        back = line.regeneration_grip
        held = max(held, -axle * back / (1 - sign * back * lever))
        arm = line.wheel_radius_m / ratio
        turning = v / arm
        through = held / line.efficiency if held > 0 else held * line.efficiency
        spin = line.rotor_inertia_kgm2 * dv / arm
        wanted = through * arm + line.drag_torque_nm + spin
        top = self.system.motor.max_speed_rad_s
        ceiling = interpolate(min(turning, top), *self.table)
        if line.input_torque_limit_nm is not None:
            ceiling = min(ceiling, line.input_torque_limit_nm)
        if line.wheel_torque_limit_nm is not None:
            shafts = line.wheel_torque_limit_nm / (ratio * line.efficiency)
            ceiling = min(ceiling, shafts + line.drag_torque_nm)
        missed = (
            (asked > held * (1 + 1e-9) + 1e-9 and asked > 0)
            or wanted > ceiling * (1 + 1e-9) + 1e-9
            or turning > top * (1 + 1e-9)
        )
        torque = max(min(wanted, ceiling), self.lowest_torque(turning))
        net = (torque - line.drag_torque_nm - spin) / arm
        force = net * line.efficiency if net > 0 else net / line.efficiency
        lost = net * v - force * v + line.drag_torque_nm * turning
        amps = self.motor_amps(torque, turning)
        bridge = controller.loss_fixed_w + controller.loss_v * amps + controller.loss_ohm * amps**2
        power = self.draw(torque, turning)
        return Second(
            traction_w=power,
            wheel_w=force * v,
            brake_w=0.0 if missed else max(0.0, force * v - asked * v),
            rotor_w=spin * turning,
            driveline_loss_w=lost,
            motor_loss_w=power - bridge - torque * turning,
            controller_loss_w=bridge,
            motor_current_a=amps,
            shaft_w=torque * turning,
            motor_speed_rad_s=turning,
            shaft_torque_nm=torque,
            missed=missed,
        )

    def motor_amps(self, torque: float, turning: float) -> float:
        if isinstance(self.system.motor, SeriesMotor):
            return interpolate(torque, self.torques, self.amps)
        return abs(torque) * self.amps_per_nm(turning)


@dataclass
class Walk:
    """What a drive adds up to, second by second, whole seconds and a part of the last."""

    distance_m: float = 0.0
    seconds: float = 0.0
    soc: float = 1.0
    cause: str = ""
    battery_j: float = 0.0
    pack_j: float = 0.0
    external_j: float = 0.0
    refused_j: float = 0.0
    returned_j: float = 0.0
    brake_j: float = 0.0
    wheel_j: float = 0.0
    least_v: float = math.inf
    amps: list[float] = field(default_factory=list)
    volts: list[float] = field(default_factory=list)


def walk(plain: PlainLap, lap: list[Second], ohm: float, beside: float, stop_s: float) -> Walk:
    """Until cut-off or empty, or ``stop_s`` if that comes first."""
    pack, steps = plain.system.pack, len(lap)
    found = Walk(soc=pack.soc_max)
    while True:
        at = len(found.amps) % steps
        asked = lap[at].traction_w + beside
        open_v = interpolate(found.soc, plain.soc, plain.volts) * pack.cells_series
        inner = interpolate(found.soc, plain.soc, plain.ohms) * pack.resistance_ohm
        inside = open_v**2 - 4 * (inner + ohm) * asked
        if inside < 0:
            found.cause = "voltage"
            return found
        free = amps = (open_v - math.sqrt(inside)) / (2 * (inner + ohm))
        if amps < 0:
            room = min(1.0, max(0.0, (pack.soc_max - found.soc) / 0.02))
            ceiling = max(0.0, pack.max_voltage_v - open_v) / (inner + ohm)
            amps = max(amps, -min(pack.charge_limit_a * room, ceiling))
        volts = open_v - (inner + ohm) * amps
        if volts < pack.min_voltage_v:
            found.cause = "voltage"
            return found
        rated = pack.capacity_ah / pack.rated_hours
        felt = amps * (amps / rated) ** (pack.peukert - 1) if amps > rated else amps
        after = found.soc - felt / (3600 * pack.capacity_ah)
        share = 1.0
        if after <= pack.soc_min:
            share, found.cause = (found.soc - pack.soc_min) / (found.soc - after), "empty"
        if found.seconds + share > stop_s:
            share, found.cause = stop_s - found.seconds, "reserve"
            if share <= 1e-12:
                return found
        moved = 0.5 * (plain.speed[at] + plain.speed[at + 1])
        found.distance_m += share * moved
        found.seconds += share
        found.battery_j += share * amps * open_v
        found.pack_j += share * amps**2 * inner
        found.external_j += share * amps**2 * ohm
        found.brake_j += share * lap[at].brake_w
        found.wheel_j += share * lap[at].wheel_w
        if asked < 0 and free < amps - 1e-12:
            found.refused_j += share * (volts * amps - asked)
        if amps < 0:
            found.returned_j -= share * amps * (open_v - inner * amps)
        found.soc += share * (after - found.soc)
        found.least_v = min(found.least_v, volts)
        found.amps.append(amps)
        found.volts.append(volts)
        if share < 1.0:
            return found


def small(system: System, capacity_ah: float, **pack: Any) -> System:
    """With a pack that half an hour empties."""
    share = system.pack.capacity_ah / capacity_ah
    ohm = system.pack.resistance_ohm * share / 16
    changed = replace(system.pack, capacity_ah=capacity_ah, resistance_ohm=ohm, **pack)
    return replace(system, pack=changed, limit_tables={})


def round_trip() -> Profile:
    """Up, down and level with a stop, so that braking, standing and grip all have their seconds."""
    return route_profile(
        np.array([0.0, 400.0, 1_100.0, 1_600.0]),
        np.array([14.0, 17.0, 9.0, 9.0]),
        np.array([0.0, 24.0, -14.0, 0.0]),
        np.array([0.0, 0.0, 12.0, 6.0]),
    )


def windy(system: System) -> System:
    road = replace(system.road, headwind_m_s=3.0, rolling_speed_s2_m2=7e-6)
    return replace(system, road=road, limit_tables={})


CASES = ("lithium", "acceptance", "lead", "cut-off", "rear", "limits")


@cache
def case(name: str) -> tuple[System, Profile, float]:
    lithium, profile = windy(compact_lithium()), round_trip()
    if name == "lithium":
        return small(lithium, 6.0, charge_limit_a=200.0, soc_min=0.2), profile, 1_250.0
    if name == "acceptance":
        return (
            small(lithium, 6.0, charge_limit_a=4.0, max_voltage_v=152.0, soc_min=0.1),
            profile,
            1_250.0,
        )
    if name == "lead":
        return small(windy(compact_lead()), 40.0), profile, 1_450.0
    if name == "cut-off":
        return small(lithium, 6.0, min_voltage_v=118.0), profile, 1_250.0
    line = lithium.driveline
    if name == "rear":
        rear = replace(line, driven="rear", grip=0.18, regeneration_grip=0.05)
        return replace(small(lithium, 6.0), driveline=rear, limit_tables={}), profile, 1_250.0
    held = replace(line, input_torque_limit_nm=45.0, wheel_torque_limit_nm=330.0)
    return replace(small(lithium, 6.0), driveline=held, limit_tables={}), profile, 1_400.0


def plain_lap(name: str, gear: int = 1) -> tuple[PlainLap, list[Second]]:
    system, profile, mass = case(name)
    plain = PlainLap(system, profile, [gear] * profile.steps)
    return plain, [plain.second(at, mass) for at in range(profile.steps)]


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("gear", [0, 1, 3])
def test_a_lap_in_every_part(name: str, gear: int) -> None:
    system, profile, mass = case(name)
    fast = drive_lap(system, profile, fixed_gear(profile, gear), mass)
    _, seconds = plain_lap(name, gear)
    for one in fields(Lap):
        mine = np.array([getattr(second, one.name) for second in seconds], dtype=np.float64)
        theirs = np.asarray(getattr(fast, one.name), dtype=np.float64)
        assert theirs == pytest.approx(mine, rel=1e-9, abs=1e-6), one.name
    parts = (
        fast.wheel_w + fast.rotor_w + fast.driveline_loss_w + fast.motor_loss_w
        + fast.controller_loss_w
    )  # fmt: skip
    assert parts == pytest.approx(fast.traction_w, rel=1e-9, abs=1e-6)


def test_the_cases_reach_what_they_are_for() -> None:
    missed = {name: sum(one.missed for one in plain_lap(name)[1]) for name in CASES}
    assert missed["limits"] > 0
    assert missed["rear"] > 0
    assert missed["lithium"] == 0
    assert any(one.brake_w > 0 for one in plain_lap("lead")[1])
    assert any(one.wheel_w < 0 for one in plain_lap("lithium")[1])


def answer(name: str, reserve: float = 0.0, **more: float) -> RangeAnswer:
    system, profile, mass = case(name)
    gears = fixed_gear(profile, 1)
    return range_answer(system, profile, gears, mass, 0.02, 150.0, 250.0, reserve, **more)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("reserve", [0.0, 0.15])
def test_a_range_in_every_part(name: str, reserve: float) -> None:
    system, profile, _ = case(name)
    plain, lap = plain_lap(name)
    found = answer(name, reserve)
    end = walk(plain, lap, 0.02, 400.0, math.inf)
    if reserve:
        kept = reserve_by_hand(plain, lap, reserve, end)
        drive = walk(plain, lap, 0.02, 400.0, kept)
        assert found.distance_m == pytest.approx(drive.distance_m, rel=1e-6)
        assert found.distance_m < end.distance_m
        assert found.end_cause == ("voltage" if end.cause == "voltage" else "reserve")
    else:
        drive = end
        assert found.end_cause == end.cause
    assert found.distance_m == pytest.approx(drive.distance_m, rel=1e-6)
    assert found.drive_s == pytest.approx(drive.seconds, rel=1e-6)
    km = drive.distance_m / 1000
    terminals = drive.battery_j - drive.pack_j
    near = {"rel": 2e-5, "abs": 1e-3}
    assert found.energy_wheel_wh_km == pytest.approx(drive.wheel_j / 3600 / km, **near)
    assert found.energy_battery_wh_km == pytest.approx(terminals / 3600 / km, **near)
    assert found.usable_wh == pytest.approx(terminals / 3600, **near)
    assert found.regenerated_wh == pytest.approx(drive.returned_j / 3600, **near)
    assert found.brake_wh == pytest.approx((drive.brake_j + drive.refused_j) / 3600, **near)
    assert found.peak_battery_a == pytest.approx(max(drive.amps), **near)
    assert found.peak_charge_a == pytest.approx(max(0.0, -min(drive.amps)), **near)
    assert found.min_voltage_v == pytest.approx(drive.least_v, rel=1e-6)
    assert found.end_soc == pytest.approx(drive.soc, abs=1e-6)
    assert found.peak_motor_a == pytest.approx(max(one.motor_current_a for one in lap), rel=1e-9)
    whole = math.ceil(drive.seconds - 1e-6)
    amps = np.array(drive.amps)[:whole]
    assert found.rms_battery_a == pytest.approx(rms(amps, len(amps)), **near)
    for window in (*WINDOWS_S, math.inf):
        assert found.battery_rms_a[window] == pytest.approx(rms(amps, window), **near), window
        # Of many laps a window may begin anywhere in a lap, however late that is in the drive.
        late = whole > 2 * len(lap) and window < whole
        long = int(window) + len(lap) if late else whole
        motor = np.resize([one.motor_current_a for one in lap], long)
        shaft = np.resize([one.shaft_w for one in lap], long)
        assert found.motor_rms_a[window] == pytest.approx(rms(motor, window), **near), window
        assert found.motor_rms_w[window] == pytest.approx(rms(shaft, window), **near), window
    balance = found.balance
    assert balance.battery == pytest.approx(drive.battery_j, **near)
    assert balance.pack == pytest.approx(drive.pack_j, **near)
    assert balance.external == pytest.approx(drive.external_j, **near)
    assert balance.auxiliary == pytest.approx(400.0 * drive.seconds, **near)
    assert balance.refused == pytest.approx(drive.refused_j, rel=1e-4, abs=1.0)
    assert balance.brake == pytest.approx(drive.brake_j + drive.refused_j, rel=1e-4, abs=1.0)
    assert balance.error < 1e-6
    missed = [at for at, one in enumerate(lap) if one.missed]
    assert found.not_followed_s == len(missed)
    assert found.not_followed_m == pytest.approx(float(profile.distance_m[missed].sum()))
    assert found.followed == (len(missed) <= 0.02 * profile.steps)
    assert system.pack.soc_min - 1e-6 <= found.end_soc < 1


def rms(values: np.ndarray[Any, Any], window: float) -> float:
    """The greatest mean over any window, or that of the whole where it is longer."""
    squares = values**2
    if window >= len(values):
        return math.sqrt(float(squares.mean()))
    long = int(window)
    sums = np.convolve(squares, np.ones(long), "valid")
    return math.sqrt(float(sums.max()) / long)


def reserve_by_hand(plain: PlainLap, lap: list[Second], reserve: float, end: Walk) -> float:
    """Seconds until the first of: the energy kept back is reached, or the share of the distance."""
    pack = plain.system.pack
    grid = np.linspace(pack.soc_min, pack.soc_max, 20_001)
    volts = np.array([interpolate(float(one), plain.soc, plain.volts) for one in grid])
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (volts[1:] + volts[:-1]) * np.diff(grid))])
    level = float(np.interp(reserve * energy[-1], energy, grid))
    wanted = (1 - reserve) * end.distance_m
    # One walk, stopped where either is passed, to a hundredth of a second by halving.
    low, high = 0.0, end.seconds
    for _ in range(40):
        middle = 0.5 * (low + high)
        part = walk(plain, lap, 0.02, 400.0, middle)
        if part.soc < level or part.distance_m > wanted:
            high = middle
        else:
            low = middle
        if high - low < 1e-5:
            break
    return low


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0, 1.5])
def test_a_reserve_that_ends_in_the_first_second_of_a_lap(share: float) -> None:
    """Where the voltage ends the drive, the share of its distance is kept back to the metre."""
    _, profile, _ = case("cut-off")
    whole = answer("cut-off")
    first, second = (float(profile.distance_m[at]) for at in (0, 1))
    beyond = first * min(share, 1.0) + second * max(share - 1.0, 0.0)
    target = 2 * profile.length_m + beyond
    found = answer("cut-off", 1 - target / whole.distance_m)
    assert found.distance_m == pytest.approx(target, rel=1e-9)
    assert found.drive_s == pytest.approx(2 * profile.steps + share, abs=1e-6)
    assert found.balance.error < 1e-6


def test_what_is_asked_for_as_followed() -> None:
    found = answer("limits")
    steps = case("limits")[1].steps
    share = found.not_followed_s / steps
    assert 0.02 < share < 0.9
    assert not found.followed
    assert answer("limits", followed_share_min=1 - share).followed
    assert not answer("limits", followed_share_min=1 - share + 1 / steps).followed


def test_arguments_that_are_none_in_words() -> None:
    system, profile, mass = case("lithium")
    gears = fixed_gear(profile, 1)
    words = "mass above 0, reserve in 0 to 1, external resistance 0 or more"
    for arguments in ((0.0, 0.0, 0.0, 0.0, 0.0), (mass, -0.1, 0.0, 0.0, 0.0),
                      (mass, 0.0, 0.0, 0.0, 1.0), (mass, 0.0, 0.0, 0.0, -0.1)):  # fmt: skip
        with pytest.raises(ValueError, match=f"^{words}$"):
            range_answer(system, profile, gears, *arguments)
    words = "the 12 V load and the heater cannot give power"
    for arguments in ((mass, 0.0, -1.0, 0.0, 0.0), (mass, 0.0, 0.0, -1.0, 0.0)):
        with pytest.raises(ValueError, match=f"^{words}$"):
            range_answer(system, profile, gears, *arguments)


# -- traces ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["lithium", "lead"])
def test_a_trace_in_every_second(name: str) -> None:
    system, profile, mass = case(name)
    plain, lap = plain_lap(name)
    end = walk(plain, lap, 0.02, 400.0, math.inf)
    steps, gears = profile.steps, fixed_gear(profile, 1)

    def found(drive_s: float) -> Any:
        return trace(system, profile, gears, mass, 0.02, 400.0, drive_s)

    whole = int(end.seconds) // steps
    assert whole >= 2
    full = found(end.seconds)
    near = {"rel": 1e-5, "abs": 1e-4}
    motor = [one.motor_current_a for one in lap]
    assert full.motor_a.tolist() == pytest.approx(motor, **near)
    assert full.battery_a.tolist() == pytest.approx(end.amps[:steps], **near)
    assert full.pack_v.tolist() == pytest.approx(end.volts[:steps], **near)
    last = end.volts[(whole - 1) * steps : whole * steps]
    assert full.last_pack_v.tolist() == pytest.approx(last, **near)
    two = found(2.0 * steps)
    assert two.last_pack_v.tolist() == pytest.approx(end.volts[steps : 2 * steps], **near)
    one = found(2.0 * steps - 1)
    assert one.last_pack_v is None
    short = found(10.7)
    assert short.motor_a.tolist() == pytest.approx(motor[:10], **near)
    assert len(short.battery_a) == len(short.pack_v) == 10
    assert len(found(math.inf).battery_a) == steps


def test_work_against_air_and_rolling() -> None:
    system, profile, mass = case("lithium")
    plain, _ = plain_lap("lithium")
    road = system.road
    air, rolling = road_work(system, profile, mass, 2.25 * profile.steps)

    def over(seconds: float, of: Any) -> float:
        whole = int(seconds)
        works = [of(at % profile.steps) for at in range(whole + 1)]
        return float(sum(works[:whole]) + works[whole] * (seconds - whole))

    def drag(at: int) -> float:
        def power(v: float) -> float:
            return 0.5 * 1.2 * 0.66 * (v + 3.0) ** 2 * v

        a, b = plain.speed[at], plain.speed[at + 1]
        return (power(a) + 4 * power((a + b) / 2) + power(b)) / 6

    def rolled(at: int) -> float:
        a, b, grade = plain.speed[at], plain.speed[at + 1], plain.grade[at]
        sine = grade / math.hypot(1, grade)
        up = mass * road.gravity * sine * 0.5 * (a + b)
        return plain.road_work(a, b, grade, mass) - up - drag(at)

    assert air == pytest.approx(over(2.25 * profile.steps, drag), rel=1e-9)
    assert rolling == pytest.approx(over(2.25 * profile.steps, rolled), rel=1e-9)


# -- profiles ----------------------------------------------------------------------------------


def test_a_profile_by_hand() -> None:
    speed = np.array([0.0, 4.0, 10.0, 0.0])
    profile = from_speeds(speed, "by hand", np.array([0.0, 2.1, -2.1]))
    assert profile.name == "by hand"
    assert profile.steps == 3
    assert profile.time_s.tolist() == [0.0, 1.0, 2.0, 3.0]
    assert profile.mean_speed_m_s.tolist() == profile.distance_m.tolist() == [2.0, 7.0, 5.0]
    assert profile.acceleration_m_s2.tolist() == [4.0, 6.0, -10.0]
    assert profile.length_m == 14.0
    assert profile.sine.tolist() == pytest.approx([0.0, 0.3, -0.42])
    assert profile.cosine.tolist() == pytest.approx([1.0, math.sqrt(0.91), math.sqrt(1 - 0.42**2)])
    assert profile.rise_m.tolist() == pytest.approx([0.0, 2.1, -2.1])
    assert profile.grade.tolist() == pytest.approx(
        [0.0, 0.3 / math.sqrt(0.91), -0.42 / math.sqrt(1 - 0.42**2)]
    )
    assert profile.closed
    assert profile.table_gears == {}


def test_a_profile_is_closed_where_it_ends_as_it_began() -> None:
    speed = np.array([5.0, 5.0, 5.0])

    def closed(*rise: float, last: float = 5.0) -> bool:
        return from_speeds(np.array([5.0, 5.0, last]), "x", np.array(rise)).closed

    assert closed(0.0, 0.0)
    assert closed(1.0, 0.0)  # higher than it began
    assert closed(0.0, -0.01)
    assert not closed(0.0, -0.011)
    assert not closed(0.0, 0.0, last=5.0001)
    assert from_speeds(speed, "flat").closed


def test_more_mass_may_pay_where_a_profile_begins_downhill() -> None:
    speed = np.full(5, 10.0)
    down = from_speeds(speed, "x", np.array([-0.5, 0.0, 0.0, 0.5]))
    assert down.closed
    assert not down.mass_never_pays(39.9)
    assert down.mass_never_pays(40.0)
    # A lap rolls 0.2 m, and the first step falls 0.45 m beyond what it rolls.
    assert not down.mass_never_pays(41.0)
    assert not down.mass_never_pays(81.0)
    assert down.mass_never_pays(121.0)
    assert not down.mass_never_pays_from(119.0)
    assert down.mass_never_pays_from(120.0)
    # Less than rolling takes: 0.005 x 10 m and the centimetre.
    gentle = from_speeds(speed, "x", np.array([-0.06, 0.0, 0.0, 0.06]))
    assert gentle.mass_never_pays(1.0)
    steeper = from_speeds(speed, "x", np.array([-0.0601, 0.0, 0.0, 0.0601]))
    assert not steeper.mass_never_pays(1.0)
    open_ended = from_speeds(speed, "x", np.array([0.0, 0.0, 0.0, -0.5]))
    assert not open_ended.mass_never_pays(1e6)
    assert not open_ended.mass_never_pays_from(1e6)


def test_kinds_of_seconds() -> None:
    speed = np.array([0.0, 2.0, 0.0, 2.0, 2.0, 0.0])
    profile = from_speeds(speed, "x", np.array([0.0, 0.0, 0.1, 0.0, 0.0]))
    first, which = profile.distinct
    assert len(first) == 4
    kinds = [
        (profile.speed_m_s[at], profile.speed_m_s[at + 1], profile.grade[at]) for at in range(5)
    ]
    assert [kinds[first[one]] for one in which] == kinds
    assert which[1] == which[4]
    assert len({which[0], which[1], which[2], which[3]}) == 4


def test_profiles_that_are_none_in_words() -> None:
    for speed in (np.array([1.0]), np.array([1.0, -0.1])):
        with pytest.raises(
            ValueError, match=r"^a profile needs two speeds or more, none negative$"
        ):
            from_speeds(speed, "x")
    words = "^a profile climbs more than half a metre per metre of road$"
    flat = np.array([2.0, 2.0])
    assert from_speeds(flat, "x", np.array([1.0])).grade[0] == pytest.approx(0.5 / math.sqrt(0.75))
    for rise in (1.0001, -1.0001):
        with pytest.raises(ValueError, match=words):
            from_speeds(flat, "x", np.array([rise]))
