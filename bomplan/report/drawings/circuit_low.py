"""Below the isolation boundary: charge inlet, 12 V feed, chain of the contactors, 12 V wires."""

from __future__ import annotations

from typing import Final

from bomplan.design.circuit_records import Block, Wire
from bomplan.report.drawings import symbols
from bomplan.report.drawings.circuit_frame import MARGIN, STEP, Frame
from bomplan.report.drawings.circuit_key import closing_order, metres, tag_runs
from bomplan.report.drawings.ink import PLAIN, THIN, fit, wrap
from bomplan.report.drawings.symbols import Along

_EARTH: Final = (
    "PE to {}'s case and the chassis; outlet with a residual-current device, 30 mA"
    " (IEC 60364-7-722, from memory)"
)
_NOTE: Final = 90  # letters of a line of the note below the chain
_COILS: Final = frozenset({"contactor", "precharge relay"})
_ROW: Final = 450
"""Room for one line of the table of 12 V circuits, and in it where each cell begins, with the
letters that it holds."""
_CELLS: Final = ((0, 4), (28, 10), (96, 9), (154, 9), (212, 8), (264, 24))


class LowSide(Frame):
    """All that is at chassis potential."""

    def low_side(self, width: float) -> float:
        """The whole of it; the lowest y."""
        ink, found, columns = self.ink, self.found, self.columns
        top = self.bottom + 62
        inlet = found.of("inlet")
        if found.of("charger"):
            x = columns.charger + 20
            ink.line((x, self.mains_top), (x, top + 8))
            if inlet:
                ink.circle(x, top + 20, 12)
                for at in (-4, 4):
                    ink.dot(x + at, top + 20)
                self.label(x + 20, top + 10, inlet[0], 17, words=True)
                wire = self.leaving(inlet[0].tag)
                lines = (f"{wire.tag} {wire.section}", f"fuse: {wire.fuse}")
                ink.lines(x + 20, top + 52, tuple(fit(one, 28) for one in lines), size=10, step=12)
                ink.line((x, top + 32), (x, top + 48))
                symbols.chassis(ink, x, top + 48)
            words = _EARTH.format(found.of("charger")[0].tag)
            ink.lines(x + 20, top + 78, wrap(words, 28, 5), size=10, first_bold=False, step=12)
        return self._table(max(top + 136, self._chain(top + 46)), width)

    def _feed(self, y: float) -> float:
        """From the converter leftward: fuses, battery, fuse box; the x where the chain starts."""
        ink, found = self.ink, self.found
        battery, box, feeds = (
            found.of("12 V battery"),
            found.of("12 V fuse box"),
            found.of("feed fuse"),
        )
        x = self.columns.right - 36
        if found.of("converter"):
            x = self.low_x
            ink.line((x, self.low_top), (x, y))
            wire = next((w for w in found.wires if w.kind in ("12 V", "feed")), None)
            if wire is not None:
                ink.text(x + 6, self.low_top + 20, wire.tag, size=10)
        x = self._feed_fuse(x, y, feeds[0] if feeds else None, 40)
        if battery:
            ink.line((x, y), (x, y + 8))
            symbols.battery(Along(ink, x, y + 8), 34, PLAIN)
            symbols.chassis(ink, x, y + 42)
            self.label(x + 18, y + 24, battery[0], 12)
            ink.dot(x, y)
        if box:
            x = self._feed_fuse(x, y, feeds[1] if len(feeds) > 1 else None, 30)
            ink.rectangle(x - 100, y - 14, 100, 28)
            ink.text(x - 93, y + 4, f"{box[0].tag} fuse box", bold=True)
            ink.lines(x - 93, y + 28, box[0].rating, size=10, first_bold=False, step=12)
            x -= 100
        return x

    def _feed_fuse(self, x: float, y: float, fuse: Block | None, plain: float) -> float:
        if fuse is None:
            self.ink.line((x, y), (x - plain, y))
            return x - plain
        symbols.fuse(Along(self.ink, x - 88, y, down=False), 88, PLAIN)
        words = (fuse.tag, *fuse.rating)
        self.ink.lines(x - 44, y - 24, words, anchor="middle", size=10, step=12)
        return x - 88

    def _chain(self, y: float) -> float:
        """The contacts that let the contactors close, from the fuse box leftward to their coils."""
        ink, found = self.ink, self.found
        x = self._feed(y)
        deepest = y + 90
        for tag in found.interlock:
            block = found.blocks[tag]
            wire = self.into(tag)
            start = x - 132
            symbols.relay(Along(ink, start, y, down=False), 132, PLAIN)
            lines = [line for one in block.rating for line in wrap(one, 17, 2)]
            words = (block.tag, *wrap(block.words, 17, 2), *lines)
            ink.lines(start + 66, y + 18, words, anchor="middle")
            deepest = max(deepest, y + 18 + STEP * len(words) + 4)
            ink.text(x - 6, y - 6, wire.tag, size=10, anchor="end")
            x = start
        coils = [b.tag for b in found.blocks.values() if b.kind in _COILS]
        ink.line((x, y), (x - 30, y))
        symbols.coil(Along(ink, x - 64, y, down=False), 34, PLAIN)
        ink.line((x - 64, y), (x - 78, y))
        symbols.chassis(ink, x - 78, y)
        last = next((w for w in found.wires if w.end.terminal == "A1"), None)
        if last is not None:
            ink.text(x - 4, y - 6, last.tag, size=10, anchor="end")
        ink.lines(x - 47, y + 30, ("coils", *wrap(", ".join(coils), 16, 2)), anchor="middle")
        ink.text(
            x - 100,
            y - 24,
            "interlock chain: one contact opens, every contactor opens; cut the throttle first",
            size=10,
            bold=True,
        )
        order = wrap(closing_order(found), _NOTE, 4)
        if not order:
            return y + 90
        ink.lines(x - 100, deepest + 6, order, size=10, first_bold=False, step=12)
        return deepest + 6 + 12 * len(order)

    def _table(self, y: float, width: float) -> float:
        """Every wire of the 12 V side with its fuse, size and length, in columns."""
        rows = tuple(self._rows())
        if not rows:
            return y
        room = width - 2 * MARGIN
        columns = max(1, int(room // _ROW))
        deep = -(-len(rows) // columns)
        self.ink.line((MARGIN, y), (width - MARGIN, y), weight=THIN)
        self.ink.text(
            MARGIN, y + 18, "12 V side: fuse, its wires, size, length of all, where to", bold=True
        )
        for number, row in enumerate(rows):
            x = MARGIN + room / columns * (number // deep)
            for (at, cells), words in zip(_CELLS, row, strict=True):
                self.ink.text(x + at, y + 34 + 13 * (number % deep), fit(words, cells), size=10)
        return y + 34 + 13 * deep

    def _rows(self) -> list[tuple[str, ...]]:
        found = self.found
        every = [one for kind in ("feed fuse", "blade fuse") for one in found.of(kind)]
        rows = [
            _row(block, [w for w in found.wires if w.fuse == block.tag and w.length_mm])
            for block in every
        ]
        rows += [
            (w.fuse, "", w.tag, "signal", "to suit", f"{w.start.tag} to {w.end.tag}")
            for w in found.wires
            if w.kind == "signal"
        ]
        return rows if every else []


def _row(block: Block, wires: list[Wire]) -> tuple[str, ...]:
    tags = tag_runs([w.tag for w in wires])
    section = wires[0].section if wires else ""
    length = metres(sum(w.length_mm or 0 for w in wires))
    return block.tag, block.rating[0], tags, section, length, block.words.split(": ", 1)[-1]
