"""The controller's battery current is set where a fuse still clears; a lower one is cheaper."""

from __future__ import annotations

from typing import Any

import pytest
from dangerous_cases import sound
from oracle.small_cases import generic

from bomplan.audit.check_plan import audit_plan
from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.catalog.records import Catalog
from bomplan.design.battery_setting import setting_a
from bomplan.design.context import Context
from bomplan.design.drive import pack_figures
from bomplan.design.faults import least_fault_a
from bomplan.design.records import Check, Plan
from bomplan.planner import find_plan

FIXED = {
    "motor": "motor-pm-96v-38kw-air",
    "controller": "inverter-96v-500a",
    "series": 28,
    "parallel": 1,
}


def cells(resistance_mohm: float) -> Catalog:
    """Every shipped row, but of modules only one cell, as weak as said."""
    catalog = generic()
    cell = catalog.families["module"]["lfp-cell-100"]
    figures = {**cell.figures, "resistance_dc_mohm": resistance_mohm}
    weak = cell.model_copy(update={"figures": figures})
    return catalog.model_copy(update={"families": {**catalog.families, "module": {weak.id: weak}}})


def planned(resistance_mohm: float, share: float = 0.45, named: tuple[float, ...] = ()) -> Plan:
    car = sound()
    car.fields["house_rules"] = {"peak_share_of_least_fault": share}
    project = car.project(**FIXED, battery_current_a=list(named))
    return find_plan(project, cells(resistance_mohm))


def row(plan: Plan, family: str) -> str:
    return next(line.part for line in plan.lines if line.family == family)


def by_id(plan: Plan) -> dict[str, Check]:
    return {check.id: check for check in plan.checks}


def test_a_weak_pack_is_planned_with_the_controller_set_down() -> None:
    plan = planned(1.4)
    assert plan.core is not None
    assert plan.core.battery_a == 184
    assert plan.performance is not None
    assert plan.performance.design_peak_a == 184
    least = by_id(plan)["fuse.least-fault"]
    assert plan.core.battery_a <= 0.45 * least.value / 0.95
    why = next(line.why for line in plan.lines if line.family == "controller")
    assert "set to 184 A from the pack: more would leave no fuse" in why
    assert by_id(plan)["current.setting-modules"].value == 184
    assert all(check.passed for check in audit_plan(plan))


def test_with_the_controller_wide_open_no_fuse_is_left_for_it() -> None:
    plan = planned(1.4, share=1.0)
    assert plan.status == "none"
    assert "fuse.least-fault" in by_id(plan)


def test_of_the_settings_named_the_cheapest_that_drives_is_taken() -> None:
    alone = {amps: planned(1.0, named=(amps,)) for amps in (100, 240)}
    both = planned(1.0, named=(240, 100))
    assert both.core is not None
    assert both.core.battery_a == 100
    assert both.objective.value == alone[100].objective.value
    assert both.status == "optimal"
    one, other = alone[100].objective.value, alone[240].objective.value
    assert one is not None
    assert other is not None
    assert one < other
    assert row(both, "cable") == "cable-25mm2-90c"
    assert row(alone[240], "cable") == "cable-25mm2-105c"
    assert by_id(both)["current.setting-project"].passed
    assert all(check.passed for check in audit_plan(both))


def test_a_core_that_drives_too_slowly_at_the_lower_setting_takes_the_higher() -> None:
    car = sound()
    car.fields["targets"] = car.fields["targets"] | {
        "acceleration": [
            {
                "name": "away",
                "speed_m_s": 50 / 3.6,
                "within_s": 11.0,
                "condition": "mild",
                "load_case": "two",
            }
        ]
    }
    named = {"battery_current_a": [60.0, 240.0]}
    plan = find_plan(car.project(**FIXED, **named), cells(1.0))
    assert plan.core is not None
    assert plan.core.battery_a == 240
    slow = find_plan(car.project(**FIXED, battery_current_a=[60.0]), cells(1.0))
    assert slow.status == "none"


@pytest.mark.parametrize(
    ("named", "held_by", "amps"),
    [(None, "modules", 250), (300.0, "modules", 250), (180.5, "project", 180)],
)
def test_what_holds_the_setting(named: float | None, held_by: str, amps: int) -> None:
    car = sound()
    context = Context(car.project(), cells(1.0))
    module = context.catalog.family("module")["lfp-cell-100"]
    controller = context.catalog.family("controller")["inverter-96v-500a"]
    figures = pack_figures(module, 28, 1)
    assert setting_a(context, controller, module, figures, named) == (amps, held_by)
    assert 0.45 * least_fault_a(context, module, figures) > 250


def checks_of(car: Any, **said: Any) -> dict[str, Check]:
    found = audit_parts_list(
        car.project(), car.catalog(), car.typed(), PackSaid(placement=car.placement, **said)
    )
    return {check.id: check for check in found.checks}


def test_a_setting_said_beside_a_list_is_judged() -> None:
    car = sound()
    assert checks_of(car)["current.setting-modules"].value == 250
    high = checks_of(car, battery_a=900.0)
    assert not high["current.setting-modules"].passed
    assert not high["current.setting-controller"].passed
    assert "heat up" in high["current.setting-modules"].caution
    low = checks_of(car, battery_a=120.0)
    assert low["fuse.holds-peak"].value > checks_of(car)["fuse.holds-peak"].value
