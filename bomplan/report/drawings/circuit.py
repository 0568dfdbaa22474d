"""The plan's own power circuit on one sheet: pack, switchgear, drive, branches, 12 V side.

Laid out by rule, so that any plan stays legible: the pack stands as rows of boxes and columns
of strings between the positive rail above and the negative rail below; everything else hangs
between the rails; what is at chassis potential stands outside the isolation boundary.
"""

from __future__ import annotations

from dataclasses import replace

from bomplan.design.circuit import circuit
from bomplan.design.circuit_records import Block, Circuit, Run
from bomplan.design.records import Plan
from bomplan.report.drawings import symbols
from bomplan.report.drawings.circuit_frame import (
    BOX_BOTTOM,
    BOX_TOP,
    CELLS,
    CUT,
    DISCONNECT,
    FUSE,
    LEAD,
    LEG,
    LETTERS,
    MARGIN,
    SHUNT,
    STEP,
    TOP_RAIL,
)
from bomplan.report.drawings.circuit_key import described, draw_key, each_words, joint_words, metres
from bomplan.report.drawings.circuit_low import LowSide
from bomplan.report.drawings.ink import HEAVY, PLAIN, Ink, fit, wrap
from bomplan.report.drawings.symbols import Along
from bomplan.requirements.cautions import DEFER


def circuit_svg(plan: Plan) -> str:
    """The drawing of a plan with a core. InputError where its embedded rows are not whole."""
    return draw(circuit(plan), plan.project)


def draw(found: Circuit, project: str, *, key: bool = True) -> str:
    """The drawing of a circuit as SVG text; without its ``key``, where that stands beside it."""
    ink, width, height = sized_sheet(found, project, key)
    return ink.svg(width, height, f"Power circuit: {project}", described(found), to_scale=False)


def sheet(found: Circuit, project: str) -> Ink:
    """The drawing before it becomes text; overlaps can be counted on it."""
    return sized_sheet(found, project)[0]


def sized_sheet(found: Circuit, project: str, key: bool = True) -> tuple[Ink, float, float]:
    """The drawing with the width and the height of its paper."""
    drawing = _Drawing(found, Ink())
    width = drawing.columns.right + MARGIN
    drawing.title(project, width)
    bottom = drawing.pack()
    drawing.rails(bottom)
    drawing.trunk()
    drawing.drive()
    drawing.charger()
    drawing.heater()
    drawing.converter()
    drawing.boundary()
    low = drawing.low_side(width)
    height = (draw_key(drawing.ink, found, low, MARGIN, width) if key else low) + MARGIN / 2
    return drawing.ink, width, height


