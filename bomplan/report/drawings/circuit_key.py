"""The words of the circuit drawing: labels of wires, and the key that leads to the bill."""

from __future__ import annotations

from math import ceil

from bomplan.design.circuit_records import Block, Circuit, Wire
from bomplan.report.drawings.ink import THIN, Ink, fit

MOST_JOINTS = 3


def described(found: Circuit) -> str:
    """The same circuit in a sentence, for whoever hears the page."""
    boxes = ", ".join(f"{box.bay} ({box.series} in series)" for box in found.boxes)
    parts = "; ".join(
        f"{block.tag} {block.words} {block.part} {' '.join(block.rating)}".strip()
        for block in found.blocks.values()
        if block.kind != "stud"
    )
    return f"{found.full_v:.0f} V when full. Boxes from + to -: {boxes}. {parts}."


def key_rows(found: Circuit) -> tuple[tuple[str, str, str], ...]:
    """Tags (or a number of pieces), id of the bill and a word, for every line of the bill."""
    groups: dict[str, list[Block]] = {}
    for block in found.blocks.values():
        if block.part:
            groups.setdefault(block.part, []).append(block)
    rows = [
        (tag_runs([one.tag for one in blocks]), part, _shared_words(blocks))
        for part, blocks in groups.items()
    ]
    for kind, part, words in (
        ("cable", found.cable, "traction cable"),
        ("branch", found.branch_cable, "branch cable"),
        ("feed", found.feed_wire, "12 V feed"),
        ("12 V", found.wire_12v, "12 V wire"),
    ):
        tags = [w.tag for w in found.wires if w.kind == kind]
        if tags and part:
            rows.append((tag_runs(tags), part, words))
    rows += [
        (
            f"{one.pieces} {_unit(one.line.unit)}",
            one.line.part,
            one.line.family.replace("_", " ")
            + (f", {one.line.to_spare} more to spare" if one.line.to_spare else ""),
        )
        for one in found.beside
    ]
    return tuple(rows)


def _unit(unit: str) -> str:
    return {"piece": "x", "kg of modules": "kg"}.get(unit, unit)


def _shared_words(blocks: list[Block]) -> str:
    return blocks[0].words if len(blocks) == 1 else blocks[0].words.split(":")[0]


def fuse_joints(found: Circuit) -> tuple[tuple[Block, Block], ...]:
    """Every main fuse with the cells that it is joined to in its box, by no cable of the bill."""
    return tuple(
        (found.blocks[one.start.tag], found.blocks[one.end.tag])
        for one in found.wires
        if one.kind == "bar"
        and found.blocks[one.start.tag].kind == "fuse"
        and found.blocks[one.end.tag].kind == "cells"
    )


def joint_words(found: Circuit) -> str:
    """What the heading of the drawing says of them."""
    joints = fuse_joints(found)
    if not joints:
        return ""
    pairs = ", ".join(f"{fuse.tag} to {cells.tag}+" for fuse, cells in joints[:MOST_JOINTS])
    more = " and so on" if len(joints) > MOST_JOINTS else ""
    return f"In the boxes {pairs}{more}: by a bar or a short cable, not in the bill."


def pole_contactors(found: Circuit, pole: str) -> tuple[Block, ...]:
    """The main contactors in one pole; of an odd number the plus pole has one more."""
    every = found.of("contactor")
    plus = len(every) - len(every) // 2
    return every[:plus] if pole == "+" else every[plus:]


def closing_order(found: Circuit) -> str:
    """Which coils close first and which last; empty where the controller fills itself.

    Common practice: all coils on the chain alone would close past the resistor.
    """
    relays, resistors = found.of("precharge relay"), found.of("precharge resistor")
    last = [one.tag for one in pole_contactors(found, "+")]
    if found.precharge_s is None or not (relays and resistors and last):
        return ""
    first = [relays[0].tag, *(one.tag for one in pole_contactors(found, "-"))]
    # Up to a tenth: never sooner than the resistor has filled the bus.
    later_s = ceil(round(10 * found.precharge_s, 6)) / 10
    closes = "closes" if len(first) == 1 else "close"
    return (
        f"Not all at once: {' and '.join(first)} {closes} first, {' and '.join(last)} at least"
        f" {later_s:g} s later, by the controller's output for the main contactor, or"
        f" by a timer (not in the bill). With every coil straight on the chain"
        f" {resistors[0].tag} is bypassed."
    )


def tag_runs(tags: list[str]) -> str:
    """``F1-F4, F7``: runs of tags of one letter."""
    runs: list[list[str]] = []
    for tag in tags:
        if runs and _number(tag) == _number(runs[-1][-1]) + 1 and tag[0] == runs[-1][-1][0]:
            runs[-1].append(tag)
        else:
            runs.append([tag])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def _number(tag: str) -> int:
    return int(tag[1:])


def metres(length_mm: int | None) -> str:
    """A length as on the drawing; ``to suit`` where the bill gives none."""
    if length_mm is None:
        return "to suit"
    return f"{length_mm / 1000:.1f} m"


def wire_words(wire: Wire) -> tuple[str, str]:
    """A wire's label on two lines: tag and section, length and fuse."""
    return f"{wire.tag} {wire.section}", f"{metres(wire.length_mm)} {wire.fuse}"


def each_words(wires: list[Wire]) -> tuple[str, ...]:
    """Equal wires that follow one another, in two lines: tags and section, length of each."""
    if not wires:
        return ()
    tags = "-".join(dict.fromkeys((wires[0].tag, wires[-1].tag)))
    return f"{tags} {wires[0].section}", f"{metres(wires[0].length_mm)} each"


def draw_key(ink: Ink, found: Circuit, y: float, margin: float, width: float) -> float:
    """Tags and the ids of the bill, in columns; the y below them."""
    rows = key_rows(found)
    columns = max(1, int((width - 2 * margin) // 440))
    each = (width - 2 * margin) / columns
    deep = -(-len(rows) // columns)
    ink.line((margin, y), (width - margin, y), weight=THIN)
    y += 18
    ink.text(margin, y, "Tag, or number of pieces, and the id in the bill", bold=True)
    y += 16
    for number, (tags, part, words) in enumerate(rows):
        x = margin + each * (number // deep)
        at = y + 13 * (number % deep)
        short = tags if len(tags) <= 11 else f"{tags.split(', ')[0]} etc"
        ink.text(x, at, fit(short, 11), size=10, bold=True)
        room = int((each - 84) / (10 * 0.62))
        # Many tags say more than the words that the id says already.
        more = tags if len(tags) > 11 else words
        text = part if not more else f"{part}: {more}"
        ink.text(x + 76, at, fit(text, room), size=10)
    return y + 13 * deep
