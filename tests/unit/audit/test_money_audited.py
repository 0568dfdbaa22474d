"""Each figure of the whole sum and of the buying order, off by one: what the audit says of it."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from money_plan import money_plan

from bomplan.audit.money import money_checks
from bomplan.design.money_records import BuyingOrder, Gate, Order, SumItem, WholeSum
from bomplan.design.planfile import project_of
from bomplan.design.records import Check, Plan
from bomplan.project.records import Project

SUM = "figures of the whole sum that differ"
ORDER = "orders or gates that do not fit together"
BUDGET: dict[str, Any] = {
    "items": [
        {"name": "paint", "amount": 9_999, "hours": 2.5},
        {"name": "weighbridge", "amount": 4_000},
    ],
    "at_hand": ["crimp-tool"],
    "workshop_share": 0.5,
}


@cache
def plan() -> Plan:
    return money_plan(**BUDGET)


def project() -> Project:
    return project_of(plan())


def the_sum() -> WholeSum:
    found = plan().whole_sum
    assert found is not None
    return found


def the_order() -> BuyingOrder:
    found = plan().buying_order
    assert found is not None
    return found


def checked(wrong: Plan, of: Project | None = None) -> list[Check]:
    return list(money_checks(wrong, of or project()))


def told(wrong: Plan, of: Project | None = None) -> list[str]:
    """What is wrong, in the words of the two checks."""
    found = []
    for one, head in zip(checked(wrong, of), (SUM, ORDER), strict=True):
        assert one.passed == (one.value == 0)
        if one.passed:
            assert one.words == head
        else:
            assert one.words.startswith(f"{head}: ")
            found += one.words.removeprefix(f"{head}: ").split("; ")
    return found


def test_a_plan_as_it_should_be() -> None:
    assert told(plan()) == []
    assert [
        (one.id, one.words, one.value, one.limit, one.unit, one.sense, one.source)
        for one in checked(plan())
    ] == [
        (name, head, 0, 0, "figures", "at most",
         "counted again from the plan's own lines, rows and project")
        for name, head in (("audit.whole-sum", SUM), ("audit.buying-order", ORDER))
    ]  # fmt: skip


def test_a_plan_older_than_its_money_has_nothing_to_fail() -> None:
    assert told(plan().model_copy(update={"whole_sum": None, "buying_order": None})) == []


def with_sum(**changes: Any) -> Plan:
    return plan().model_copy(update={"whole_sum": the_sum().model_copy(update=changes)})


def item(name: str) -> SumItem:
    return next(one for one in the_sum().items if one.id == name)


def with_item(name: str, **more: int | float) -> Plan:
    """One item changed by so much, and the sums of the whole with it."""
    items = tuple(
        one.model_copy(update={key: getattr(one, key) + step for key, step in more.items()})
        if one.id == name
        else one
        for one in the_sum().items
    )
    ends = {end: getattr(the_sum(), end) + more.get(end, 0) for end in ("low", "typical", "high")}
    return with_sum(items=items, **ends)


# -- the whole sum -----------------------------------------------------------------------------


@pytest.mark.parametrize("step", [-1, 1])
def test_the_bill_is_that_of_the_lines(step: int) -> None:
    assert told(with_item("bill", typical=step)) == ["bill"]


def test_the_bill_may_not_be_left_out() -> None:
    items = tuple(one for one in the_sum().items if one.id != "bill")
    assert told(with_sum(items=items))[0] == "bill"


def test_an_item_that_stands_twice() -> None:
    again = item("crimp-tool")
    assert told(with_sum(items=(*the_sum().items, again))) == ["an item stands twice"]


@pytest.mark.parametrize("name", ["clamp-meter", "box-fitting-car", "insurance", "crimp-tool"])
@pytest.mark.parametrize("end", ["low", "typical", "high"])
@pytest.mark.parametrize("step", [-1, 1])
def test_a_row_of_the_catalogue_is_priced_by_hand(name: str, end: str, step: int) -> None:
    said = told(with_item(name, **{end: step}))
    assert name in said
    # Nothing but what follows from it: a tenth of one unit more may round another way.
    assert set(said) <= {name, f"{end} contingency"}


def test_a_row_that_is_not_needed_and_one_left_out() -> None:
    row = item("insurance")
    items = tuple(one for one in the_sum().items if one.id != "insurance")
    ends = {end: getattr(the_sum(), end) - getattr(row, end) for end in ("low", "typical", "high")}
    assert "insurance" in told(with_sum(items=items, **ends))
    # With the lines of lugs gone nothing is crimped: the tool is not needed any more.
    lines = tuple(line for line in plan().lines if line.family != "lug")
    assert "crimp-tool" in told(plan().model_copy(update={"lines": lines}))


def test_rows_behind_one_that_is_passed_over_are_looked_at() -> None:
    """A row that the project replaces, and one whose currency has no rate, hide no other."""
    rows = [row["id"] for row in plan().parts_used["extras"]]
    by_kind = sorted(rows, key=lambda name: name != "weighbridge")
    extras = [
        next(row for row in plan().parts_used["extras"] if row["id"] == name) for name in by_kind
    ]
    first = plan().model_copy(update={"parts_used": {**plan().parts_used, "extras": extras}})
    assert told(first) == []
    wrong = first.model_copy(update={"whole_sum": with_item("insurance", high=1).whole_sum})
    assert "insurance" in told(wrong)
    foreign = [{**row, "currency": "SEK"} if row["id"] == rows[0] else row for row in extras]
    items = tuple(one for one in the_sum().items if one.id != rows[0])
    without = with_sum(items=items).model_copy(
        update={"parts_used": {**plan().parts_used, "extras": foreign}}
    )
    assert rows[0] not in told(without)
    raised = tuple(
        one.model_copy(update={"high": one.high + 1}) if one.id == "insurance" else one
        for one in items
    )
    wrong = without.model_copy(update={"whole_sum": the_sum().model_copy(update={"items": raised})})
    assert "insurance" in told(wrong)


@pytest.mark.parametrize(
    ("currency", "rate", "typical"), [("JPY", 0.0058, 5_800), ("SEK", 0.09, 900)]
)
def test_a_row_in_another_currency_is_exchanged_by_its_decimals(
    currency: str, rate: float, typical: int
) -> None:
    """10,000 yen (no decimals) at 0.0058 are 58.00; 100.00 kronor at 0.09 are 9.00."""
    row = {
        "id": "one", "description": "a fee", "kind": "fee", "needed": "always", "price": 10_000,
        "price_low": 10_000, "price_high": 10_000, "currency": currency,
        "price_date": "2026-01-01", "source": "typical",
    }  # fmt: skip
    here = project().model_copy(update={"rates": {currency: rate}})
    bare = plan().model_copy(update={"parts_used": {**plan().parts_used, "extras": [row]}})

    def stated(amount: int) -> Plan:
        one = SumItem(
            id="one", kind="fee", words="", low=amount, typical=amount, high=amount, why="",
            source="",
        )  # fmt: skip
        return bare.model_copy(update={"whole_sum": the_sum().model_copy(update={"items": (one,)})})

    assert "one" not in told(stated(typical), here)
    assert "one" in told(stated(typical - 1), here)
    assert "one" in told(stated(typical + 1), here)


@pytest.mark.parametrize("change", [{"typical": 1}, {"typical": -1}, {"hours": 0.05}])
def test_an_item_of_the_project_is_as_the_project_has_it(change: dict[str, float]) -> None:
    said = told(with_item("paint", **change))
    assert said[0] == "paint"
    assert set(said) <= {"paint", "typical contingency"}


def test_a_sale_is_as_the_project_has_it() -> None:
    for step in (-1, 1):
        assert told(with_item("sold =1+1", typical=step)) == ["sold =1+1"]


def test_an_item_of_the_project_left_out() -> None:
    for name in ("paint", "sold =1+1"):
        gone = item(name)
        items = tuple(one for one in the_sum().items if one.id != name)
        ends = {
            end: getattr(the_sum(), end) - getattr(gone, end) for end in ("low", "typical", "high")
        }
        assert name in told(with_sum(items=items, **ends))


@pytest.mark.parametrize("end", ["low", "typical", "high"])
@pytest.mark.parametrize("step", [-1, 1])
def test_the_ends_are_those_of_the_items(end: str, step: int) -> None:
    assert told(with_sum(**{end: getattr(the_sum(), end) + step})) == [f"{end} sum"]
    assert told(with_item("contingency", **{end: step})) == [f"{end} contingency"]
    assert told(with_item("workshop", **{end: step})) in (
        [f"{end} paid work"],
        [f"{end} contingency", f"{end} paid work"],
    )


def test_wages_are_none_where_no_rate_is_told() -> None:
    free = money_plan(rate=None, **BUDGET)
    assert free.whole_sum is not None
    assert [one for one in free.whole_sum.items if one.kind == "workshop"] == []
    assert told(free, project_of(free)) == []
    # With wages all the same, each of the three ends is told.
    said = told(plan(), project_of(free))
    assert said == ["low paid work", "typical paid work", "high paid work"]


@pytest.mark.parametrize(
    ("key", "slip", "words"),
    [
        ("parts", 0.06, None),
        ("parts", 0.2, "hours of the parts"),
        ("parts", -0.2, "hours of the parts"),
        ("typical", 0.1, None),
        ("typical", 0.3, "hours together"),
        ("typical", -0.3, "hours together"),
    ],
)
def test_hours_are_those_of_lines_and_items(key: str, slip: float, words: str | None) -> None:
    hours = the_sum().hours
    changed = hours.model_copy(update={key: round(getattr(hours, key) + slip, 2)})
    said = told(with_sum(hours=changed))
    # What is paid follows the hours that are told.
    assert [one for one in said if "hours" in one] == ([] if words is None else [words])


def test_hours_are_told_to_a_tenth() -> None:
    """155.16 hours of the parts: 155.06 to 155.26 is what rounding may hide."""
    for stated, fine in ((155.06, True), (155.26, True), (155.05, False), (155.27, False)):
        hours = the_sum().hours.model_copy(update={"parts": stated})
        assert ("hours of the parts" not in told(with_sum(hours=hours))) == fine
    exact = sum(round(one.hours * 100) for one in the_sum().items) + 15_516
    for off, fine in ((20, True), (-20, True), (21, False), (-21, False)):
        hours = the_sum().hours.model_copy(update={"typical": (exact + off) / 100})
        assert ("hours together" not in told(with_sum(hours=hours))) == fine


def test_six_slips_are_named_and_all_are_counted() -> None:
    items = tuple(
        one.model_copy(update={"high": one.high + 7}) if one.kind in ("tool", "work") else one
        for one in the_sum().items
    )
    found = checked(with_sum(items=items))[0]
    names = [row["id"] for row in plan().parts_used["extras"]]
    wrong = [one.id for one in items if one.kind in ("tool", "work")]
    shown = [name for name in names if name in wrong][:6]
    assert found.words == f"{SUM}: {'; '.join(shown)}"
    assert found.value >= len(wrong)


def test_without_the_catalogues_rows_none_is_asked_for() -> None:
    alone = money_plan(**{**BUDGET, "extras": False, "at_hand": []})
    assert told(alone, project_of(alone)) == []
    assert alone.whole_sum is not None
    assert {
        one.kind for one in alone.whole_sum.items if one.source.startswith("catalogue, ")
    } == set()
    assert alone.buying_order is not None
    assert {one.family for one in alone.buying_order.orders} & {"tool", "chassis"} == set()


# -- the order of buying ---------------------------------------------------------------------


def with_order(**changes: Any) -> Plan:
    return plan().model_copy(update={"buying_order": the_order().model_copy(update=changes)})


def with_goods(family: str, **changes: Any) -> Plan:
    orders = tuple(
        one.model_copy(update=changes) if one.family == family else one
        for one in the_order().orders
    )
    return with_order(orders=orders)


def goods(family: str) -> Order:
    return next(one for one in the_order().orders if one.family == family)


@pytest.mark.parametrize(
    ("family", "changes"),
    [
        ("gauge", {"gates": ()}),
        ("gauge", {"gates": ("approval", "stripped")}),
        ("gauge", {"lead_days": 8}),
        ("gauge", {"lead_known": False}),
        ("gauge", {"arrives_day": 41}),
        ("gauge", {"arrives_day": 39}),
        ("gauge", {"earliest_day": 32}),
        ("gauge", {"earliest_day": 34}),
        ("gauge", {"latest_day": 32}),
        ("gauge", {"order_day": 32, "arrives_day": 39}),
        ("gauge", {"order_day": 62, "arrives_day": 69}),
        ("cable", {"earliest_day": 61, "order_day": 61, "arrives_day": 66}),
    ],
)
def test_an_order_that_does_not_fit(family: str, changes: dict[str, Any]) -> None:
    said = told(with_goods(family, **changes))
    assert said[0] == f"{family} {goods(family).part}"
    assert set(said[1:]) <= {"the day on which all is here"}


@pytest.mark.parametrize(
    "changes",
    [
        {"earliest_day": 61, "latest_day": 61, "order_day": 61, "arrives_day": 68},
        {"latest_day": 33},
    ],
)
def test_an_order_at_the_edge_of_its_days_fits(changes: dict[str, int]) -> None:
    assert told(with_goods("gauge", **changes)) == []


@pytest.mark.parametrize("step", [-1, 1])
def test_the_day_on_which_all_is_here(step: int) -> None:
    day = the_order().all_here_day + step
    assert told(with_order(all_here_day=day)) == ["the day on which all is here"]


def test_every_purchase_is_ordered_once_and_nothing_else() -> None:
    orders = the_order().orders
    words = ["the goods that are ordered"]
    assert told(with_order(orders=orders[1:])) == words
    assert told(with_order(orders=(*orders, orders[0]))) == words
    assert told(with_goods("gauge", supplier="nobody")) == words
    assert told(with_goods("gauge", part="another")) == words
    renamed = tuple(one.model_copy(update={"family": "chassis"}) for one in orders)
    assert told(with_order(orders=renamed)) == words
    # The order in which they are told does not matter.
    assert told(with_order(orders=orders[::-1])) == []
    # What is at hand is not ordered, nor is what nothing is bought of.
    assert "crimp-tool" not in {one.part for one in orders}
    lines = tuple(
        line.model_copy(update={"bought": 0}) if line.family == "gauge" else line
        for line in plan().lines
    )
    owned = plan().model_copy(update={"lines": lines})
    assert words[0] in told(owned)
    without = tuple(one for one in orders if one.family != "gauge")
    assert (
        told(
            owned.model_copy(
                update={"buying_order": the_order().model_copy(update={"orders": without})}
            )
        )
        == []
    )


def test_fees_and_work_are_no_goods() -> None:
    kinds = {one.family for one in the_order().orders}
    assert {"tool", "chassis"} <= kinds
    assert not {"fee", "work", "shipping"} & kinds


def with_gate(name: str, **changes: Any) -> Plan:
    gates = tuple(
        one.model_copy(update=changes) if one.id == name else one for one in the_order().gates
    )
    return with_order(gates=gates)


def gate(name: str) -> Gate:
    return next(one for one in the_order().gates if one.id == name)


def gates_told(wrong: Plan, of: Project | None = None) -> list[str]:
    return [words for words in told(wrong, of) if words.startswith("gate ")]


@pytest.mark.parametrize(
    ("name", "day", "fine"),
    [
        ("bays-measured", 4, False),  # five days from the first
        ("bays-measured", 5, True),
        ("approval", 32, False),  # 28 after the bays
        ("approval", 33, True),
        ("stripped", 20, False),  # 21 after the weighing, which is passed
        ("face-measured", 23, False),  # 3 after the engine is out
        ("places-fixed", 61, False),  # 14 after the controller is here
        ("places-fixed", 62, True),
    ],
)
def test_a_gate_opens_when_what_it_waits_for_is_there(name: str, day: int, fine: bool) -> None:
    assert gates_told(with_gate(name, day=day)) == ([] if fine else [f"gate {name}"])


def test_a_gate_waits_for_goods_as_well_as_for_gates() -> None:
    assert gate("places-fixed").takes_days == 14
    late = with_goods("controller", order_day=34, arrives_day=49, latest_day=34)
    assert gates_told(late) == ["gate places-fixed"]
    assert gates_told(with_gate("stripped", day=48)) == ["gate face-measured"]
    assert gates_told(with_gate("face-measured", day=49)) == ["gate places-fixed"]


def test_a_gate_waits_for_no_gate_that_there_is_not() -> None:
    after = (*gate("stripped").after, "no-such-gate")
    assert gates_told(with_gate("stripped", after=after)) == []


def test_a_gate_that_is_passed_is_so_from_the_first_day() -> None:
    assert gate("weighed").passed
    assert gates_told(with_gate("weighed", day=1))[0] == "gate weighed"
    # What stands behind it is looked at all the same.
    assert gates_told(with_gate("bays-measured", day=0)) == ["gate bays-measured"]


def test_what_the_builder_has_behind_him_is_passed() -> None:
    budget = project().budget.model_copy(update={"passed": ("outlet-checked",)})
    here = project().model_copy(update={"budget": budget})
    assert gates_told(plan(), here) == ["gate outlet-checked"]
    passed = with_gate("outlet-checked", passed=True, day=0)
    assert gates_told(passed, here) == []
    assert gates_told(passed) == []
    budget = project().budget.model_copy(update={"passed": ("no-such",)})
    assert gates_told(plan(), project().model_copy(update={"budget": budget})) == []
