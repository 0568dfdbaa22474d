"""Where the slope drives the car a heavier one may go farther: a failure tells of itself alone."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from bomplan import api
from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.records import Core, Couplers
from bomplan.physics import (
    System,
    asks_much_downhill,
    choose_gears,
    load_profile,
    range_answer,
    route_profile,
)
from bomplan.project.records import Project
from bomplan.requirements.simulated import Simulated, asked_downhill, mass_never_pays

CORE = Core(
    motor="motor-mid-72v-20kw",
    controller="inverter-72v-400a",
    final_ratio=4.6,
    module="lfp-cell-80",
    series=22,
    parallel=1,
    topology="groups",
    battery_a=220,
)
# Up slowly, and down so fast that the air takes more than the slope gives.
POINTS_M, LIMITS_M_S, HEIGHTS_M = [0.0, 2_500.0, 5_000.0], [12.0, 25.0, 25.0], [0.0, 136.0, 0.0]
HILL = route_profile(np.array(POINTS_M), np.array(LIMITS_M_S), np.array(HEIGHTS_M), np.zeros(3))


@cache
def simulator(distance_m: int = 20_000, heights_m: tuple[float, ...] = (0.0,)) -> Simulator:
    """The motorcycle on the hill, or on a road of other heights."""
    project = api.open_project("example:courier-motorcycle").project
    fields = project.model_dump()
    heights = heights_m if len(heights_m) == len(POINTS_M) else tuple(HEIGHTS_M)
    fields["routes"] = {
        "hill.csv": [
            {"distance_m": at, "speed_limit_m_s": limit, "elevation_m": height}
            for at, limit, height in zip(POINTS_M, LIMITS_M_S, heights, strict=True)
        ]
    }
    target = fields["targets"]["range"][0]
    fields["targets"]["range"] = [
        {**target, "profile": "hill.csv", "speed_cap_m_s": None, "distance_m": distance_m}
    ]
    context = Context(Project.model_validate(fields), api.load_catalog(project.catalogs))
    return Simulator(context, resolve(context, CORE))


def system() -> System:
    found = simulator()
    target = found.context.project.targets.range[0]
    return found.system(found.context.condition(target.condition), target.load_case)


def test_a_light_car_may_run_into_the_cut_off_voltage_where_a_heavier_one_does_not() -> None:
    car, farther = system(), 0
    for capacity in (0.5, 0.78, 1.1):
        for ohms in (2.8, 3.0):
            pack = replace(
                car.pack,
                resistance_ohm=ohms * car.pack.resistance_ohm,
                capacity_ah=capacity * car.pack.capacity_ah,
            )
            weak = replace(car, pack=pack, limit_tables={})
            gears = choose_gears(weak, HILL, 300.0)
            light, heavy = (
                range_answer(weak, HILL, gears, mass, 0.01, 60.0) for mass in (170.0, 180.0)
            )
            if light.followed and heavy.followed and heavy.distance_m > light.distance_m + 100:
                farther += 1
                assert light.end_cause == "voltage"
                # A whole number of laps and a climb: the energy alone says nothing of it.
                assert HILL.mass_never_pays(light.distance_m)
    assert farther > 0
    factor = car.driveline.rotating_mass_factor
    assert asks_much_downhill(car.road, HILL, factor, 170.0)


def test_what_little_is_asked_down_a_gentle_slope_decides_nothing() -> None:
    car = system()
    factor = car.driveline.rotating_mass_factor
    assert not asks_much_downhill(car.road, load_profile("udds"), factor, 170.0)
    level = simulator(heights_m=(0.0, 0.0, 0.0))
    target = level.context.project.targets.range[0]
    assert not asked_downhill(level.context, target)
    assert Simulated(target).direction(level) == "worsens"
    # As fast up as down: up there much more is asked.
    both = route_profile(np.array(POINTS_M), np.full(3, 20.0), np.array(HEIGHTS_M), np.zeros(3))
    assert not asks_much_downhill(car.road, both, factor, 170.0)
    garden = api.open_project("example:garden-pickup").project
    context = Context(garden, api.load_catalog(garden.catalogs))
    for target in garden.targets.range:
        assert not asked_downhill(context, target)
        assert mass_never_pays(context, target)


@pytest.mark.parametrize(("distance_m", "both"), [(20_000, {False}), (200_000, {False, True})])
def test_only_an_empty_pack_fails_for_every_heavier_bill_too(
    distance_m: int, both: set[bool]
) -> None:
    car = simulator(distance_m)
    target = car.context.project.targets.range[0]
    requirement, told = Simulated(target), set()
    assert requirement.direction(car) == "none"
    for uohm in (6_000, 60_000, 120_000, 250_000):
        couplers = Couplers(added_g=60_000, external_uohm=uohm, mean_12v_w=60)
        answer = car.range(target, couplers)
        if requirement.check(car, couplers).passed:
            continue
        beyond = requirement.fails_beyond(car, couplers)
        assert beyond == (answer.followed and answer.end_cause != "voltage")
        told.add(beyond)
    assert told == both
