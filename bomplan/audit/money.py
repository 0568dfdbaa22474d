"""The money around a plan, counted again from its own items, rows and lines."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from bomplan.buying.terms import CHARGES
from bomplan.design.bill.rule import at_most
from bomplan.design.buying_order import gates_of, lead_days
from bomplan.design.money_records import BuyingOrder, SumItem, WholeSum
from bomplan.design.purchase_lines import line_for_each_purchase
from bomplan.design.records import Check, Plan
from bomplan.design.whole_sum import count_needed, extras_of
from bomplan.money import currency_decimals
from bomplan.project.records import Project
from bomplan.source import computed

COUNTED = computed("counted again from the plan's own lines, rows and project")


def money_checks(plan: Plan, project: Project) -> Iterator[Check]:
    """The whole sum and the order of buying; nothing to fail in a plan older than them.

    ``plan`` carries the lines as they were counted, so that a forged line is not told twice.
    """
    for name, words, slips in (
        ("whole-sum", "figures of the whole sum that differ", _sum_slips),
        ("buying-order", "orders or gates that do not fit together", _order_slips),
    ):
        wrong = list(slips(plan, project))
        yield at_most(
            f"audit.{name}",
            words + (f": {'; '.join(wrong[:6])}" if wrong else ""),
            len(wrong),
            0,
            "figures",
            COUNTED,
        )


def _sum_slips(plan: Plan, project: Project) -> Iterator[str]:
    told = plan.whole_sum
    if told is None:
        return
    bill = sum(line.price for line in plan.lines)
    items = {item.id: item for item in told.items}
    if len(items) != len(told.items):
        yield "an item stands twice"
    if "bill" not in items or items["bill"].typical != bill:
        yield "bill"
    yield from _rows(plan, project, items)
    yield from _own(project, items)
    yield from _ends(project, told)
    hours = Fraction(0)
    for line in plan.lines:
        hours += Fraction(str(line.hours))
    around = sum((Fraction(str(item.hours)) for item in told.items), Fraction(0))
    if abs(hours - Fraction(str(told.hours.parts))) > Fraction(1, 10):
        yield "hours of the parts"
    if abs(hours + around - Fraction(str(told.hours.typical))) > Fraction(1, 5):
        yield "hours together"


def _rows(plan: Plan, project: Project, items: dict[str, SumItem]) -> Iterator[str]:
    """Each row of the catalogue that the plan needs, priced by hand, and no other."""
    own = {item.name for item in project.budget.items}
    for row in extras_of(plan) if project.budget.extras else ():
        if row.id in own:
            continue
        count, _ = count_needed(row, plan, project)
        rate = Fraction(1)
        if row.currency != plan.currency:
            if row.currency not in project.rates:
                continue
            rate = Fraction(str(project.rates[row.currency]))
            rate *= Fraction(10) ** currency_decimals(plan.currency)
            rate /= Fraction(10) ** currency_decimals(row.currency)
        told = items.get(row.id)
        if (told is not None) != (count > 0):
            yield row.id
            continue
        if told is None:
            continue
        free = row.id in project.budget.at_hand
        for stated, price in (
            (told.low, row.price_low),
            (told.typical, row.price),
            (told.high, row.price_high),
        ):
            exact = Fraction(0) if free else count * price * rate
            if not exact <= stated < exact + 1:
                yield row.id
                break


def _own(project: Project, items: dict[str, SumItem]) -> Iterator[str]:
    for entry in project.budget.items:
        told = items.get(entry.name)
        if told is None or told.typical != entry.amount or told.hours != entry.hours:
            yield entry.name
    for sale in project.budget.sold:
        told = items.get(f"sold {sale.name}")
        if told is None or told.typical != -sale.amount:
            yield f"sold {sale.name}"


def _ends(project: Project, told: WholeSum) -> Iterator[str]:
    share = Fraction(str(project.budget.contingency))
    rate = project.house_rules.workshop_rate
    paid = Fraction(str(project.budget.workshop_share))
    for end in ("low", "typical", "high"):
        stated = getattr(told, end)
        spent = held = credit = work = 0
        for item in told.items:
            amount = getattr(item, end)
            if item.kind == "contingency":
                held += amount
            elif item.kind == "credit":
                credit += amount
            else:
                spent += amount
                work += amount if item.kind == "workshop" else 0
        if stated != spent + held + credit:
            yield f"{end} sum"
        wanted = Fraction(0) if end == "low" else share * spent
        if not wanted <= held < wanted + 1:
            yield f"{end} contingency"
        wages = (
            Fraction(0) if rate is None else rate * paid * Fraction(str(getattr(told.hours, end)))
        )
        if not wages <= work < wages + 1:
            yield f"{end} paid work"


def _order_slips(plan: Plan, project: Project) -> Iterator[str]:
    told = plan.buying_order
    if told is None:
        return
    lines = [
        line
        for line in line_for_each_purchase(plan).lines
        if line.bought and line.family not in CHARGES
    ]
    wanted = [(line.family, line.part, line.supplier) for line in lines]
    leads = {key: lead_days(plan, line) for key, line in zip(wanted, lines, strict=True)}
    for row in extras_of(plan) if project.budget.extras else ():
        asked = row.kind in ("tool", "chassis") and count_needed(row, plan, project)[0] > 0
        if asked and row.id not in project.budget.at_hand:
            wanted.append((row.kind, row.id, ""))
            leads[wanted[-1]] = (row.lead_days, True)
    if sorted(wanted) != sorted((one.family, one.part, one.supplier) for one in told.orders):
        yield "the goods that are ordered"
        return
    yield from _gate_slips(told, project)
    days = {gate.id: gate.day for gate in told.gates}
    for one in told.orders:
        lead, known = leads[one.family, one.part, one.supplier]
        gates = gates_of(one.family)
        opens = max((days.get(gate, 0) for gate in gates), default=0)
        if (
            one.gates != gates
            or one.earliest_day < opens
            or (one.lead_days, one.lead_known) != (lead, known)
            or one.arrives_day != one.order_day + lead
            or not one.earliest_day <= one.order_day <= one.latest_day
        ):
            yield f"{one.family} {one.part}"
    if told.all_here_day != max((one.arrives_day for one in told.orders), default=0):
        yield "the day on which all is here"


def _gate_slips(told: BuyingOrder, project: Project) -> Iterator[str]:
    """No gate opens before what it waits for: other gates, and goods that must be here."""
    days = {gate.id: gate.day for gate in told.gates}
    for gate in told.gates:
        if gate.passed:
            if gate.day:
                yield f"gate {gate.id}"
            continue
        before = [0]
        for name in gate.after:
            family = name.removesuffix(" here")
            if family == name:
                before.append(days.get(name, 0))
            else:
                before += [one.arrives_day for one in told.orders if one.family == family]
        if gate.day < max(before) + gate.takes_days:
            yield f"gate {gate.id}"
    for name in project.budget.passed:
        if any(gate.id == name and not gate.passed for gate in told.gates):
            yield f"gate {name}"
