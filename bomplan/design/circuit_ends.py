"""Both ends of every traction cable of a circuit, by what they are screwed to."""

from __future__ import annotations

from bomplan.design.circuit_records import Circuit


def cable_ends(found: Circuit) -> dict[str, list[str]]:
    """Tags by the family whose studs they are, one for each end.

    A bus stud behind the contactor is the contactor's own; every other stud stands in the junction
    box; a fuse is held by its holder.
    """
    ends: dict[str, list[str]] = {}
    for wire in found.wires:
        if wire.kind == "cable":
            for end in (wire.start, wire.end):
                ends.setdefault(_family(found, end.tag), []).append(end.tag)
    return ends


def _family(found: Circuit, tag: str) -> str:
    block = found.blocks[tag]
    if block.kind == "stud":
        return "contactor" if "bus" in block.words else "junction_box"
    return "fuse_holder" if block.family == "fuse" else block.family
