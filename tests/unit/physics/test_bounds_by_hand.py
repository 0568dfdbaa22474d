"""The cheap bounds against plain walks and closed forms: not only safe, but sharp."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from physics_cases import IRON_PHOSPHATE, compact_lead, compact_lithium
from physics_limited import one_pack, threshold

from bomplan.physics import (
    CellCurve,
    Pack,
    Profile,
    System,
    choose_gears,
    fixed_gear,
    least_battery_energy,
    load_profile,
    most_usable_energy,
    optimistic_range,
    range_answer,
)
from bomplan.physics.bounds import free_power, pack_free_limit
from bomplan.physics.demand import drive_lap
from bomplan.physics.following import missed_seconds
from bomplan.physics.pack_table import pack_table
from bomplan.physics.powertrain import REFERENCE_POINTS, reference_asked, reference_table
from bomplan.physics.profile import from_speeds
from bomplan.physics.screen import Asked, may_reach
from bomplan.physics.torque_bounds import Strength, between, torque_bounds, voltage_under

LAP = from_speeds(np.array([0.0, 1.5, 3.0, 4.2, 4.6, 3.5, 1.2, 0.0, 0.0]), "lap")


def system_of(name: str) -> System:
    return compact_lithium() if name == "lithium" else compact_lead()


# -- how far at most ---------------------------------------------------------------------------


def farthest_by_hand(
    system: System, profile: Profile, gear: int, mass: float, beside: float, reserve: float
) -> float:
    """Second by second at full voltage and least resistance until the energy is gone."""
    pack = system.pack
    inside = pack.curve.soc[(pack.curve.soc > pack.soc_min) & (pack.curve.soc < pack.soc_max)]
    window = np.array([pack.soc_min, *inside, pack.soc_max])
    volts = float(pack.open_circuit(window)[-1])
    ohm = float(min(pack.resistance(window)))
    lap = drive_lap(system, profile, fixed_gear(profile, gear), mass).traction_w + beside
    budget = pack.usable_energy_j() * 1.001 * (1 - reserve)
    used = last = 0.0
    second = -1
    for at in range(200_000):
        power = float(lap[at % profile.steps])
        if power > 0:
            root = math.sqrt(max(0.0, volts**2 - 4 * power * ohm))
            amps = 2 * power / (volts + root)
            rated = pack.capacity_ah / pack.rated_hours
            power = (power + ohm * amps**2) * max(1.0, amps / rated) ** (pack.peukert - 1)
        used += power
        if used <= budget:
            second = at
        elif used > budget + 3e6:
            break
    for at in range(second + 2):
        last += float(profile.distance_m[at % profile.steps])
    return last


@pytest.mark.parametrize("name", ["lithium", "lead"])
@pytest.mark.parametrize(("gear", "beside", "reserve"), [(1, 300.0, 0.0), (2, 1_200.0, 0.2)])
def test_the_farthest_range_by_a_plain_walk(
    name: str, gear: int, beside: float, reserve: float
) -> None:
    system = system_of(name)
    pack = replace(system.pack, capacity_ah=20.0, soc_max=0.97)
    system = replace(system, pack=pack, limit_tables={})
    gears = fixed_gear(LAP, gear)
    found = optimistic_range(system, LAP, gears, 1_200.0, beside - 100.0, 100.0, reserve)
    wanted = farthest_by_hand(system, LAP, gear, 1_200.0, beside, reserve)
    assert found == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("capacity_ah", [60.0, 400.0, 1_500.0])
def test_peukert_counts_from_the_rated_current_on(capacity_ah: float) -> None:
    """Rated for 3, 20 and 75 A, at a load that takes from 5 to some 60 A."""
    system = compact_lead()
    pack = replace(system.pack, capacity_ah=capacity_ah, peukert=1.3)
    system = replace(system, pack=pack, limit_tables={})
    gentle = from_speeds(np.array([6.0, 6.5, 7.0, 7.0, 6.5, 6.0]), "gentle")
    found = optimistic_range(system, gentle, fixed_gear(gentle, 1), 1_200.0, 400.0)
    wanted = farthest_by_hand(system, gentle, 1, 1_200.0, 400.0, 0.0)
    assert found == pytest.approx(wanted, rel=1e-9)


def test_a_lap_that_takes_nothing_has_no_farthest_range() -> None:
    system = compact_lithium()
    down = from_speeds(np.full(31, 12.0), "down", np.full(30, -1.5))
    gears = fixed_gear(down, 3)
    assert optimistic_range(system, down, gears, 1_200.0, 0.0) == math.inf
    # A pack that gives not one second still goes as far as that second at most.
    heavy = optimistic_range(system, LAP, fixed_gear(LAP, 1), 1_200.0, 1e9)
    assert heavy == pytest.approx(float(LAP.distance_m[0]))


def test_the_most_usable_energy() -> None:
    pack = compact_lithium().pack
    assert most_usable_energy(pack) == pytest.approx(pack.usable_energy_j() * 1.001, rel=1e-12)


# -- how much at least -------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["lithium", "lead"])
@pytest.mark.parametrize("metres", [None, 1.0, 10.0, 18.0, 300.0])
def test_the_least_energy_by_a_plain_walk(name: str, metres: float | None) -> None:
    """Every second followed: the least mean over all stops from there on."""
    system, gears = system_of(name), fixed_gear(LAP, 1)
    lap = drive_lap(system, LAP, gears, 1_100.0)
    assert not lap.missed.any()
    power = lap.traction_w + 450.0
    beyond = LAP.length_m if metres is None else metres
    used = gone = 0.0
    wanted = float(power.sum()) / LAP.length_m
    for at in range(200 * LAP.steps):
        used += float(power[at % LAP.steps])
        gone += float(LAP.distance_m[at % LAP.steps])
        if gone >= beyond * (1 - 1e-12):
            wanted = min(wanted, used / gone)
    found = least_battery_energy(
        system, LAP, gears, 1_100.0, 400.0, 50.0, at_least_m=metres, followed_share_min=1.0
    )
    assert found == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("name", ["lithium", "lead"])
def test_without_gears_the_cheapest_counts(name: str) -> None:
    system = system_of(name)
    laps = [drive_lap(system, LAP, fixed_gear(LAP, gear), 1_100.0) for gear in range(4)]
    least = np.min([lap.traction_w for lap in laps], axis=0)
    found = free_power(system, LAP, 1_100.0)
    # Nothing is missed in the low gears, so no limit of the pack is in the least of them.
    assert found == pytest.approx(least, rel=1e-9)
    ratio = least_battery_energy(system, LAP, None, 1_100.0, 0.0, followed_share_min=1.0)
    assert ratio <= float(least.sum()) / LAP.length_m * (1 + 1e-12)


@pytest.mark.parametrize("name", ["lithium", "lead"])
@pytest.mark.parametrize("profile", ["constant 60 km/h", "udds", "ece-15"])
def test_the_least_energy_is_near_the_real_one(name: str, profile: str) -> None:
    """Seconds that may be missed cost the bound little: a few per cent on any schedule."""
    system, trace = system_of(name), load_profile(profile)
    gears = choose_gears(system, trace, 1_600.0)
    answer = range_answer(system, trace, gears, 1_300.0, 0.0, 250.0)
    assert answer.followed
    least = least_battery_energy(system, trace, gears, 1_300.0, 250.0) * 1000 / 3600
    real = answer.energy_battery_wh_km
    assert least <= real * (1 + 1e-9)
    assert least >= real * (0.999 if profile.startswith("constant") else 0.9)


def test_limits_that_no_pack_moves_by_hand() -> None:
    lithium, lead = compact_lithium(), compact_lead()
    speed, ratio = np.array([0.0, 200.0, 800.0]), np.full(3, 7.8)
    held = lithium.motor.held(speed, 10.0)  # type: ignore[union-attr]
    gearbox = float(lithium.driveline.greatest_shaft_torque(7.8))
    assert pack_free_limit(lithium, speed, ratio).tolist() == pytest.approx(
        np.minimum(held, gearbox).tolist()
    )
    amps = min(lead.motor.current_limit_a(10.0), 500.0)  # type: ignore[union-attr]
    torque = float(lead.motor.torque(np.array([amps]))[0])  # type: ignore[union-attr]
    assert pack_free_limit(lead, speed, ratio).tolist() == pytest.approx([min(torque, gearbox)] * 3)
    weak = replace(lead, controller=replace(lead.controller, motor_current_peak_a=250.0))
    torque = float(lead.motor.torque(np.array([250.0]))[0])  # type: ignore[union-attr]
    assert pack_free_limit(weak, speed, ratio).tolist() == pytest.approx([torque] * 3)


# -- packs side by side ------------------------------------------------------------------------

CURVE = CellCurve(np.array([0.0, 0.5, 1.0]), np.array([3.0, 3.2, 3.6]), np.array([2.0, 1.0, 1.5]))
MODULE = Pack(CURVE, 1, 50.0, 0.004, 5.0, 1.1, 0.1, 0.9, 2.5, 3.65, 40.0, 90.0, 25.0)


def test_a_table_of_packs_by_hand() -> None:
    other = replace(MODULE, curve=IRON_PHOSPHATE, discharge_continuous_a=120.0)
    table = pack_table(
        [MODULE, other], np.array([0, 1, 0]), np.array([10.0, 4.0, 2.0]),
        np.array([2.0, 1.0, 3.0]), np.array([0.01, 0.02, 0.03]),
    )  # fmt: skip
    near = {"rel": 1e-9}
    energy = [most_usable_energy(one) for one in (MODULE, other, MODULE)]
    assert table.energy_j.tolist() == pytest.approx(
        [20 * energy[0], 4 * energy[1], 6 * energy[2]], **near
    )
    assert table.least_v.tolist() == pytest.approx([25.0, 10.0, 5.0])
    assert table.peak_a.tolist() == pytest.approx([180.0, 90.0, 270.0])
    assert table.greatest_a.tolist() == pytest.approx([180.0, 120.0, 270.0])
    assert table.rated_a.tolist() == pytest.approx([20.0, 10.0, 30.0])
    assert table.peukert.tolist() == [1.1, 1.1, 1.1]
    assert table.external_ohm.tolist() == [0.01, 0.02, 0.03]
    which = np.array([0, 2])
    # 0.1 + 0.2 x 0.8 = 0.26: 3.104 V, and a factor of 1.48 on 4 mohm.
    volts, ohms = table.nearly_empty(which, 0.05)
    assert volts.tolist() == pytest.approx([31.04, 6.208], **near)
    assert ohms.tolist() == pytest.approx([0.00592 * 5 + 0.05, 0.00592 * 2 / 3 + 0.05], **near)


def test_levels_of_a_pack_by_hand() -> None:
    table = one_pack(MODULE, 10.0, 2.0, 0.01)
    which = np.array([0])
    soc = np.linspace(0.1, 0.9, 8_001)
    volts = MODULE.open_circuit(soc)
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (volts[1:] + volts[:-1]) * np.diff(soc))])
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        at = int(np.searchsorted(energy, share * energy[-1] * (1 - 1e-12)))
        found_v, found_ohm = table.at_level(which, np.array([share]))
        exact = 10 * float(volts[at])
        assert exact - 1e-9 <= float(found_v[0]) <= exact + 0.02
        least = float(MODULE.resistance(soc[: at + 1]).min()) * 10 / 2 + 0.01
        assert least - 2e-4 <= float(found_ohm[0]) <= least + 1e-9
    # Between two levels the next one up; outside, the ends.
    up = table.at_level(which, np.array([0.5 + 1e-6]))
    assert up == table.at_level(which, np.array([0.5 + 1 / 128]))
    assert table.at_level(which, np.array([2.0])) == table.at_level(which, np.array([1.0]))
    assert table.at_level(which, np.array([-1.0])) == table.at_level(which, np.array([0.0]))
    assert pack_table([MODULE], which, np.ones(1), np.ones(1)).external_ohm.tolist() == [0.0]


def test_the_least_power_of_a_current_by_hand() -> None:
    table = one_pack(MODULE, 10.0, 2.0)
    which = np.array([0])

    def by_hand(limit: float, ohm: float) -> float:
        found = []
        for soc in (0.1, 0.5, 0.9):
            volts = 10 * float(MODULE.open_circuit(np.array([soc]))[0])
            total = 5 * float(MODULE.resistance(np.array([soc]))[0]) + ohm
            amps = min(limit, volts / (2 * total))
            found.append(amps * (volts - total * amps))
        return min(found)

    for limit, ohm in ((100.0, 0.02), (1e6, 0.0), (300.0, 0.05)):
        found = table.greatest_power_w(which, np.array([limit]), ohm)
        assert found.tolist() == pytest.approx([by_hand(limit, ohm)], rel=1e-9)


# -- torques of classes --------------------------------------------------------------------------


def strength(system: System, ohm: float) -> Strength:
    asked, table = reference_asked(system, ohm), one_pack(system.pack)
    which, limit = np.array([0]), np.array([min(
        system.controller.battery_current_a, system.pack.discharge_limit_a(10.0))])  # fmt: skip
    open_v, inner = table.nearly_empty(which, ohm)
    assert asked.soc == pytest.approx(system.pack.soc_min + 0.2 * (1 - system.pack.soc_min))
    reference = getattr(system.motor, "reference_voltage_v", 1.0)
    return Strength(open_v, inner, table.greatest_power_w(which, limit, ohm), np.array([reference]))


def weak_packs(name: str) -> list[System]:
    system = system_of(name)
    packs = [
        replace(
            system.pack, resistance_ohm=system.pack.resistance_ohm * factor,
            discharge_10s_a=amps, discharge_continuous_a=min(amps, 150.0),
        )
        for factor, amps in ((1.0, 600.0), (2.0, 300.0), (4.0, 160.0))
    ]  # fmt: skip
    return [replace(system, pack=pack, limit_tables={}) for pack in packs]


@pytest.mark.parametrize("name", ["lithium", "lead"])
def test_torques_of_a_class_of_one_are_nearly_its_own(name: str) -> None:
    systems = weak_packs(name)
    each = [strength(system, 0.01) for system in systems]
    packs = Strength(
        *(np.concatenate([getattr(one, key) for one in each])
          for key in ("open_v", "ohm", "most_w", "reference_v"))
    )  # fmt: skip
    alone = np.arange(3)
    low, high = torque_bounds(systems[0], packs, packs, alone, 3)
    together = np.zeros(3, dtype=np.int64)
    floor, roof = torque_bounds(systems[0], packs, packs, together, 1)
    for at, system in enumerate(systems):
        table = reference_table(system, 0.01)
        most = float(table.torque_nm.max())
        assert (low[at] <= table.torque_nm + 1e-9).all()
        assert (high[at] >= table.torque_nm - 1e-9).all()
        # A step of 1/96 of the power and one of 1/256 of the torque are what they may lack.
        assert float((table.torque_nm - low[at]).max()) <= 0.04 * most
        assert float((high[at] - table.torque_nm).max()) <= 0.04 * most
        assert (floor[0] <= low[at] + 0.02 * most).all()
        assert (roof[0] >= high[at] - 0.02 * most).all()


def test_between_the_speeds_of_a_table() -> None:
    system = compact_lithium()
    step = 838.0 / (REFERENCE_POINTS - 1)
    tables = np.linspace(200.0, 73.0, REFERENCE_POINTS)[None, :]
    speed = np.array([0.0, 0.4 * step, step, 1.5 * step, 838.0, 2_000.0])
    assert between(system, tables, speed, strong=True)[0].tolist() == pytest.approx(
        [200.0, 200.0, 199.0, 199.0, 74.0, 74.0]
    )
    assert between(system, tables, speed, strong=False)[0].tolist() == pytest.approx(
        [199.0, 199.0, 198.0, 198.0, 73.0, 73.0]
    )


def test_voltage_left_by_hand() -> None:
    volts, ohm = np.array([100.0]), np.array([0.5])
    packs = Strength(volts, ohm, np.array([1e9]), np.array([2.0]))
    for power, left in ((1_800.0, 90.0), (5_000.0, 50.0), (0.0, 100.0)):
        assert float(packs.left(np.array([power]))[0]) == pytest.approx(left / 2)
        assert float(voltage_under(np.array([power]), volts, ohm)[0]) == pytest.approx(left)
    assert float(packs.left(np.array([5_001.0]))[0]) == -math.inf
    assert float(voltage_under(np.array([5_001.0]), volts, ohm)[0]) == -math.inf


# -- seconds that are missed ---------------------------------------------------------------------


@pytest.mark.parametrize("name", ["lithium", "lead"])
def test_missed_seconds_are_nearly_those_of_the_drive(name: str) -> None:
    """One gear, a pull that grows second by second: the first torque out of reach, to a second."""
    speeds = np.concatenate([np.linspace(0.0, 30.0, 61), np.full(20, 30.0)])
    profile = from_speeds(speeds, "pull", 0.1 * 0.5 * (speeds[1:] + speeds[:-1]))
    line = replace(system_of(name).driveline, ratios=(5.0,), shift_speeds_m_s=())
    for system in weak_packs(name):
        one = replace(system, driveline=line, limit_tables={}, reference_external_ohm=0.01)
        lap = drive_lap(one, profile, fixed_gear(profile, 0), 1_300.0)
        real = int(lap.missed.sum())
        assert 10 < real < 80
        speed = line.motor_speed(profile.mean_speed_m_s, 5.0)
        asked = line.shaft_torque(
            np.minimum(
                force_of(one, profile, 1_300.0), line.grip_force(1_300.0, profile.cosine)
            ),
            5.0, profile.acceleration_m_s2,
        )  # fmt: skip
        found = missed_seconds(
            one, asked[None, None, :], speed[None, :], np.ones(profile.steps, dtype=np.int64),
            strength(one, 0.01), np.array([0]),
        )  # fmt: skip
        assert real - 3 <= int(found[0]) <= real


def force_of(system: System, profile: Profile, mass: float) -> Any:
    from bomplan.physics.demand import force_terms

    per_kg, fixed = force_terms(system.road, profile, system.driveline.rotating_mass_factor)
    return mass * per_kg + fixed


# -- the screen ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["lithium", "lead"])
@pytest.mark.parametrize(
    ("profile", "reserve", "most"),
    [
        ("constant 60 km/h", 0.0, 1.012), ("constant 60 km/h", 0.2, 1.012),
        ("ece-15", 0.0, 1.06), ("ece-15", 0.15, 1.06), ("udds", 0.1, 1.1),
    ],
)  # fmt: skip
def test_the_screen_lets_through_little_more_than_goes(
    name: str, profile: str, reserve: float, most: float
) -> None:
    system, trace = system_of(name), load_profile(profile)
    system = replace(system, pack=replace(system.pack, min_voltage_v=20.0), limit_tables={})
    gears = choose_gears(system, trace, 1_600.0)
    real = range_answer(system, trace, gears, 1_300.0, 0.0, 300.0, 0.0, reserve)
    assert real.followed
    table = one_pack(system.pack)

    def reached(metres: float) -> bool:
        asked = Asked(
            metres, reserve, 300.0, 1_600.0, system.reference_external_ohm,
            system.controller.battery_current_a,
        )  # fmt: skip
        which = np.array([0])
        return bool(may_reach(system, trace, asked, table, which, np.array([1_300.0]), 1, 1)[0])

    far = threshold(reached, real.distance_m, 2 * real.distance_m)
    assert far <= most * real.distance_m


@pytest.mark.parametrize("name", ["lithium", "lead"])
def test_the_screen_sees_the_cut_off(name: str) -> None:
    """A pack whose voltage falls under the cut-off long before it is empty."""
    system, trace = system_of(name), load_profile("constant 60 km/h")
    gears = choose_gears(system, trace, 1_600.0)
    free = replace(system, pack=replace(system.pack, min_voltage_v=20.0), limit_tables={})
    whole = range_answer(free, trace, gears, 1_300.0, 0.0, 300.0)
    volts = whole.min_voltage_v
    early = replace(system, pack=replace(system.pack, min_voltage_v=volts * 1.06), limit_tables={})
    real = range_answer(early, trace, gears, 1_300.0, 0.0, 300.0)
    assert real.end_cause == "voltage"
    assert real.distance_m < 0.97 * whole.distance_m

    def reached(metres: float) -> bool:
        asked = Asked(metres, 0.0, 300.0, 1_600.0, 0.01, early.controller.battery_current_a)
        which, mass = np.array([0]), np.array([1_300.0])
        return bool(may_reach(early, trace, asked, one_pack(early.pack), which, mass, 1, 1)[0])

    far = threshold(reached, real.distance_m, 2 * whole.distance_m)
    assert far <= 1.03 * real.distance_m + 0.02 * whole.distance_m
