"""The plan's own power circuit as a list of blocks and wires, derived from the bill.

Nothing here is drawn and nothing is sized: blocks carry the tags of a circuit diagram
(letters after IEC 81346-2, from memory), the ids of the bill and the ratings of their rows;
wires carry section, length and the fuse upstream of them. What of the bill is no block of
the circuit (lugs, holders, labels) stands in ``beside``, so that no line gets lost.

The order is common practice: one fuse at the positive pole of every box; the service
disconnect where it leaves the smaller sections; the driver's disconnect and the shunt between
the pack and everything else; charger and isolation monitor, each behind its own fuse, on the
pack's side of the contactors; controller, heater and converter behind them, so that nothing
loads the bus while it is pre-charged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from bomplan.buying.terms import CHARGES
from bomplan.catalog.records import Part
from bomplan.design.bill.branches import RELAY_TAP_MM, TAPS_MM, branch_run_mm
from bomplan.design.bill.charging import set_current_a
from bomplan.design.bill.traction import STUB_METRES, cut_pair_m, pole_pair_m
from bomplan.design.circuit_low import low_side
from bomplan.design.circuit_maker import Maker
from bomplan.design.circuit_ratings import rating
from bomplan.design.circuit_records import (
    Beside,
    Box,
    Circuit,
    Run,
    Side,
    WireKind,
)
from bomplan.design.context import Context
from bomplan.design.drive import Drive, resolve
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Plan
from bomplan.design.sections import split_places
from bomplan.sizing import precharge

TAP_FUSE: Final = "one in each tap"
BY_THE_METRE: Final = ("cable", "branch_cable", "wire_12v", "feed_wire")


def circuit(plan: Plan) -> Circuit:
    """The circuit of a plan with a core. InputError where its embedded rows are not whole."""
    if plan.core is None:
        raise ValueError("a plan without a core has no circuit")
    context = Context(project_of(plan), catalog_of(plan))
    return _Builder(plan, context, resolve(context, plan.core)).build()


def precharge_s(drive: Drive, resistor: Part) -> float:
    """Seconds until the resistor has filled the controller of a full pack to where it closes."""
    share = precharge.closing_share(drive.figures.charge_v)
    farads = drive.controller.number("capacitance_mf") * 1e-3
    return precharge.time_to_share_s(resistor.number("ohm"), farads, share)


@dataclass
class _Builder(Maker):
    """Puts the circuit together in one pass."""

    branches: dict[str, str] = field(default_factory=dict)
    between: dict[tuple[int, int], str] = field(default_factory=dict)
    runs: list[Run] = field(default_factory=list)
    taps: list[str] = field(default_factory=list)

    def build(self) -> Circuit:
        figures = self.drive.figures
        self.strings = self.drive.strings
        self.section = self._cable_section()
        self.boxes = self._boxes()
        self.series = sum(box.series for box in self.boxes)
        self._pack()
        self._trunk()
        self._drive()
        self._branches()
        interlock = low_side(self, sum(box.monitors for box in self.boxes))
        for cells in self.taps:
            watch = next(one.tag for one in self.blocks.values() if one.kind == "monitor contact")
            self.wire((cells, "taps"), (watch, cells), "tap", TAP_FUSE, "monitor's harness", None)
        return Circuit(
            blocks=self.blocks,
            wires=tuple(self.wires),
            boxes=self.boxes,
            runs=tuple(self.runs),
            between=self.between,
            interlock=interlock,
            branches=self.branches,
            beside=tuple(self._beside()),
            regenerates=self.context.project.choices.regeneration is not False
            and self.drive.motor.text("kind") != "series_dc"
            and self.drive.controller.flag("regeneration"),
            strings=self.strings,
            full_v=figures.charge_v,
            precharge_s=precharge_s(self.drive, self.parts["precharge_resistor"])
            if self.has("precharge_resistor") and self.has("precharge_relay")
            else None,
            cable=self.lines["cable"].part if "cable" in self.lines else "",
            branch_cable=self.lines["branch_cable"].part if self.has("branch_cable") else "",
            wire_12v=self.lines["wire_12v"].part if self.has("wire_12v") else "",
            feed_wire=self.lines["feed_wire"].part if self.has("feed_wire") else "",
        )

    def _cable_section(self) -> str:
        cable = self.parts.get("cable")
        return f"{cable.number('area_mm2'):g} mm²" if cable is not None else "?"

    # -- the pack -----------------------------------------------------------------------

    def _boxes(self) -> tuple[Box, ...]:
        names = [bay.name for bay in self.context.bays]
        module = self.drive.module
        monitor = self.parts.get("monitor")
        found = []
        for use in self.plan.placement:
            if use.series < 1:
                continue
            cells = use.series * int(module.number("cells_series"))
            boards = 0
            if monitor is not None and use.bay in names:
                from bomplan.design.bill.charging import Monitor

                boards = Monitor().in_bay(
                    self.context, self.drive, monitor, names.index(use.bay), use.series
                )
            found.append(
                Box(
                    bay=use.bay,
                    series=use.series,
                    modules=use.modules,
                    full_v=cells * module.number("cell_v_charge"),
                    nominal_v=cells * module.number("cell_v_nominal"),
                    monitors=boards,
                )
            )
        return tuple(found)

    def _pole_mm(self, box: Box) -> int:
        """One pole of one string from the box to the junction box: half of what is bought."""
        metres = pole_pair_m(self.context, self.drive, self._index(box))
        return round(Fraction(1000 * metres, 2 * self.strings))

    def _cut_mm(self, box: Box) -> int:
        """One way to the service disconnect of one string in a box that it cuts.

        0 where the bill does not hold that cable, as those of older plans do not.
        """
        if self.lines["cable"].quantity < self._counted_m():
            return 0
        metres = cut_pair_m(self.context, self.drive, self._index(box), box.series)
        return round(Fraction(1000 * metres, 2 * self.strings))

    def _counted_m(self) -> int:
        """Metres of the stub, of every box, and to the service disconnect within one."""
        pairs = [
            (
                pole_pair_m(self.context, self.drive, self._index(one)),
                cut_pair_m(self.context, self.drive, self._index(one), one.series),
            )
            for one in self.boxes
        ]
        return STUB_METRES + sum(map(sum, pairs))

    def _index(self, box: Box) -> int:
        return [bay.name for bay in self.context.bays].index(box.bay)

    def _pack(self) -> None:
        self.plus = self.block("X", "stud", "pack positive, in the junction box")
        self.minus = self.block("X", "stud", "pack negative, in the junction box")
        breaks = self.left("service_disconnect") // self.strings
        places = split_places([box.series for box in self.boxes], breaks)
        for string in range(1, self.strings + 1):
            self._string(string, places)

    def _string(self, string: int, places: tuple[int, ...]) -> None:
        before: tuple[str, str] = (self.plus, "1")
        at, last_fuse = 0, ""
        for number, box in enumerate(self.boxes):
            fuse = self.block("F", "fuse", "fuse of the box", "fuse", box=box.bay, string=string)
            length = self._pole_mm(box)
            self.wire(before, (fuse, "1"), "cable", last_fuse or fuse, length_mm=length)
            tags, ends = self._cells(box, string, at, places, fuse)
            self.runs.append(Run(box.bay, string, (fuse, *tags)))
            at += box.series
            if number + 1 < len(self.boxes):
                if at in places:
                    joint = self.block(
                        "S", "disconnect", "service disconnect", "service_disconnect", string=string
                    )
                else:
                    joint = self.block("X", "stud", "joint in the junction box", string=string)
                self.between[string, number] = joint
                self.wire(ends, (joint, "1"), "cable", fuse, length_mm=length)
                before = (joint, "2")
            else:
                self.wire(ends, (self.minus, "1"), "cable", fuse, length_mm=length)
            last_fuse = fuse

    def _cells(
        self, box: Box, string: int, at: int, places: tuple[int, ...], fuse: str
    ) -> tuple[tuple[str, ...], tuple[str, str]]:
        """The cells of a string in one box, cut where a disconnect stands; tags and last end."""
        core, module = self.drive.core, self.drive.module
        cuts = [place - at for place in places if at < place < at + box.series]
        sizes = [b - a for a, b in zip([0, *cuts], [*cuts, box.series], strict=True)]
        parallel = 1 if core.topology == "strings" else core.parallel
        tags: list[str] = []
        before = (fuse, "2")
        length = self._cut_mm(box)
        lead: tuple[WireKind, str, str, int] = (
            ("cable", fuse, self.section, length) if length else ("bar", fuse, "bars", 0)
        )
        for number, size in enumerate(sizes):
            if number:
                cut = self.block(
                    "S",
                    "disconnect",
                    "service disconnect",
                    "service_disconnect",
                    box=box.bay,
                    string=string,
                )
                self.wire(before, (cut, "1"), *lead)
                tags.append(cut)
                before = (cut, "2")
            volts = size * module.number("cells_series") * module.number("cell_v_charge")
            ah = module.number("capacity_ah") * module.number_or("state_of_health", 1.0) * parallel
            cells = self.block(
                "G",
                "cells",
                "modules in series x parallel",
                "",
                (f"{size}s{parallel}p", f"{volts:.1f} V full", f"{ah:.0f} Ah"),
                box=box.bay,
                string=string,
            )
            self.blocks[cells] = replace(
                self.blocks[cells], family="module", part=self.drive.module.id
            )
            self.drawn["module"] = self.drawn.get("module", 0) + size * parallel
            if number:
                self.wire(before, (cells, "+"), *lead)
            else:
                self.wire(before, (cells, "+"), "bar", fuse, "bars")
            tags.append(cells)
            if self.has("monitor"):
                # As many as the board has channels on these cells, in its own harness.
                self.taps.append(cells)
            before = (cells, "-")
        return tuple(tags), before

    # -- from the pack to the bus -------------------------------------------------------

    def _trunk(self) -> None:
        """Driver's disconnect, contactors and pre-charge in the plus pole; shunt in the minus."""
        main = self.runs[0].tags[0]
        tail = self.runs[-1].tags[0]
        at = (self.plus, "2")
        if self.has("emergency_disconnect"):
            cut = self.block(
                "Q", "driver disconnect", "driver's disconnect", "emergency_disconnect"
            )
            self.wire(at, (cut, "1"), "stud", main)
            at = (cut, "2")
        self.pack_plus = self.block("X", "stud", "positive, pack side")
        self.wire(at, (self.pack_plus, "1"), "stud", main)
        below = (self.minus, "2")
        if self.has("shunt"):
            shunt = self.block("R", "shunt", "shunt of the gauge", "shunt")
            self.wire((shunt, "1"), below, "stud", tail)
            below = (shunt, "2")
        self.pack_minus = self.block("X", "stud", "negative, pack side")
        self.wire((self.pack_minus, "1"), below, "stud", tail)
        self.bus_plus = self.block("X", "stud", "positive bus, behind the contactor")
        self.bus_minus = self.block("X", "stud", "negative bus, behind the contactor")
        number = self.left("contactor")
        plus_pole = number - number // 2
        self._chain(self.pack_plus, self.bus_plus, plus_pole, main)
        self._chain(self.pack_minus, self.bus_minus, number // 2, tail)
        self._precharge(main)

    def _chain(self, start: str, end: str, number: int, fuse: str) -> None:
        at = (start, "2")
        for _ in range(number):
            contactor = self.block("K", "contactor", "main contactor", "contactor")
            self.wire(at, (contactor, "1"), "stud", fuse)
            at = (contactor, "2")
        self.wire(at, (end, "1"), "stud", fuse)

    def _precharge(self, fuse: str) -> None:
        """The resistor stands first, so that the thin wires carry what it lets through."""
        if not (self.has("precharge_resistor") and self.has("precharge_relay")):
            return
        resistor = self.block(
            "R", "precharge resistor", "pre-charge resistor", "precharge_resistor"
        )
        relay = self.block("K", "precharge relay", "pre-charge relay", "precharge_relay")
        ohm = self.parts["precharge_resistor"].number("ohm")
        amps = self.drive.figures.charge_v / ohm
        bought = self.has("branch_cable")
        section = self._branch_section() if bought else self.least_section(amps)
        length = TAPS_MM // 2 if bought else None
        note = f"at most {amps:.1f} A through {resistor}"
        self.wire((self.pack_plus, "2"), (resistor, "1"), "stud", fuse, "bolted", 0, note)
        for start, end in (
            ((resistor, "2"), (relay, "1")),
            ((relay, "2"), (self.bus_plus, "1")),
        ):
            self.wire(start, end, "branch", fuse, section, length, note)

    # -- controller and motor -----------------------------------------------------------

    def _drive(self) -> None:
        series = self.drive.motor.text("kind") == "series_dc"
        controller = self.block(
            "T",
            "chopper" if series else "inverter",
            "controller",
            "controller",
            (*rating(self.parts["controller"]), f"set to {self.drive.battery_limit_a:.0f} A"),
        )
        motor = self.block("M", "series motor" if series else "three-phase motor", "motor", "motor")
        main, tail = self.runs[0].tags[0], self.runs[-1].tags[0]
        poles = ("A+", "A-") if series else ("U", "V", "W")
        length = self._stub_mm(2 + len(poles))
        self.wire((self.bus_plus, "2"), (controller, "+"), "cable", main, length_mm=length)
        self.wire((self.bus_minus, "2"), (controller, "-"), "cable", tail, length_mm=length)
        for pole in poles:
            self.wire((controller, pole), (motor, pole), "cable", main, length_mm=length)
        if self.has("discharge_resistor"):
            across = self.block(
                "R", "discharge resistor", "discharge resistor", "discharge_resistor"
            )
            self.wire((controller, "+"), (across, "1"), "stud", main, "bolted")
            self.wire((across, "2"), (controller, "-"), "stud", tail, "bolted")

    def _stub_mm(self, conductors: int) -> int:
        """What the bill holds beyond the boxes' cables, shared by the conductors of the drive."""
        line = self.lines.get("cable")
        metres = 0 if line is None else line.quantity
        boxes = sum(
            2 * self.strings * (self._pole_mm(box) + self._cut_mm(box)) for box in self.boxes
        )
        return max(0, round(Fraction(1000 * metres - boxes, conductors)))

    # -- charger, converter, heater, isolation monitor ----------------------------------

    def _branches(self) -> None:
        rows: list[tuple[str, str, str, str, bool, Side]] = [
            ("charger", "T", "charger", "charger", True, "both"),
            ("dcdc", "T", "converter", "converter", False, "both"),
            ("heater", "E", "heater", "cabin heater", False, "traction"),
            ("isolation_monitor", "A", "isolation monitor", "isolation monitor", True, "both"),
        ]
        section = self._branch_section()
        for family, letter, kind, words, pack_side, side in rows:
            if not self.has(family):
                continue
            plus = self.pack_plus if pack_side else self.bus_plus
            minus = self.pack_minus if pack_side else self.bus_minus
            at, fuse = (plus, "2"), ""
            length = branch_run_mm(self.context, family) if self.has("branch_cable") else None
            if self.left("branch_fuse") > 0:
                fuse = self.block("F", "fuse", f"branch fuse: {words}", "branch_fuse")
                self.wire(at, (fuse, "1"), "stud", self.runs[0].tags[0], "bolted")
                at = (fuse, "2")
                self.branches[kind] = fuse
            elif kind == "isolation monitor" and "charger" in self.branches:
                # Plans that are older than its own fuse: behind that of the charger.
                fuse = self.branches["charger"]
                at = (fuse, "2")
            if kind == "heater" and self.has("heater_relay"):
                relay = self.block("K", "heater relay", "heater relay", "heater_relay")
                tap = RELAY_TAP_MM if self.has("branch_cable") else None
                self.wire(at, (relay, "1"), "branch", fuse, section, tap)
                at = (relay, "2")
            lines = self._charger_rating() if kind == "charger" else None
            device = self.block(letter, kind, words, family, lines, side)
            self.wire(at, (device, "+"), "branch", fuse, section, length)
            self.wire((device, "-"), (minus, "1"), "branch", fuse, section, length)
            if kind == "charger":
                self._supply(device)

    def _charger_rating(self) -> tuple[str, ...]:
        part = self.parts["charger"]
        amps = set_current_a(self.context, self.drive, part)
        return (*rating(part), f"set to {amps:.1f} A")

    def _supply(self, charger: str) -> None:
        charging = self.context.project.charging
        breaker = f"outlet's own, {charging.supply_a:g} A"
        if self.has("charge_inlet"):
            inlet = self.block("X", "inlet", "charge inlet", "charge_inlet", side="mains")
            self.wire((inlet, "L"), (charger, "L"), "mains", breaker, "charger's lead", None)

    def _branch_section(self) -> str:
        cable = self.parts.get("branch_cable")
        if cable is not None:
            return f"{cable.number('area_mm2'):g} mm²"
        fuse = self.parts.get("branch_fuse")
        return self.least_section(fuse.number("rated_a")) if fuse is not None else "?"

    def _beside(self) -> Iterator[Beside]:
        for line in self.plan.lines:
            if line.family in CHARGES:
                continue
            left = line.in_place - self.drawn.get(line.family, 0)
            if line.family in BY_THE_METRE or left <= 0:
                continue
            yield Beside(line, left)
