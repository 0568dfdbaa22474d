"""The lugs of the traction cable, counted again from the wires of the plan's own circuit.

The bill counts them by place (:mod:`bomplan.design.bill.lug_ends`); here every wire of the circuit
that is cut from the traction cable has two ends, and each end the block that it goes to, whose row
gives its stud. Plans carry the rows of lugs for every stud that they know.
"""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.bill.links import BARE
from bomplan.design.bill.rule import at_least, at_most
from bomplan.design.bill.studs import DRILLED
from bomplan.design.circuit import circuit
from bomplan.design.circuit_ends import cable_ends
from bomplan.design.planfile import catalog_of
from bomplan.design.records import Check, Plan
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
    holes = {row.number("stud_mm") for row in rows if row.number("area_mm2") == cable}
    without: list[str] = []
    for family, tags in cable_ends(found).items():
        part = catalog.family(family).get(parts.get(family, ""))
        if part is not None and part.has("stud_mm") and part.number("stud_mm") not in holes:
            without += tags
    yield at_most(
        "audit.lug-holes",
        "ends of traction cable on a stud for which the plan knows no lug of its section"
        + (f": {', '.join(without)}" if without else ""),
        len(without),
        0,
        "ends",
        SOURCE,
        DRILLED,
    )
