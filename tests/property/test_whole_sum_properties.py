"""The whole sum for any budget: its ends stand in order, dearer is never cheaper, it audits."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import examples
from money_plan import base, money_plan

from bomplan.audit.money import money_checks
from bomplan.design.money_records import WholeSum
from bomplan.design.planfile import project_of

money = st.integers(0, 10_000_000)
share = st.integers(0, 100).map(lambda part: part / 100)


@st.composite
def ordered(draw: st.DrawFn, **more: Any) -> dict[str, Any]:
    low, amount, high = sorted(draw(st.tuples(money, money, money)))
    return {"low": low, "amount": amount, "high": high, **more}


@st.composite
def budgets(draw: st.DrawFn) -> dict[str, Any]:
    names = draw(st.lists(st.sampled_from(["inspection", "paint", "seats", "crimp-tool"]),
                          unique=True))  # fmt: skip
    return {
        "contingency": draw(share),
        "prices_fall": draw(share),
        "prices_rise": draw(share),
        "hours_fall": draw(share),
        "hours_rise": draw(share),
        "workshop_share": draw(share),
        "items": [draw(ordered(name=name, hours=draw(st.integers(0, 400)) / 4)) for name in names],
        "sold": [draw(ordered(name="engine"))] if draw(st.booleans()) else [],
        "at_hand": draw(st.lists(st.sampled_from(["clamp-meter", "engine-hoist"]), unique=True)),
    }


def whole(**more: Any) -> WholeSum:
    found = money_plan(**more).whole_sum
    assert found is not None
    return found


@settings(max_examples=examples(8, 25), deadline=None)
@given(budget=budgets(), rate=st.none() | st.integers(0, 20_000))
def test_ends_in_order_and_audited(budget: dict[str, Any], rate: int | None) -> None:
    plan = money_plan(rate=rate, **budget)
    told = plan.whole_sum
    assert told is not None
    assert told.low <= told.typical <= told.high
    assert all(item.low <= item.typical <= item.high for item in told.items)
    assert told.hours.low <= told.hours.typical <= told.hours.high
    wrong = [check.words for check in money_checks(plan, project_of(plan)) if not check.passed]
    assert wrong == []


@settings(max_examples=examples(15, 15), deadline=None)
@given(budget=budgets(), more=st.integers(1, 1_000_000))
def test_a_dearer_row_never_lowers_the_sum(budget: dict[str, Any], more: int) -> None:
    plan = base()
    rows = plan.parts_used["extras"]
    dearer = [
        {**row, "price": row["price"] + more, "price_high": row["price_high"] + more}
        if row["kind"] == "tool"
        else row
        for row in rows
    ]
    raised = plan.model_copy(update={"parts_used": {**plan.parts_used, "extras": dearer}})
    before, after = whole(**budget), whole(plan=raised, **budget)
    assert after.low == before.low
    assert after.typical >= before.typical
    assert after.high >= before.high


@settings(max_examples=10, deadline=None)
@given(rate=st.integers(1, 20_000), share_paid=share)
def test_owning_a_tool_or_working_oneself_never_costs_more(rate: int, share_paid: float) -> None:
    paid = whole(rate=rate, workshop_share=share_paid)
    own = whole(rate=None)
    assert own.typical <= paid.typical
    held = whole(rate=rate, workshop_share=share_paid, at_hand=["crimp-tool", "clamp-meter"])
    assert held.typical <= paid.typical
    assert held.hours == paid.hours
