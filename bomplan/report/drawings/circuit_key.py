"""The words of the circuit drawing: labels of wires, and the key that leads to the bill."""

from __future__ import annotations

from bomplan.design.circuit_records import Block, Circuit, Wire


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
        (_tags([one.tag for one in blocks]), part, _shared_words(blocks))
        for part, blocks in groups.items()
    ]
    cable = next((w for w in found.wires if w.kind == "cable"), None)
    if cable is not None and found.cable:
        tags = [w.tag for w in found.wires if w.kind == "cable"]
        rows.append((_tags(tags), found.cable, "traction cable"))
    rows += [
        (f"{one.pieces} {_unit(one.line.unit)}", one.line.part, one.line.family.replace("_", " "))
        for one in found.beside
    ]
    return tuple(rows)


def _unit(unit: str) -> str:
    return {"piece": "x", "kg of modules": "kg"}.get(unit, unit)


def _shared_words(blocks: list[Block]) -> str:
    return blocks[0].words if len(blocks) == 1 else blocks[0].words.split(":")[0]


def _tags(tags: list[str]) -> str:
    """``F1-F4, F7`` for runs of tags of one letter."""
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