class _Drawing(LowSide):
    def title(self, project: str, width: float) -> None:
        ink = self.ink
        ink.text(MARGIN, 30, fit(f"Power circuit: {project}", 80), size=17, bold=True)
        volts = self.found.full_v
        ink.text(
            MARGIN,
            50,
            f"Pack {volts:.1f} V when full. Drawn at rest: contacts open, nothing switched on. Tags"
            " lead to the ids of the bill below.",
            size=11,
        )
        columns = int((width - 2 * MARGIN) / LETTERS)
        lines = (*wrap(DEFER, columns, 2), *wrap(joint_words(self.found), columns, 1))
        for number, line in enumerate(lines):
            ink.text(MARGIN, 66 + 14 * number, line, size=11)

    def pack(self) -> float:
        """The boxes, their cables and joints; the y of the negative rail."""
        x0, ink, found = self.columns.pack + 12, self.ink, self.found
        xs = [x0 + 22 + self.pitch * number for number in range(found.strings)]
        y = TOP_RAIL
        cut = found.of("driver disconnect")
        if cut:
            symbols.hand_disconnect(Along(ink, xs[0], y), 74, HEAVY)
            self.label(xs[0] + 14, y + 28, cut[0])
        else:
            ink.line((xs[0], y), (xs[0], y + 74), weight=HEAVY)
        ink.line((xs[0], y + 74), (xs[0], y + LEG), weight=HEAVY)
        y += LEG
        self._joint_bar(xs, y, "X1", "+")
        for row, box in enumerate(found.boxes):
            runs = [run for run in found.runs if run.box == box.bay]
            for x, run in zip(xs, runs, strict=True):
                wire = self.into(run.tags[0])
                ink.line((x, y), (x, y + LEAD), weight=HEAVY)
                self.wire_label(x + 8, y + 20, wire)
            y = self._box(row, xs, y + LEAD, runs)
            for number, x in enumerate(xs, 1):
                ink.line((x, y), (x, y + LEAD), weight=HEAVY)
                self.wire_label(x + 8, y + 22, self.leaving(runs[number - 1].tags[-1], "-"))
            y += LEAD
            if row + 1 < len(found.boxes):
                y = self._between(row, xs, y)
        self._joint_bar(xs, y, "X2", "-")
        shunt = found.of("shunt")
        ink.line((xs[0], y), (xs[0], y + 20), weight=HEAVY)
        if shunt:
            symbols.shunt(Along(ink, xs[0], y + 20), SHUNT, HEAVY)
            self.label(xs[0] + 18, y + 38, shunt[0])
        else:
            ink.line((xs[0], y + 20), (xs[0], y + 20 + SHUNT), weight=HEAVY)
        return y + 20 + SHUNT + 16

    def _joint_bar(self, xs: list[float], y: float, tag: str, sign: str) -> None:
        if self.many:
            self.ink.line((xs[0], y), (xs[-1], y), weight=HEAVY)
        for x in xs:
            self.ink.dot(x, y)
        self.ink.text(xs[0] - 8, y + 4, f"{tag} {sign}", bold=True, anchor="end")

    def _between(self, row: int, xs: list[float], y: float) -> float:
        joints = [self.found.between[number, row] for number in range(1, len(xs) + 1)]
        cut = self.found.blocks[joints[0]].kind == "disconnect"
        for x, tag in zip(xs, joints, strict=True):
            if cut:
                symbols.disconnect(Along(self.ink, x, y), DISCONNECT, HEAVY)
                self.label(x + 12, y + 8, self.found.blocks[tag], int((self.pitch - 26) / LETTERS))
            else:
                self.ink.dot(x, y)
                self.ink.text(x - 8, y + 4, tag, bold=True, anchor="end")
        return y + (DISCONNECT if cut else 0)

    def _box(self, row: int, xs: list[float], y: float, runs: list[Run]) -> float:
        """One box with its strings; the y of its lower edge."""
        found, ink = self.found, self.ink
        box = found.boxes[row]
        heights = {"fuse": FUSE, "cells": CELLS, "disconnect": CUT}
        tall = sum(heights[found.blocks[tag].kind] for tag in runs[0].tags)
        monitors = "monitor" if box.monitors == 1 else "monitors"
        words = (
            fit(box.bay, 20),
            f"box {row + 1} of {len(found.boxes)}",
            f"{box.modules} modules",
            f"{box.series} in series",
            f"{box.nominal_v:.1f} V nominal",
            f"{box.full_v:.1f} V full",
            *((f"{box.monitors} cell {monitors}",) if box.monitors else ()),
        )
        height = BOX_TOP + max(tall, STEP * len(words) + 4) + BOX_BOTTOM
        left = self.columns.pack
        ink.rectangle(left, y, self.columns.trunk - 14 - left, height, weight=PLAIN, dash="7 4")
        draw = {
            "fuse": symbols.fuse,
            "cells": symbols.battery,
            "disconnect": symbols.disconnect,
        }
        for x, run in zip(xs, runs, strict=True):
            at = y
            ink.line((x, at), (x, at + BOX_TOP), weight=HEAVY)
            at += BOX_TOP
            for tag in run.tags:
                block = found.blocks[tag]
                length = heights[block.kind]
                if block.kind == "disconnect":
                    wires = [one for one in self.wires(tag) if one.length_mm]
                    block = replace(block, rating=(*block.rating, *each_words(wires)))
                draw[block.kind](Along(ink, x, at), length, HEAVY)
                self.label(x + 20, at + length / 2 - 12, block, int((self.pitch - 26) / LETTERS))
                at += length
            ink.line((x, at), (x, y + height), weight=HEAVY)
        aside = xs[-1] - 22 + self.pitch + 4
        ink.lines(aside, y + 18, words, step=STEP)
        return y + height

    def rails(self, bottom: float) -> None:
        self.bottom = bottom
        ink, columns, found = self.ink, self.columns, self.found
        xp = columns.pack + 34
        left = columns.charger + 70 if found.of("charger") else xp
        low = columns.charger + 142 if found.of("charger") else xp
        self.bus_x = columns.trunk + 186 + 110 * max(0, len(self.contactors("+")) - 1)
        self.low_bus_x = columns.trunk + 186 + 110 * max(0, len(self.contactors("-")) - 1)
        ink.line((left, TOP_RAIL), (columns.trunk + 16, TOP_RAIL), weight=HEAVY)
        ink.line((low, bottom), (columns.trunk + 16, bottom), weight=HEAVY)
        ink.line((xp, bottom - 16), (xp, bottom), weight=HEAVY)
        for x, y in ((xp, TOP_RAIL), (xp, bottom)):
            ink.dot(x, y)
        ends = [columns.drive + 75.0]
        if found.of("discharge resistor"):
            ends.append(columns.drive + 226)
        if found.of("heater"):
            ends.append(columns.heater + 22)
        if found.of("converter"):
            ends.append(columns.converter + 24)
        ink.line((self.bus_x, TOP_RAIL), (ends[-1], TOP_RAIL), weight=HEAVY)
        ends[0] = columns.drive + 142
        ink.line((self.low_bus_x, bottom), (ends[-1], bottom), weight=HEAVY)
        rails = {block.words: block.tag for block in found.of("stud")}
        for at, y, short, words in (
            (xp + 12, TOP_RAIL - 10, "+ pack side", "positive, pack side"),
            (xp + 12, bottom + 16, "- pack side", "negative, pack side"),
            (columns.drive + 84, TOP_RAIL - 10, "+ bus", "positive bus, behind the contactor"),
            (columns.drive + 20, bottom + 16, "- bus", "negative bus, behind the contactor"),
        ):
            ink.text(at, y, f"{rails[words]} {short}", bold=True)

    def trunk(self) -> None:
        """Contactors in their poles and the pre-charge around the first."""
        ink, found, x = self.ink, self.found, self.columns.trunk + 16
        for pole, y, end in (("+", TOP_RAIL, self.bus_x), ("-", self.bottom, self.low_bus_x)):
            contactors = self.contactors(pole)
            ink.dot(x, y)
            ink.dot(end, y)
            at = x
            each = (end - x) / max(1, len(contactors))
            for block in contactors:
                symbols.contactor(Along(ink, at, y, down=False), each, HEAVY)
                self.label(at + each / 2, y - 44, block, 15, anchor="middle")
                at += each
            if not contactors:
                ink.line((x, y), (end, y), weight=HEAVY)
        resistor, relay = found.of("precharge resistor"), found.of("precharge relay")
        if not (resistor and relay):
            words = ("Pre-charge is built", "into the controller.")
            ink.lines(x + 12, TOP_RAIL + 34, words, first_bold=False)
            return
        y = TOP_RAIL + 46
        ink.line((x, TOP_RAIL), (x, y))
        symbols.resistor(Along(ink, x, y, down=False), 80, PLAIN)
        symbols.relay(Along(ink, x + 80, y, down=False), self.bus_x - x - 80, PLAIN)
        ink.line((self.bus_x, y), (self.bus_x, TOP_RAIL))
        self.label(x + 40, y + 22, resistor[0], 12, anchor="middle")
        self.label((x + 80 + self.bus_x) / 2, y + 22, relay[0], 12, anchor="middle")
        wires = [one for one in found.wires if one.note and resistor[0].tag in one.note]
        told = (
            *each_words(wires[1:]),
            wires[0].note,
            f"behind {wires[0].fuse}",
        )
        ink.lines(x + 6, y + 72, tuple(fit(one, 28) for one in told), size=10, step=12)

    def drive(self) -> None:
        """Controller and motor."""
        ink, found, x = self.ink, self.found, self.columns.drive
        control = next(b for b in found.blocks.values() if b.kind in ("inverter", "chopper"))
        motor = next(b for b in found.blocks.values() if b.family == "motor")
        three = motor.kind == "three-phase motor"
        plus = next(w for w in found.wires if w.end.tag == control.tag and w.end.terminal == "+")
        minus = next(w for w in found.wires if w.end.tag == control.tag and w.end.terminal == "-")
        y = TOP_RAIL
        ink.dot(x + 75, y)
        ink.line((x + 75, y), (x + 75, y + 52), weight=HEAVY)
        self.wire_label(x + 83, y + 24, plus)
        y += 52
        words = ("regeneration on" if found.regenerates else "no regeneration",)
        height = self._device(x, y, control, "=", "3~" if three else "=", words)
        y += height
        phases = [w for w in found.wires if w.start.tag == control.tag and w.end.tag == motor.tag]
        lines = [x + 22 + 18 * number for number in range(len(phases))]
        drop = 64
        centre = (lines[0] + lines[-1]) / 2
        for at in lines:
            ink.line((at, y), (at, y + drop + (4 if at != centre else 0)), weight=HEAVY)
        first = phases[0]
        label = (
            f"{first.tag}-{phases[-1].tag}",
            first.section,
            f"{metres(first.length_mm)} each",
            first.fuse,
        )
        ink.lines(lines[-1] + 8, y + 15, label, size=10, step=12)
        radius = 28
        cy = y + drop + radius
        ink.circle(centre, cy, radius)
        ink.text(centre, cy + 1, "M", size=15, anchor="middle", bold=True, inside=True)
        ink.text(centre, cy + 16, "3~" if three else "=", anchor="middle", inside=True)
        self.label(x + 4, cy + radius + 16, motor, 19)
        down = x + 142
        ink.line((down, y), (down, self.bottom), weight=HEAVY)
        ink.dot(down, self.bottom)
        self.wire_label(down + 8, cy, minus)
        for across in found.of("discharge resistor"):
            at = x + 226
            ink.line((at, TOP_RAIL), (at, TOP_RAIL + 60))
            symbols.resistor(Along(ink, at, TOP_RAIL + 60), 60, PLAIN)
            ink.line((at, TOP_RAIL + 120), (at, self.bottom))
            self.label(at + 14, TOP_RAIL + 72, across, 13, words=True)
            ink.text(at + 14, TOP_RAIL + 150, f"on {control.tag}", size=10)
            for y in (TOP_RAIL, self.bottom):
                ink.dot(at, y)

    def _device(
        self,
        x: float,
        y: float,
        block: Block,
        first: str,
        second: str,
        more: tuple[str, ...] = (),
        width: float = 152,
    ) -> float:
        """A box with its symbol, tag, ratings and the id of the bill; its height."""
        columns = int((width - 14) / LETTERS)
        lines = (*block.rating, *more)
        ids = wrap(block.part, columns, 2)
        height = 46 + STEP * (len(lines) + len(ids)) + 2
        self.ink.rectangle(x, y, width, height, weight=PLAIN, fill="#fff")
        symbols.converter(self.ink, x + 6, y + 6, first, second)
        self.ink.text(x + 44, y + 18, block.tag, bold=True, inside=True)
        self.ink.text(x + 44, y + 32, fit(block.words, int((width - 50) / LETTERS)), inside=True)
        at = self.ink.lines(
            x + 7, y + 51, tuple(fit(one, columns) for one in lines), first_bold=False, inside=True
        )
        self.ink.lines(x + 7, at, ids, first_bold=False, size=10, inside=True)
        return height

    def _branch(self, x: float, fuse_tag: str) -> float:
        """A branch fuse hanging from the positive rail; the y of its lower end."""
        self.ink.dot(x, TOP_RAIL)
        if fuse_tag:
            symbols.fuse(Along(self.ink, x, TOP_RAIL), 58, PLAIN)
            self.label(x + 12, TOP_RAIL + 20, self.found.blocks[fuse_tag], 15)
        else:
            self.ink.line((x, TOP_RAIL), (x, TOP_RAIL + 58))
        return TOP_RAIL + 58

    def charger(self) -> None:
        """The charger at the left end of the rails, the isolation monitor beside it."""
        ink, found, x = self.ink, self.found, self.columns.charger
        chargers = found.of("charger")
        if not chargers:
            return
        block = chargers[0]
        fuse = found.branches.get("charger", "")
        y = self._branch(x + 70, fuse)
        feed = next(w for w in found.wires if w.end.tag == block.tag and w.end.terminal == "+")
        back = next(w for w in found.wires if w.start.tag == block.tag)
        tap = y + 8
        ink.line((x + 70, y), (x + 70, tap + LEAD))
        self.wire_label(x + 78, tap + 20, feed)
        top = tap + LEAD
        height = self._device(x, top, block, "~", "=")
        self.charger_middle = top + 22
        ink.line((x + 142, top + height), (x + 142, self.bottom))
        ink.dot(x + 142, self.bottom)
        self.wire_label(x + 134, self.bottom - 34, back, end=True)
        self.mains_top = top + height
        watch = found.of("isolation monitor")
        if watch:
            self._watch(watch[0], x + 70, tap)

    def _watch(self, block: Block, feed_x: float, tap: float) -> None:
        """The isolation monitor behind its own fuse; in older plans behind the charger's."""
        ink, x = self.ink, self.columns.watch + 4
        wires = self.wires(block.tag)
        middle = x + 56
        top = tap + 74
        fuse = self.found.branches.get("isolation monitor", "")
        if fuse:
            at = x + 14
            y = self._branch(at, fuse)
            ink.line((at, y), (at, top))
            self.wire_label(at + 8, y + 38, wires[0])
        else:
            ink.dot(feed_x, tap)
            ink.line((feed_x, tap), (middle, tap), (middle, top))
            self.wire_label(middle - 8, tap + 40, wires[0], end=True)
        lines = (block.tag, "isolation", "monitor", *block.rating)
        ids = wrap(block.part, 15, 3)
        height = 8 + STEP * len(lines) + 12 * len(ids) + 6
        ink.rectangle(x, top, 108, height)
        at = ink.lines(x + 7, top + 16, lines)
        ink.lines(x + 7, at, ids, size=10, first_bold=False, step=12)
        ink.line((middle + 26, top + height), (middle + 26, self.bottom))
        ink.dot(middle + 26, self.bottom)
        symbols.chassis(ink, x + 16, top + height)
        self.wire_label(middle + 20, self.bottom - 34, wires[-1], end=True)

    def heater(self) -> None:
        ink, found, x = self.ink, self.found, self.columns.heater + 22
        heaters = found.of("heater")
        if not heaters:
            return
        y = self._branch(x, found.branches.get("heater", ""))
        feed = next(w for w in found.wires if w.end.tag == heaters[0].tag)
        back = next(w for w in found.wires if w.start.tag == heaters[0].tag)
        relays = found.of("heater relay")
        for relay in relays:
            before = next(w for w in found.wires if w.end.tag == relay.tag)
            ink.line((x, y), (x, y + LEAD))
            self.wire_label(x + 8, y + 26, before)
            y += LEAD
            symbols.relay(Along(ink, x, y), 46, PLAIN)
            self.label(x + 12, y + 20, relay, 15)
            y += 46
        ink.line((x, y), (x, y + LEAD))
        self.wire_label(x + 8, y + 26, feed)
        y += LEAD
        symbols.heater(Along(ink, x, y), 64, PLAIN)
        self.label(x + 16, y + 22, heaters[0], 14)
        ink.line((x, y + 64), (x, self.bottom))
        ink.dot(x, self.bottom)
        self.wire_label(x + 8, self.bottom - 34, back)

    def converter(self) -> None:
        """The converter at the right end of the rails; its 12 V side leaves downward."""
        ink, found, x = self.ink, self.found, self.columns.converter
        found_here = found.of("converter")
        if not found_here:
            return
        block = found_here[0]
        y = self._branch(x + 24, found.branches.get("converter", ""))
        feed = next(w for w in found.wires if w.end.tag == block.tag and w.end.terminal == "+")
        back = next(w for w in found.wires if w.start.tag == block.tag and w.start.terminal == "-")
        ink.line((x + 24, y), (x + 24, y + LEAD + 8))
        self.wire_label(x + 32, y + 28, feed)
        top = y + LEAD + 8
        height = self._device(x, top, block, "=", "=")
        self.converter_middle = top + 22
        ink.line((x + 24, top + height), (x + 24, self.bottom))
        ink.dot(x + 24, self.bottom)
        self.wire_label(x + 32, self.bottom - 34, back)
        self.low_x = x + 140
        self.low_top = top + height

    def boundary(self) -> None:
        """The line between the traction circuit and everything at chassis potential."""
        found, columns = self.found, self.columns
        left, right = columns.charger - 12, columns.right - 8
        top, bottom = TOP_RAIL - 64, self.bottom + 28
        points = [(left, top), (right, top)]
        if found.of("converter"):
            x = columns.converter + 126
            points += [(right, self.converter_middle), (x, self.converter_middle)]
            points += [(x, bottom)]
        else:
            points += [(right, bottom)]
        if found.of("charger"):
            x = columns.charger + 36
            points += [(x, bottom), (x, self.charger_middle), (left, self.charger_middle)]
        else:
            points += [(left, bottom)]
        points += [(left, top)]
        # Drawn under the two devices that it passes through, which are filled with white.
        self.ink.outline(points)
        words = "isolation boundary: nothing inside it joins the chassis or the 12 V side"
        self.ink.text(columns.trunk + 10, bottom + 14, words, size=10, bold=True)
