"""Of every plan: no part below the voltage that it sees, no conductor without its fuse.

The released plan and the sound car of the dangerous cases in the fast lane, the three shipped
examples in the slow one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from dangerous_cases import sound
from shipped_examples import NAMES, plan_of
from todays_plan import todays_plan

from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.design.circuit import circuit
from bomplan.design.circuit_fusing import unfused
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Check, Plan

# Every family on the pack's voltage, and the column of what it is rated for.
RATINGS = {
    "controller": "v_max_abs",
    "cable": "v_rating",
    "fuse": "v_dc",
    "fuse_holder": "v_dc",
    "contactor": "v_max",
    "service_disconnect": "v_dc",
    "emergency_disconnect": "v_dc",
    "precharge_resistor": "v_max",
    "precharge_relay": "v_dc",
    "branch_fuse": "v_dc",
    "branch_fuse_holder": "v_dc",
    "branch_cable": "v_rating",
    "junction_box": "v_dc",
    "dcdc": "v_in_max",
    "heater": "v_max",
    "heater_relay": "v_dc",
    "isolation_monitor": "v_max",
    "charger": "v_out_max",
}


@cache
def small() -> Plan:
    car = sound()
    said = PackSaid(placement=car.placement)
    found = audit_parts_list(car.project(), car.catalog(), car.typed(), said).plan
    assert found is not None
    return found


PLANS = [
    pytest.param(todays_plan, id="released"),
    pytest.param(small, id="small"),
    *(
        pytest.param(lambda name=name: plan_of(name), id=name, marks=pytest.mark.slow)
        for name in NAMES
    ),
]
EACH = pytest.mark.parametrize("made", PLANS)


def by_id(plan: Plan) -> dict[str, Check]:
    return {check.id: check for check in plan.checks}


@EACH
def test_no_rating_lies_below_the_voltage_that_the_part_sees(made: Callable[[], Plan]) -> None:
    plan = made()
    assert plan.core is not None
    assert plan.performance is not None
    catalog, charged = catalog_of(plan), plan.performance.charge_v
    seen = 0
    for line in plan.lines:
        if line.family in RATINGS:
            part = catalog.family(line.family)[line.part]
            assert part.number(RATINGS[line.family]) >= charged, line.part
            seen += 1
    assert seen >= 12
    motor = catalog.family("motor")[plan.core.motor]
    if motor.text("kind") == "series_dc":
        # Behind a chopper the commutator sees the motor-volt limit, not the pack.
        assert motor.number("max_motor_v_high_current") <= motor.number("max_motor_v")


@EACH
def test_every_conductor_has_its_fuse_upstream(made: Callable[[], Plan]) -> None:
    plan = made()
    found = circuit(plan)
    assert unfused(found) == ()
    kinds = set()
    for wire in found.wires:
        if wire.kind in ("cable", "bar", "stud", "branch"):
            kinds.add(wire.kind)
            assert found.blocks[wire.fuse].kind == "fuse", wire.tag
    assert {"cable", "branch"} <= kinds


@EACH
def test_the_fuse_protects_at_the_least_and_at_the_greatest_fault(
    made: Callable[[], Plan],
) -> None:
    checks = by_id(made())
    assert "-limited" in checks["protection.route"].words
    for name in (
        "protection.route",
        "fuse.least-fault",
        "fuse.clears-in-time",
        "fuse.breaking",
        "cable.withstand-least",
        "cable.withstand-greatest",
        "branch_fuse.breaking",
    ):
        assert checks[name].passed, name
        assert checks[name].source
    assert checks["cable.withstand-least"].limit == checks["cable.withstand-greatest"].limit


@EACH
def test_the_controller_is_set_within_all_that_bounds_it(made: Callable[[], Plan]) -> None:
    plan = made()
    assert plan.core is not None
    context = Context(project_of(plan), catalog_of(plan))
    drive = resolve(context, plan.core)
    assert plan.core.battery_a == drive.battery_limit_a
    assert drive.battery_limit_a <= drive.figures.discharge_10s_a
    assert plan.performance is not None
    assert plan.performance.design_peak_a == pytest.approx(drive.battery_limit_a, abs=0.05)
