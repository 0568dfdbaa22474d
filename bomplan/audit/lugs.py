"""The lugs of the traction cable, counted again from the wires of the plan's own circuit.

The bill counts them by place (:mod:`bomplan.design.bill.lug_ends`); here every wire of the circuit
that is cut from the traction cable has two ends, and each end the block that it goes to.
"""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.bill.rule import at_least
from bomplan.design.circuit import circuit
from bomplan.design.records import Check, Plan
from bomplan.source import computed

SOURCE = computed("ends of the traction cables in the plan's circuit")
BARE = "a cable without its lug is clamped by a screw, works loose and burns"


def lug_checks(plan: Plan) -> Iterator[Check]:
    """Whether the bill holds a lug for each end of each traction cable."""
    wires = [wire for wire in circuit(plan).wires if wire.kind == "cable"]
    yield at_least(
        "audit.lugs",
        "lugs in the bill, against both ends of every traction cable of the circuit",
        sum(line.quantity for line in plan.lines if line.family == "lug"),
        2 * len(wires),
        "lugs",
        SOURCE,
        BARE,
    )
