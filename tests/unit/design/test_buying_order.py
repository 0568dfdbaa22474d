"""What to order when: gates hold goods, the longest on its way goes first, nothing waits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from money_plan import money_plan

from bomplan.audit.money import money_checks
from bomplan.design.bill import RULES
from bomplan.design.buying_order import GATE_IDS, GATES, buying_order, gates_of, lead_days
from bomplan.design.money import with_money
from bomplan.design.money_records import BuyingOrder
from bomplan.design.planfile import project_of, read_plan
from bomplan.design.records import Plan
from bomplan.project.records import Project

RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"
PLAN = read_plan(RELEASED)
PROJECT = project_of(PLAN)


def with_budget(**budget: Any) -> Project:
    return PROJECT.model_copy(
        update={"budget": PROJECT.budget.model_copy(update=budget), "provenance": {}}
    )


def order(plan: Plan = PLAN, **budget: Any) -> BuyingOrder:
    found = buying_order(plan, with_budget(**budget))
    assert found is not None
    return found


def test_gates_wait_for_earlier_ones_only() -> None:
    seen: set[str] = set()
    for rule in GATES:
        assert set(rule.after) <= seen, rule.id
        for family in rule.after_here:
            assert set(gates_of(family)) <= seen, (rule.id, family)
        seen.add(rule.id)


def test_what_must_not_be_bought_before_what() -> None:
    assert {"bays-measured", "stripped", "approval"} <= set(gates_of("box"))
    assert {"face-measured", "approval"} <= set(gates_of("adapter_plate"))
    assert "places-fixed" in gates_of("cable")
    assert gates_of("fuse_box_12v") == ("approval",)
    assert "outlet-checked" in gates_of("charger")
    assert gates_of("contactor") == ("approval",)
    assert gates_of("safety_kit") == ()


def test_whatever_is_cut_to_a_run_waits_until_the_runs_are_measured() -> None:
    """All that is bought by the metre, and what goes on the ends of it."""
    for rule in RULES:
        if rule.unit == "m" and rule.system != "pack":
            assert "places-fixed" in gates_of(rule.family), rule.family
        if rule.family.endswith(("lug", "gland")) and rule.system != "pack":
            assert "places-fixed" in gates_of(rule.family), rule.family


def test_days_by_hand() -> None:
    told = order()
    days = {gate.id: gate.day for gate in told.gates}
    # 3; 5; 28 after both; 21 after the weighing; 3 after that; 10; and 14 after the motor
    # (no supplier's lead: 7 days from the dismantler), controller and boxes are here.
    assert days["weighed"] == 3
    assert days["approval"] == 33
    assert days["stripped"] == 24
    assert days["face-measured"] == 27
    by = {one.family: one for one in told.orders}
    here = max(by[family].arrives_day for family in ("box", "motor", "controller"))
    assert by["controller"].arrives_day == here == 33 + by["controller"].lead_days
    assert days["places-fixed"] == here + 14
    assert by["cable"].order_day == days["places-fixed"]
    assert told.all_here_day == max(one.arrives_day for one in told.orders)
    # What another gate waits for may not slip: the boxes must be here with the controller.
    assert by["box"].latest_day == here - by["box"].lead_days


def test_every_line_once_and_in_order() -> None:
    told = order()
    bought = [line.family for line in PLAN.lines if line.bought and line.family != "shipping"]
    assert sorted(one.family for one in told.orders) == sorted(bought)
    key = [(one.order_day, -one.lead_days) for one in told.orders]
    assert key == sorted(key)
    for one in told.orders:
        assert one.earliest_day <= one.order_day <= one.latest_day


def test_one_order_at_each_supplier_where_nothing_waits_for_it() -> None:
    told = order()
    for supplier in ("northern-wholesale", "yard-salvage"):
        days = {one.order_day for one in told.orders if one.supplier == supplier}
        assert len(days) == 1, supplier
    assert told.later_shipments == ()


def test_a_second_shipment_is_said_and_summed() -> None:
    # The controller bought where the cable is: it cannot wait, for the cable waits for it.
    lines = tuple(
        line.model_copy(update={"supplier": "northern-wholesale"})
        if line.family in ("controller", "cable")
        else line
        for line in PLAN.lines
    )
    plan = PLAN.model_copy(update={"lines": lines})
    told = order(plan)
    (later,) = told.later_shipments
    assert (later.supplier, len(later.days), later.shipping) == ("northern-wholesale", 2, 13340)
    summed = with_money(plan, with_budget()).whole_sum
    assert summed is not None
    item = next(one for one in summed.items if one.id == "later-shipment-northern-wholesale")
    assert (item.low, item.typical, item.high) == (0, 13340, 13340)


def test_lead_days_of_the_supplier_else_of_the_part() -> None:
    by = {line.family: line for line in PLAN.lines}
    assert lead_days(PLAN, by["module"]) == (7, True)  # the dismantler's
    assert lead_days(PLAN, by["controller"]) == (15, True)  # its own
    stranger = by["controller"].model_copy(update={"part": "not-in-the-plan"})
    assert lead_days(PLAN, stranger) == (0, False)


def test_tools_come_first_and_springs_after_the_weighing() -> None:
    plan = money_plan(at_hand=["clamp-meter"])
    told = plan.buying_order
    assert told is not None
    by = {one.part: one for one in told.orders if one.family in ("tool", "chassis")}
    assert {"crimp-tool", "voltage-tester", "springs-car", "dampers-car"} <= by.keys()
    assert "clamp-meter" not in by
    assert (by["crimp-tool"].gates, by["crimp-tool"].order_day) == ((), 0)
    assert {"approval", "stripped"} == set(by["springs-car"].gates)
    assert by["springs-car"].arrives_day == by["springs-car"].order_day + 14
    fewer = told.model_copy(update={"orders": told.orders[1:]})
    wrong = plan.model_copy(update={"buying_order": fewer})
    failed = {c.id for c in money_checks(wrong, project_of(wrong)) if not c.passed}
    assert failed == {"audit.buying-order"}


def test_what_is_passed_holds_nothing() -> None:
    told = order(passed=GATE_IDS)
    assert {gate.day for gate in told.gates} == {0}
    assert {one.order_day for one in told.orders} == {0}
    measured = PROJECT
    assert "weighed" not in {gate.id for gate in order().gates if gate.passed}
    own = buying_order(PLAN, measured)
    assert own is not None
    # The pickup's project says of both axle readings that they are measured.
    assert {gate.id for gate in own.gates if gate.passed} == {"weighed"}


@given(
    st.dictionaries(st.sampled_from(GATE_IDS), st.integers(0, 200)),
    st.sets(st.sampled_from(GATE_IDS)),
)
def test_any_days_and_gates_hold_together(days: dict[str, int], passed: set[str]) -> None:
    project = with_budget(gate_days=days, passed=tuple(sorted(passed)))
    plan = with_money(PLAN, project)
    assert [check.id for check in money_checks(plan, project) if not check.passed] == []


@pytest.mark.parametrize("key", ["earliest_day", "order_day", "arrives_day", "lead_days"])
def test_the_audit_sees_an_order_that_comes_too_early(key: str) -> None:
    plan = with_money(PLAN, with_budget())
    told = plan.buying_order
    assert told is not None
    for index, one in enumerate(told.orders):
        forged = one.model_copy(update={key: getattr(one, key) - 1})
        orders = (*told.orders[:index], forged, *told.orders[index + 1 :])
        wrong = plan.model_copy(update={"buying_order": told.model_copy(update={"orders": orders})})
        failed = {c.id for c in money_checks(wrong, with_budget()) if not c.passed}
        if key == "earliest_day" and one.earliest_day == 0:
            continue
        assert failed == {"audit.buying-order"}, (one.family, key)


def test_the_audit_sees_a_gate_that_opens_too_early() -> None:
    plan = with_money(PLAN, with_budget())
    told = plan.buying_order
    assert told is not None
    for index, gate in enumerate(told.gates):
        gates = list(told.gates)
        gates[index] = gate.model_copy(update={"day": gate.day - 1})
        wrong = plan.model_copy(
            update={"buying_order": told.model_copy(update={"gates": tuple(gates)})}
        )
        failed = {c.id for c in money_checks(wrong, with_budget()) if not c.passed}
        assert failed == {"audit.buying-order"}, gate.id
