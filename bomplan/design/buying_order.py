"""What to order when: gates that must be behind the builder first, then the longest on its way.

Counted forward from day 0 without a calendar: a gate is passed as soon as what it waits for
is, an order is placed as soon as its gates are passed. Read from the plan alone. Which gate
holds which goods is common practice: it is the list of what builders have bought twice.
"""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.buying.terms import CHARGES
from bomplan.design.money_records import BuyingOrder, Gate, LaterShipment, Order
from bomplan.design.purchase_lines import line_for_each_purchase
from bomplan.design.records import Line, Plan
from bomplan.design.whole_sum import count_needed, extras_of
from bomplan.project.records import Project

SHIPPING = "shipping"


@dataclass(frozen=True)
class Goods:
    """Something to be ordered; ``known`` tells whether the catalogue gives its days."""

    family: str
    part: str
    supplier: str
    lead_days: int
    known: bool


@dataclass(frozen=True)
class GateRule:
    """A gate: its usual days, what it waits for, and the families that wait for it.

    ``after_here`` are families that must have arrived before it can begin; they wait for
    gates that stand earlier in the list only.
    """

    id: str
    words: str
    takes_days: int
    why: str
    after: tuple[str, ...] = ()
    after_here: tuple[str, ...] = ()
    holds: tuple[str, ...] = ()


# In an order in which each gate waits for earlier ones only. The days are guesses from memory.
GATES: tuple[GateRule, ...] = (
    GateRule(
        "weighed",
        "both axles of the donor are weighed",
        3,
        "every axle load of the plan rests on them",
    ),
    GateRule(
        "bays-measured",
        "every bay in use is measured, with a cardboard box in it",
        5,
        "a bay that is 20 mm short takes a row of modules less",
        holds=("box", "hold_down", "module", "link", "link_cable", "link_lug", "monitor"),
    ),
    GateRule(
        "approval",
        "whoever inspects the vehicle has agreed to this plan, in writing",
        28,
        "what is refused afterwards has been paid already",
        after=("weighed", "bays-measured"),
        holds=("*",),
    ),
    GateRule(
        "stripped",
        "the engine and all that comes out is out, and what is left is weighed",
        21,
        "what came out is the greatest guess in the axle loads",
        after=("weighed",),
        holds=("box", "hold_down", "module", "link", "link_cable", "link_lug", "chassis"),
    ),
    GateRule(
        "face-measured",
        "face, shaft and depth of what the motor is bolted to are measured",
        3,
        "plates and couplers are made to it and do not go back",
        after=("stripped",),
        holds=("adapter_plate", "coupler"),
    ),
    GateRule(
        "outlet-checked",
        "an electrician has looked at the outlet and its circuit",
        10,
        "a charger takes its current for hours",
        holds=("charger", "charge_inlet"),
    ),
    GateRule(
        "places-fixed",
        "boxes, motor and controller stand in their places, and the runs are measured",
        14,
        "runs grow as things find their places; cable is cut once",
        after=("stripped", "face-measured"),
        after_here=("box", "motor", "controller"),
        holds=(
            *("cable", "lug", "conduit", "gland"),
            *("branch_cable", "branch_lug", "branch_gland"),
            *("wire_12v", "feed_wire", "feed_lug"),
        ),
    ),
)
GATE_IDS = tuple(rule.id for rule in GATES)
# Needed before any work on the car begins.
FREE_OF_GATES = frozenset({"safety_kit", "tool"})
# Kinds of the rows around the parts that are goods to be ordered.
AROUND = ("tool", "chassis")


def buying_order(plan: Plan, project: Project) -> BuyingOrder | None:
    """Gates and orders of a plan; None for one that chose nothing. ``project`` is the plan's."""
    if plan.core is None:
        return None
    goods = goods_of(plan, project)
    gates: dict[str, Gate] = {}
    arrivals: dict[str, int] = {}
    for rule in GATES:
        # Whatever this gate waits for is held by earlier gates only, so its day is known.
        for family in rule.after_here:
            here = [_arrival(one, gates) for one in goods if one.family == family]
            arrivals[family] = max(here, default=0)
        gates[rule.id] = _gate(rule, project, gates, arrivals)
    needed = _needed_by(goods, gates)
    finish = max((_arrival(one, gates) for one in goods), default=0)
    orders = _together([_order(one, gates, needed.get(one.family, finish)) for one in goods])
    orders.sort(key=_sort_key)
    return BuyingOrder(
        gates=tuple(gates.values()),
        orders=tuple(orders),
        later_shipments=_later_shipments(plan, orders),
        all_here_day=finish,
    )


def goods_of(plan: Plan, project: Project) -> tuple[Goods, ...]:
    """Every purchase of the bill, then the tools and chassis parts that the plan asks for."""
    goods = [
        Goods(line.family, line.part, line.supplier, *lead_days(plan, line))
        for line in line_for_each_purchase(plan).lines
        if line.bought and line.family not in CHARGES
    ]
    for row in extras_of(plan) if project.budget.extras else ():
        wanted = row.kind in AROUND and row.id not in project.budget.at_hand
        if wanted and count_needed(row, plan, project)[0]:
            goods.append(Goods(row.kind, row.id, "", row.lead_days, known=True))
    return tuple(goods)


