"""The whole sum around a plan: read from the plan alone, so that the audit can count it again.

These sums do not enter the choice of parts. Fees and credits are the same for every plan;
hours, tools and chassis work follow from the plan, and no cheaper bill is turned down for
them. Each amount is an exact fraction rounded once, against the builder.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any

from bomplan.catalog.extras import Extra
from bomplan.design.drive import LEAD
from bomplan.design.money_records import (
    SUM_KINDS,
    BuyingOrder,
    SumItem,
    WholeSum,
    WorkHours,
)
from bomplan.design.records import Plan
from bomplan.money import convert, format_money
from bomplan.project.budget import Budget, BudgetItem
from bomplan.project.records import Project

# Above this a voltage can kill (direct current; ECE R100, 2.17), and tools must be made for it.
SAFE_V = 60.0
# What nobody lifts by hand alone, grams; common practice.
HOIST_G = 40_000


def whole_sum(plan: Plan, project: Project, order: BuyingOrder | None) -> WholeSum | None:
    """The whole sum of a plan; None for one that chose nothing. ``project`` is the plan's own."""
    if plan.core is None:
        return None
    budget = project.budget
    notes: list[str] = []
    items = [_bill(plan, budget), *_around(plan, project, notes), *_shipments(order)]
    hours = work_hours(plan, project, items)
    if hours.rate is not None:
        items.append(_workshop(hours, plan.currency))
    items.append(_contingency(items, budget))
    items.extend(_credits(budget))
    items.sort(key=lambda item: SUM_KINDS.index(item.kind))
    return WholeSum(
        items=tuple(items),
        hours=hours,
        low=sum(item.low for item in items),
        typical=sum(item.typical for item in items),
        high=sum(item.high for item in items),
        limit=budget.limit,
        notes=tuple(notes),
    )


def extras_of(plan: Plan) -> tuple[Extra, ...]:
    """The rows of the catalogue's table extras that the plan carries; none in older plans."""
    return tuple(Extra.model_validate(row) for row in plan.parts_used.get("extras", ()))


def count_needed(extra: Extra, plan: Plan, project: Project) -> tuple[int, str]:
    """How many of it this plan needs, and why; 0 where it needs none."""
    if extra.vehicle not in ("any", project.donor.kind):
        return 0, ""
    bringing = [line for line in plan.lines if line.quantity and line.part in extra.covered_by]
    if bringing:
        return 0, ""
    axles, why = _needing(extra, plan, project)
    if axles == 0:
        return 0, ""
    if extra.per == "box":
        boxes = sum(line.quantity for line in plan.lines if line.family == "box")
        return boxes, f"{why}; one for each box"
    return (axles, why) if extra.per == "axle" else (1, why)


def work_hours(plan: Plan, project: Project, items: list[SumItem]) -> WorkHours:
    """Hours of the bill's lines and of the items, with the ends that the project gives."""
    budget = project.budget
    parts = sum((_exact(line.hours) for line in plan.lines), Fraction())
    around = sum((_exact(item.hours) for item in items), Fraction())
    both = parts + around
    return WorkHours(
        parts=_tenths(parts),
        around=_tenths(around),
        low=_tenths(both * (1 - _exact(budget.hours_fall))),
        typical=_tenths(both),
        high=_tenths(both * (1 + _exact(budget.hours_rise))),
        paid_share=budget.workshop_share,
        rate=project.house_rules.workshop_rate,
    )


def _bill(plan: Plan, budget: Budget) -> SumItem:
    total = sum(line.price for line in plan.lines)
    return SumItem(
        id="bill",
        kind="bill",
        words="bill of parts with shipping, as planned",
        low=up(total * (1 - _exact(budget.prices_fall))),
        typical=total,
        high=up(total * (1 + _exact(budget.prices_rise))),
        why=f"prices may come out {budget.prices_fall:.0%} lower or {budget.prices_rise:.0%}"
        " higher",
        source="catalogue; spread: project, common practice unless it says otherwise",
    )


def _around(plan: Plan, project: Project, notes: list[str]) -> Iterator[SumItem]:
    """Tools, chassis work, work and fees: rows of the catalogue, or the project in their place."""
    budget = project.budget
    rows = extras_of(plan)
    own = {item.name: item for item in budget.items}
    if budget.extras and not rows:
        notes.append(
            "the catalogue has no table extras: tools, chassis work and fees count only as far"
            " as the project names them"
        )
    for extra in rows if budget.extras else ():
        count, why = count_needed(extra, plan, project)
        if count and extra.id not in own:
            item = _of_extra(extra, count, why, plan, project, notes)
            if item is not None:
                yield item
    for name, entry in own.items():
        row = next((one for one in rows if one.id == name), None)
        yield _of_project(entry, row)


def _shipments(order: BuyingOrder | None) -> Iterator[SumItem]:
    """Orders that cannot go out together ship more than once; the bill pays one shipping."""
    for one in order.later_shipments if order is not None else ():
        count = len(one.days) - 1
        if one.shipping and count:
            yield SumItem(
                id=f"later-shipment-{one.supplier}",
                kind="other",
                words=f"shipping once more at {one.supplier}",
                count=count,
                low=0,
                typical=count * one.shipping,
                high=count * one.shipping,
                why="part of it is not ordered before a later gate; nothing if it is held back",
                source="catalogue",
            )


