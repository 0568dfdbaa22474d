"""The lugs of the traction cable, counted again from the wires of the plan's own circuit.

The bill counts them by place (:mod:`bomplan.design.bill.lug_ends`); here every wire of the circuit
that is cut from the traction cable has two ends, and each end the block that it goes to, whose row
gives its stud. Plans carry the rows of lugs for every stud that they know, and their offers: of how
many there are at hand and in stock, each stud takes no more.
"""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Catalog, Part
from bomplan.design.bill.links import BARE
from bomplan.design.bill.rule import at_least, at_most
from bomplan.design.bill.studs import DRILLED
from bomplan.design.circuit import circuit
from bomplan.design.circuit_ends import cable_ends
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Check, Plan
from bomplan.project.records import Project
from bomplan.source import computed

SOURCE = computed("ends of the traction cables in the plan's circuit")


def lug_checks(plan: Plan) -> Iterator[Check]:
    """Whether the bill holds a lug for each end of each traction cable."""
    found = circuit(plan)
    wires = [wire for wire in found.wires if wire.kind == "cable"]
    yield at_least(
        "audit.lugs",
        "lugs in the bill, against both ends of every traction cable of the circuit",
        sum(line.quantity for line in plan.lines if line.family == "lug"),
        2 * len(wires),
        "lugs",
        SOURCE,
        BARE,
    )
    catalog, parts = catalog_of(plan), {line.family: line.part for line in plan.lines}
    rows = catalog.family("lug").values()
    cable = catalog.family("cable")[parts["cable"]].number("area_mm2")
    # Of the bill's own row there are as many as its line buys.
    left: dict[float, float] = {}
    for row in rows:
        if row.number("area_mm2") == cable:
            own = row.id == parts.get("lug")
            pieces = float("inf") if own else _to_be_had(catalog, project_of(plan), row)
            left[row.number("stud_mm")] = left.get(row.number("stud_mm"), 0) + pieces
    without: list[str] = []
    for family, tags in cable_ends(found).items():
        part = catalog.family(family).get(parts.get(family, ""))
        if part is None or not part.has("stud_mm"):
            continue
        stud = part.number("stud_mm")
        there = left.get(stud, 0)
        left[stud] = max(0, there - len(tags))
        without += tags[int(min(there, len(tags))) :]
    yield at_most(
        "audit.lug-holes",
        "ends of traction cable on a stud for which the plan knows no lug of its section,"
        " or too few of them" + (f": {', '.join(without)}" if without else ""),
        len(without),
        0,
        "ends",
        SOURCE,
        DRILLED,
    )


def _to_be_had(catalog: Catalog, project: Project, row: Part) -> float:
    """Pieces of a row at hand and for sale, offer by offer; infinitely many where none is bound."""
    choices, buying, today = project.choices, project.buying, project.as_of.isoformat()
    at_hand = choices.owned.get(row.id, 0)
    offers = [
        one
        for one in catalog.offers
        if one.part == row.id and not (one.valid_until and one.valid_until < today)
    ]
    only = buying.supplier_of.get(row.id)
    if not offers:
        return at_hand if only else float("inf")
    most: dict[str, float] = {}
    for one in offers:
        seller = catalog.suppliers[one.supplier]
        late = buying.deadline_days is not None and seller.lead_days > buying.deadline_days
        wanted = one.supplier in (choices.suppliers or (one.supplier,))
        if (
            late
            or not wanted
            or one.supplier in buying.excluded
            or (only or seller.id) != seller.id
        ):
            continue
        stocks = [
            other.stock
            for other in offers
            if other.supplier == one.supplier and other.stock is not None
        ]
        packs = max(stocks) // one.pack_size if stocks else float("inf")
        most[one.supplier] = max(most.get(one.supplier, 0), packs * one.pack_size)
    return at_hand + sum(most.values())
