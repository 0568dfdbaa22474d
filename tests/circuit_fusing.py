"""What stands between the cells and every conductor outside their boxes: fuses, found by graph.

Read from the circuit's blocks and wires alone, so that it finds what the rules that put the
circuit together got wrong.
"""

from __future__ import annotations

from typing import Final

from bomplan.design.circuit_records import Circuit, End, Run, Wire


def unfused(found: Circuit) -> tuple[str, ...]:
    """Cells whose two poles both reach conductors outside their box with no fuse between.

    Fuses opened, no short circuit between conductors outside the boxes may close a loop
    through cells: so each run of cells must touch the outside at one pole at most.
    """
    ports: dict[tuple[str, str], int] = {}
    joined: list[int] = []

    def node(end: End) -> int:
        key = (end.tag, end.terminal)
        if key not in ports:
            ports[key] = len(joined)
            joined.append(ports[key])
        return ports[key]

    def root(number: int) -> int:
        while joined[number] != number:
            number = joined[number]
        return number

    for wire in found.wires:
        first, second = node(wire.start), node(wire.end)
        joined[root(first)] = root(second)
    for block in found.blocks.values():
        if block.side == "traction" and block.kind in _PASSES:
            first, *rest = [node(End(block.tag, terminal)) for terminal in _PASSES[block.kind]]
            for other in rest:
                joined[root(other)] = root(first)
    # Cells in one box joined by bars or by a disconnect inside it count as one run.
    outside = {
        root(node(end))
        for wire in found.wires
        if not _inside(found, wire)
        for end in (wire.start, wire.end)
    }
    return tuple(
        run.tags[0]
        for run in found.runs
        if _reaches(run, found, outside, lambda end: root(node(end)))
    )


def _inside(found: Circuit, wire: Wire) -> bool:
    """Whether a wire stays within one box of cells."""
    start, end = (found.blocks[one.tag] for one in (wire.start, wire.end))
    return bool(start.box) and (start.box, start.string) == (end.box, end.string)


def _reaches(run: Run, found: Circuit, outside: set[int], root: object) -> bool:
    assert callable(root)
    cells = [tag for tag in run.tags if found.blocks[tag].kind == "cells"]
    return root(End(cells[0], "+")) in outside and root(End(cells[-1], "-")) in outside


# Blocks that a short-circuit current passes straight through, by their terminals.
_PASSES: Final[dict[str, tuple[str, ...]]] = {
    "stud": ("1", "2"),
    "disconnect": ("1", "2"),
    "driver disconnect": ("1", "2"),
    "contactor": ("1", "2"),
    "shunt": ("1", "2"),
    "precharge resistor": ("1", "2"),
    "precharge relay": ("1", "2"),
    "heater relay": ("1", "2"),
}
