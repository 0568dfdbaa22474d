"""The whole sum and the order of buying in sentences, for the summary."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bomplan.design.buying_order import AROUND
from bomplan.design.money_records import Order, SumKind, WholeSum
from bomplan.design.records import Plan
from bomplan.report.lines import whole_money, whole_units
from bomplan.report.text import clean

KIND_WORDS: dict[SumKind, str] = {
    "bill": "Bill of parts with shipping",
    "tool": "Tools",
    "work": "Materials of the work around the parts",
    "chassis": "Springs, dampers, brakes, tyres",
    "fee": "Weighing, inspection, papers, insurance",
    "other": "Other",
    "workshop": "Paid work",
    "contingency": "Contingency",
    "credit": "Parts sold",
}
OUTSIDE = (
    "Everything beside the bill is counted for your purse alone: it chose no part, and the proof"
    " is of the bill."
)
_FIRST = 4


def by_kind(summed: WholeSum) -> tuple[tuple[SumKind, int, int, int, float], ...]:
    """(heading, low, typical, high, hours) of each heading that has an item, in their order."""
    kinds = dict.fromkeys(item.kind for item in summed.items)
    return tuple(
        (
            kind,
            sum(item.low for item in summed.items if item.kind == kind),
            sum(item.typical for item in summed.items if item.kind == kind),
            sum(item.high for item in summed.items if item.kind == kind),
            sum(item.hours for item in summed.items if item.kind == kind),
        )
        for kind in kinds
    )


def budget_of_bill(plan: Plan) -> int | None:
    """The project's ``targets.budget``: what the bill alone may come to."""
    targets: Any = plan.project_used.get("targets") or {}
    budget = targets.get("budget")
    return budget if isinstance(budget, int) else None


def whole_sum_sentences(plan: Plan) -> Iterator[str]:
    """What it comes to all in all, in which bracket, and which sum the budget limits."""
    summed = plan.whole_sum
    if summed is None:
        return
    beside = [
        f"{KIND_WORDS[kind].lower()} {whole_units(typical, plan.currency)}"
        for kind, _, typical, _, _ in by_kind(summed)
        if kind != "bill" and typical
    ]
    yield (
        f"All in all about {whole_money(summed.typical, plan.currency)}; "
        f"{whole_units(summed.low, plan.currency)} if all goes well, "
        f"{whole_units(summed.high, plan.currency)} if nothing does"
        + (f". Beside the bill: {', '.join(beside)}." if beside else ".")
    )
    hours = summed.hours
    yield (
        f"Work in all about {hours.typical:.0f} h ({hours.low:.0f} to {hours.high:.0f} h)"
        + (
            ", your own, not counted in money."
            if hours.rate is None
            else f", {hours.paid_share * 100:.0f} % of it paid."
        )
    )
    limit = budget_of_bill(plan)
    if limit is not None:
        yield f"The budget of {whole_money(limit, plan.currency)} limits the bill alone."
    if summed.limit is not None:
        yield limit_sentence(plan, summed)
    for note in summed.notes:
        yield f"Not counted: {clean(note)}."


def limit_sentence(plan: Plan, summed: WholeSum) -> str:
    """How the whole sum stands to the limit that the project sets for it."""
    assert summed.limit is not None
    limit = whole_money(summed.limit, plan.currency)
    if summed.typical > summed.limit:
        over = whole_money(summed.typical - summed.limit, plan.currency)
        return f"That is {over} MORE than the {limit} that you set for all of it."
    if summed.high > summed.limit:
        return f"That is within the {limit} that you set for all of it, unless much goes wrong."
    return f"That is within the {limit} that you set for all of it, whatever goes wrong."


def order_sentences(plan: Plan) -> Iterator[str]:
    """Gates first, then day by day what to order, the longest on its way first."""
    told = plan.buying_order
    if told is None:
        return
    ahead = [gate for gate in told.gates if not gate.passed]
    for gate in sorted(ahead, key=lambda one: one.day):
        yield f"by day {gate.day}: {clean(gate.words)}"
    for day in dict.fromkeys(order.order_day for order in told.orders):
        there = [order for order in told.orders if order.order_day == day]
        # A part and its spare are one thing to order.
        orders = list({(one.family, one.part, one.supplier): one for one in there}.values())
        yield f"from day {day}: {_some(orders)}"
    yield f"All can be here on day {told.all_here_day}; the sheet Buying order has each line."
    for one in told.later_shipments:
        days = ", ".join(str(day) for day in one.days)
        yield f"{clean(one.supplier)} ships on days {days}: ask to have the later goods held."


def _some(orders: list[Order]) -> str:
    longest = [f"{_called(one)} ({one.lead_days} days)" for one in orders[:_FIRST]]
    rest = len(orders) - len(longest)
    return ", ".join(longest) + (f" and {rest} more" if rest > 0 else "")


def _called(one: Order) -> str:
    name = one.part if one.family in AROUND else one.family
    return clean(name.replace("_", " ").replace("-", " "))