def _of_extra(
    extra: Extra, count: int, why: str, plan: Plan, project: Project, notes: list[str]
) -> SumItem | None:
    free = extra.id in project.budget.at_hand
    amounts = []
    for price in (extra.price_low, extra.price, extra.price_high):
        amount = 0 if free else count * price
        if amount and extra.currency != plan.currency:
            rate = project.rates.get(extra.currency)
            if rate is None:
                about = format_money(count * extra.price, extra.currency)
                notes.append(
                    f"{extra.description}: about {about} is not in the sum, for the project"
                    f" gives no rate for {extra.currency}"
                )
                return None
            amount = convert(amount, _exact(rate), extra.currency, plan.currency)
        amounts.append(amount)
    return SumItem(
        id=extra.id,
        kind=extra.kind,
        words=extra.description,
        count=count,
        low=amounts[0],
        typical=amounts[1],
        high=amounts[2],
        hours=round(count * extra.hours, 2),
        why=f"{why}; at hand, costs nothing" if free else why,
        source=f"catalogue, {extra.source}, {extra.price_date}",
    )


def _of_project(entry: BudgetItem, row: Extra | None) -> SumItem:
    return SumItem(
        id=entry.name,
        kind=entry.kind if row is None or entry.kind != "other" else row.kind,
        words=entry.name if row is None else row.description,
        low=entry.amount if entry.low is None else entry.low,
        typical=entry.amount,
        high=entry.amount if entry.high is None else entry.high,
        hours=entry.hours,
        why="in place of the catalogue's row" if row is not None else "named in the project",
        source="project",
    )


def _workshop(hours: WorkHours, currency: str) -> SumItem:
    assert hours.rate is not None
    share = _exact(hours.paid_share)
    low, typical, high = (
        up(hours.rate * _exact(amount) * share) for amount in (hours.low, hours.typical, hours.high)
    )
    return SumItem(
        id="workshop",
        kind="workshop",
        words=f"paid work, {hours.paid_share:.0%} of the hours",
        low=low,
        typical=typical,
        high=high,
        why=f"house_rules.workshop_rate, {format_money(hours.rate, currency)} an hour",
        source="project; hours: catalogue",
    )


def _contingency(items: list[SumItem], budget: Budget) -> SumItem:
    share = _exact(budget.contingency)
    return SumItem(
        id="contingency",
        kind="contingency",
        words=f"contingency, {budget.contingency:.0%} of the above",
        low=0,
        typical=up(share * sum(item.typical for item in items)),
        high=up(share * sum(item.high for item in items)),
        why="for what nobody foresaw; nothing of it is spent when all goes well",
        source="project; common practice unless it says otherwise",
    )


def _credits(budget: Budget) -> Iterator[SumItem]:
    for sale in budget.sold:
        yield SumItem(
            id=f"sold {sale.name}",
            kind="credit",
            words=f"sold: {sale.name}",
            low=-(sale.amount if sale.high is None else sale.high),
            typical=-sale.amount,
            high=-(0 if sale.low is None else sale.low),
            why="taken out; at the high end it finds no buyer unless the project says otherwise",
            source="project",
        )


def _needing(extra: Extra, plan: Plan, project: Project) -> tuple[int, str]:
    """How many axles (or 1) meet the row's condition, and the condition in words."""
    chemistry = _chemistry(plan)
    charge_v = plan.performance.charge_v if plan.performance is not None else math.inf
    simple = {
        "always": (True, "every conversion needs it"),
        "over_60v": (charge_v > SAFE_V, f"the pack reaches {charge_v:.0f} V"),
        "lithium": (bool(chemistry) and chemistry not in LEAD, f"the modules are {chemistry}"),
        "lead": (chemistry in LEAD, f"the modules are {chemistry}"),
        "lugs": (any(line.family == "lug" for line in plan.lines), "cable lugs are crimped"),
        "heavy_lift": (_heavy(plan, project), f"something of {HOIST_G // 1000} kg comes out or in"),
    }
    if extra.needed in simple:
        met, why = simple[extra.needed]
        return int(met), why
    return _axles(extra.needed, plan, project)


def _axles(needed: str, plan: Plan, project: Project) -> tuple[int, str]:
    weights = plan.mass.weights if plan.mass is not None else None
    if weights is None:
        return 0, ""
    tyres = {"front": project.donor.tyres.front, "rear": project.donor.tyres.rear}
    above = project.house_rules.share_advice.springs_above
    gains = [change for change in weights.changes if change.change_share > above]
    axles = {
        "springs": [change for change in weights.changes if change.springs],
        "dampers": [change for change in weights.changes if change.dampers],
        "brakes": gains,
        # A known load index is held against the load as a check of the plan itself.
        "tyres": [change for change in gains if not tyres[change.axle]],
    }[needed]
    if not axles:
        return 0, ""
    words = " and ".join(f"{one.axle} {one.change_share:+.0%}" for one in axles)
    tail = ", and its tyres are not known" if needed == "tyres" else ""
    return len(axles), f"what the axle carries changes: {words}{tail} (common practice)"


def _heavy(plan: Plan, project: Project) -> bool:
    out = any(item.mass_g >= HOIST_G for item in project.donor.removed)
    return out or any(line.unit_mass_kg * 1000 >= HOIST_G for line in plan.lines)


def _chemistry(plan: Plan) -> str:
    module = plan.core.module if plan.core is not None else ""
    rows = plan.parts_used.get("parts", ())
    row: dict[str, Any] = next((one for one in rows if one.get("id") == module), {})
    return str(row.get("figures", {}).get("chemistry", ""))


def up(amount: Fraction) -> int:
    """Rounded up to the smallest unit, so that a sum never comes to more than it said."""
    return math.ceil(amount)


def _exact(value: float) -> Fraction:
    return Fraction(Decimal(repr(value)))


def _tenths(hours: Fraction) -> float:
    return math.ceil(hours * 10) / 10