def lead_days(plan: Plan, line: Line) -> tuple[int, bool]:
    """Days from order to delivery, and whether the catalogue tells: supplier's, else the part's."""
    if line.supplier:
        for row in plan.parts_used.get("suppliers", ()):
            if row.get("id") == line.supplier and row.get("lead_days"):
                return int(row["lead_days"]), True
    for row in plan.parts_used.get("parts", ()):
        if row.get("id") == line.part and "lead_days" in row.get("figures", {}):
            return int(row["figures"]["lead_days"]), True
    return 0, False


def gates_of(family: str) -> tuple[str, ...]:
    """The gates that hold this family, in their order."""
    if family in FREE_OF_GATES:
        return ()
    return tuple(rule.id for rule in GATES if "*" in rule.holds or family in rule.holds)


def measured(project: Project) -> frozenset[str]:
    """Gates that the project's own figures have passed: what they ask for is marked measured."""

    def known(*paths: str) -> bool:
        marks = [project.provenance.get(path) for path in paths]
        return bool(marks) and all(mark is not None and mark.known == "measured" for mark in marks)

    passed = set(project.budget.passed)
    if known("donor.weighing.front", "donor.weighing.rear"):
        passed.add("weighed")
    sizes = [f"bays[{bay.name}].{side}" for bay in project.bays
             for side in ("length", "width", "height")]  # fmt: skip
    if known(*sizes):
        passed.add("bays-measured")
    return frozenset(passed)


def _sort_key(one: Order) -> tuple[int, int, str, str, str]:
    return (one.order_day, -one.lead_days, one.family, one.part, one.supplier)


def _by_supplier(orders: list[Order]) -> dict[str, list[Order]]:
    found: dict[str, list[Order]] = {}
    for one in orders:
        if one.supplier:
            found.setdefault(one.supplier, []).append(one)
    return found


def _together(orders: list[Order]) -> list[Order]:
    """One order at each supplier, on the day of its last gate, where nothing else would wait."""
    days = {
        supplier: max(one.earliest_day for one in its)
        for supplier, its in _by_supplier(orders).items()
        if max(one.earliest_day for one in its) <= min(one.latest_day for one in its)
    }
    moved = []
    for one in orders:
        day = days.get(one.supplier, one.earliest_day) if one.supplier else one.earliest_day
        moved.append(one.model_copy(update={"order_day": day, "arrives_day": day + one.lead_days}))
    return moved


def _later_shipments(plan: Plan, orders: list[Order]) -> tuple[LaterShipment, ...]:
    """Suppliers whose goods are proposed for more than one day."""
    paid = {line.part: line.price for line in plan.lines if line.family == SHIPPING}
    found = []
    for supplier, its in sorted(_by_supplier(orders).items()):
        days = tuple(sorted({one.order_day for one in its}))
        if len(days) > 1:
            found.append(
                LaterShipment(supplier=supplier, days=days, shipping=paid.get(supplier, 0))
            )
    return tuple(found)


def _gate(rule: GateRule, project: Project, gates: dict[str, Gate], here: dict[str, int]) -> Gate:
    passed = rule.id in measured(project)
    takes = project.budget.gate_days.get(rule.id, rule.takes_days)
    begins = max(
        (*(gates[name].day for name in rule.after), *(here[name] for name in rule.after_here)),
        default=0,
    )
    return Gate(
        id=rule.id,
        words=rule.words,
        passed=passed,
        takes_days=0 if passed else takes,
        day=0 if passed else begins + takes,
        after=(*rule.after, *(f"{family} here" for family in rule.after_here)),
        why=f"{rule.why} (common practice)",
    )


def _earliest(family: str, gates: dict[str, Gate]) -> int:
    return max((gates[name].day for name in gates_of(family) if name in gates), default=0)


def _arrival(one: Goods, gates: dict[str, Gate]) -> int:
    return _earliest(one.family, gates) + one.lead_days


def _needed_by(goods: tuple[Goods, ...], gates: dict[str, Gate]) -> dict[str, int]:
    """The day by which a family must be here for the gate that waits for it."""
    return {
        family: gates[rule.id].day - gates[rule.id].takes_days
        for rule in GATES
        if not gates[rule.id].passed
        for family in rule.after_here
        if any(one.family == family for one in goods)
    }


def _order(one: Goods, gates: dict[str, Gate], needed: int) -> Order:
    earliest = _earliest(one.family, gates)
    return Order(
        family=one.family,
        part=one.part,
        supplier=one.supplier,
        gates=gates_of(one.family),
        earliest_day=earliest,
        latest_day=max(earliest, needed - one.lead_days),
        order_day=earliest,
        lead_days=one.lead_days,
        lead_known=one.known,
        arrives_day=earliest + one.lead_days,
    )
