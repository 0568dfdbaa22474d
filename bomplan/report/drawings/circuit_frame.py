"""Columns, measures and labels of the circuit's drawing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from bomplan.design.circuit_records import Block, Circuit, Wire
from bomplan.report.drawings.circuit_key import pole_contactors, wire_words
from bomplan.report.drawings.ink import Anchor, Ink, wrap

MARGIN: Final = 26
TOP_RAIL: Final = 162.0
# Heights of what stands in a string, and of the gaps around it.
FUSE, CELLS, DISCONNECT, SHUNT = 50, 64, 54, 44
CUT = 76  # a disconnect in a box, with the words of its cables
BOX_TOP, BOX_BOTTOM = 12, 10
LEAD = 46  # a cable between a box and what it goes to, long enough for its label
LEG = 108  # from the positive rail to where the strings join
LETTERS: Final = 6.8  # room for one letter of a label
STEP: Final = 13


@dataclass(frozen=True)
class Columns:
    """Where each column begins."""

    charger: float
    watch: float
    pack: float
    trunk: float
    drive: float
    heater: float
    converter: float
    right: float


class Frame:
    """What every part of the sheet stands on: the circuit, the ink, the columns, the labels."""

    def __init__(self, found: Circuit, ink: Ink) -> None:
        self.found, self.ink = found, ink
        self.many = found.strings > 1
        self.pitch = 122 if self.many else 150
        self.columns = self._columns()
        # The negative rail, and where what leaves the boundary crosses it: set as they are drawn.
        self.bottom = self.mains_top = self.low_x = self.low_top = 0.0

    def _columns(self) -> Columns:
        found = self.found
        charger = float(MARGIN)
        watch = charger + (182 if found.of("charger") else 10)
        pack = watch + (128 if found.of("isolation monitor") else 20)
        trunk = pack + 24 + self.pitch * found.strings + 158
        chain = max(len(self.contactors("+")), len(self.contactors("-")), 1)
        drive = trunk + 210 + 110 * (chain - 1)
        heater = drive + (326 if found.of("discharge resistor") else 236)
        converter = heater + (128 if found.of("heater") else 0)
        right = converter + (176 if found.of("converter") else 10)
        return Columns(charger, watch, pack, trunk, drive, heater, converter, right)

    def contactors(self, pole: str) -> tuple[Block, ...]:
        return pole_contactors(self.found, pole)

    def wires(self, tag: str) -> tuple[Wire, ...]:
        """The wires that end at a block."""
        return tuple(one for one in self.found.wires if tag in (one.start.tag, one.end.tag))

    def into(self, tag: str) -> Wire:
        return next(one for one in self.found.wires if one.end.tag == tag)

    def leaving(self, tag: str, terminal: str = "") -> Wire:
        return next(
            one
            for one in self.found.wires
            if one.start.tag == tag and terminal in ("", one.start.terminal)
        )

    def label(
        self,
        x: float,
        y: float,
        block: Block,
        columns: int = 16,
        *,
        words: bool = False,
        anchor: Anchor = "start",
    ) -> None:
        lines = [block.tag, *(wrap(block.words, columns, 2) if words else ())]
        lines += [line for one in block.rating for line in wrap(one, columns, 2)]
        self.ink.lines(x, y, tuple(lines), anchor=anchor, step=STEP)

    def wire_label(self, x: float, y: float, wire: Wire, *, end: bool = False) -> None:
        self.ink.lines(x, y, wire_words(wire), size=10, anchor="end" if end else "start", step=12)
