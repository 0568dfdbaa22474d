"""Ratings held against the rolling means of the declared driving."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from shipped_examples import generic, project_of

from bomplan.design.adapter import Simulator
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive, resolve
from bomplan.design.records import Check, Core, Couplers
from bomplan.requirements.sustained import sustained_checks

SERIES = Core(
    motor="motor-series-232mm-used", controller="chopper-120v-450a", final_ratio=3.9,
    module="nmc-pouch-block-8s2p-64", series=4, parallel=3, topology="groups",
)  # fmt: skip
ALTERNATING = Core(
    motor="motor-mid-72v-20kw", controller="inverter-72v-400a", final_ratio=4.6,
    module="lfp-cell-80", series=22, parallel=1, topology="groups",
)  # fmt: skip


def driven(name: str, core: Core) -> tuple[Context, Drive, DesignCurrents]:
    context = Context(project_of(name), generic())
    drive = resolve(context, core)
    return context, drive, design_currents(context, drive, Simulator(context, drive))


def by_id(context: Context, drive: Drive, currents: DesignCurrents) -> dict[str, Check]:
    return {check.id: check for check in sustained_checks(context, drive, currents)}


def loads(currents: DesignCurrents, **change: float) -> DesignCurrents:
    return replace(currents, rolling=tuple(replace(load, **change) for load in currents.rolling))


@pytest.fixture(scope="module")
def series() -> tuple[Context, Drive, DesignCurrents]:
    return driven("garden-pickup", SERIES)


@pytest.fixture(scope="module")
def alternating() -> tuple[Context, Drive, DesignCurrents]:
    return driven("courier-motorcycle", ALTERNATING)


def test_every_rated_time_has_its_check(
    series: tuple[Context, Drive, DesignCurrents],
    alternating: tuple[Context, Drive, DesignCurrents],
) -> None:
    assert set(by_id(*series)) == {
        "current.pack-continuous", "current.pack-minute", "current.motor-hour",
        "current.motor-five-minute", "current.motor-continuous", "motor.stall",
        "current.controller-hour", "current.controller-continuous",
    }  # fmt: skip
    assert set(by_id(*alternating)) == {
        "current.pack-continuous", "current.pack-minute", "power.motor-hour",
        "power.motor-load-hour", "power.motor-load-continuous",
        "current.controller-hour", "current.controller-continuous",
    }  # fmt: skip
    assert all(check.passed for check in by_id(*series).values())
    assert all(check.passed for check in by_id(*alternating).values())


@pytest.mark.parametrize(
    ("id", "change"),
    [
        ("current.pack-minute", {"battery_a": 451.0}),  # 450 A, no margin for a minute
        ("current.motor-five-minute", {"motor_a": 290.0}),  # 310 A
        ("current.motor-continuous", {"motor_a": 155.0}),  # 165 A
        ("current.controller-continuous", {"motor_a": 170.0}),  # 185 A
    ],
)
def test_a_mean_above_the_rating_less_its_margin_fails(
    series: tuple[Context, Drive, DesignCurrents], id: str, change: dict[str, float]
) -> None:
    context, drive, currents = series
    assert not by_id(context, drive, loads(currents, **change))[id].passed


def test_load_below_base_speed_counts_as_the_power_it_takes_there(
    alternating: tuple[Context, Drive, DesignCurrents],
) -> None:
    """Half of the peak current is half of 14 kW, however slowly the motor turns."""
    context, drive, currents = alternating
    half = by_id(context, drive, loads(currents, motor_share=0.5))
    assert half["power.motor-load-hour"].value == pytest.approx(7.0 * 1.1)
    assert half["power.motor-load-hour"].passed
    assert not half["power.motor-load-continuous"].passed  # 7 kW for ever, less a tenth


def test_a_steep_start_under_too_much_current_burns_the_commutator(
    series: tuple[Context, Drive, DesignCurrents],
) -> None:
    context, drive, currents = series
    fair = by_id(context, drive, replace(currents, stall_a=310.0))["motor.stall"]
    assert (fair.value, fair.passed) == (3.0, True)
    hard = by_id(context, drive, replace(currents, stall_a=620.0))["motor.stall"]
    assert (hard.value, hard.passed) == (0.75, False)
    assert "motor.stall" not in by_id(context, drive, replace(currents, stall_a=0.0))


def test_for_ever_is_asked_only_of_drives_of_two_hours(
    series: tuple[Context, Drive, DesignCurrents],
) -> None:
    context, drive, currents = series
    windows = [load.seconds for load in currents.rolling]
    assert windows == [60.0, 300.0, 3600.0, math.inf]  # the summer round takes 9,900 s
    short = replace(currents, rolling=tuple(x for x in currents.rolling if x.seconds < math.inf))
    assert "current.motor-continuous" not in by_id(context, drive, short)


def test_no_bill_changes_them(series: tuple[Context, Drive, DesignCurrents]) -> None:
    """They read the core at the reference mass: the same whatever stands in the bill."""
    context, drive, currents = series
    simulator = Simulator(context, drive)
    for target in context.project.targets.range:
        simulator.range(target, Couplers(added_g=300_000, external_uohm=9_000, mean_12v_w=400))
    assert design_currents(context, drive, simulator) == currents
