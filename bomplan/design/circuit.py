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
from bomplan.design.bill.branches import TAPS_MM, branch_run_mm
from bomplan.design.bill.charging import set_current_a
from bomplan.design.bill.traction import STUB_METRES, cut_pair_m, pole_pair_m
from bomplan.design.circuit_ratings import rating
from bomplan.design.circuit_records import (
    Beside,
    Block,
    Box,
    Circuit,
    End,
    Run,
    Side,
    Wire,
    WireKind,
)
from bomplan.design.context import Context
from bomplan.design.drive import Drive, resolve
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Plan
from bomplan.design.sections import split_places
from bomplan.sizing.ampacity import ampacity_a
from bomplan.sizing.copper import CLASS_5_OHM_PER_KM

_POLES: Final = ("+", "-")


def circuit(plan: Plan) -> Circuit:
    """The circuit of a plan with a core. InputError where its embedded rows are not whole."""
    if plan.core is None:
        raise ValueError("a plan without a core has no circuit")
    context = Context(project_of(plan), catalog_of(plan))
    return _Builder(plan, context, resolve(context, plan.core)).build()


@dataclass
class _Builder:
    """Puts the circuit together in one pass; every block and wire gets its number here."""

    plan: Plan
    context: Context
    drive: Drive
    blocks: dict[str, Block] = field(default_factory=dict)
    wires: list[Wire] = field(default_factory=list)
    numbers: dict[str, int] = field(default_factory=dict)
    drawn: dict[str, int] = field(default_factory=dict)
    branches: dict[str, str] = field(default_factory=dict)
    between: dict[tuple[int, int], str] = field(default_factory=dict)
    runs: list[Run] = field(default_factory=list)

    def build(self) -> Circuit:
        figures = self.drive.figures
        self.strings = self.drive.strings
        self.lines = {line.family: line for line in self.plan.lines if line.family not in CHARGES}
        self.parts = {
            family: self.context.catalog.family(family)[line.part]
            for family, line in self.lines.items()
            if line.part in self.context.catalog.family(family)
        }
        self.section = self._cable_section()
        self.boxes = self._boxes()
        self.series = sum(box.series for box in self.boxes)
        self._pack()
        self._trunk()
        self._drive()
        self._branches()
        interlock, loads = self._low_side()
        return Circuit(
            blocks=self.blocks,
            wires=tuple(self.wires),
            boxes=self.boxes,
            runs=tuple(self.runs),
            between=self.between,
            interlock=interlock,
            loads_12v=loads,
            branches=self.branches,
            beside=tuple(self._beside()),
            regenerates=self.context.project.choices.regeneration is not False
            and self.drive.motor.text("kind") != "series_dc"
            and self.drive.controller.flag("regeneration"),
            strings=self.strings,
            full_v=figures.charge_v,
            cable=self.lines["cable"].part if "cable" in self.lines else "",
            branch_cable=self.lines["branch_cable"].part if self._has("branch_cable") else "",
        )

    # -- making blocks and wires --------------------------------------------------------

    def _block(
        self,
        letter: str,
        kind: str,
        words: str,
        family: str = "",
        lines: tuple[str, ...] | None = None,
        side: Side = "traction",
        box: str = "",
        string: int = 0,
    ) -> str:
        self.numbers[letter] = self.numbers.get(letter, 0) + 1
        tag = f"{letter}{self.numbers[letter]}"
        part = self.parts.get(family)
        shown = lines if lines is not None else rating(part) if part is not None else ()
        line = self.lines.get(family)
        if family:
            self.drawn[family] = self.drawn.get(family, 0) + 1
        self.blocks[tag] = Block(
            tag, kind, words, family, line.part if line else "", shown, side, box, string
        )
        return tag

    def _wire(
        self,
        start: tuple[str, str],
        end: tuple[str, str],
        kind: WireKind,
        fuse: str,
        section: str | None = None,
        length_mm: int | None = 0,
        note: str = "",
    ) -> None:
        letter = {"bar": "B", "stud": "B"}.get(kind, "W")
        self.numbers[letter] = self.numbers.get(letter, 0) + 1
        self.wires.append(
            Wire(
                f"{letter}{self.numbers[letter]}",
                End(*start),
                End(*end),
                kind,
                self.section if section is None else section,
                length_mm,
                fuse,
                note,
            )
        )

    def _has(self, family: str) -> bool:
        return family in self.lines and self.lines[family].quantity > 0

    def _left(self, family: str) -> int:
        """Pieces of a family that the bill holds and that no block stands for yet."""
        line = self.lines.get(family)
        return 0 if line is None else line.quantity - self.drawn.get(family, 0)

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
        pairs = [
            (
                pole_pair_m(self.context, self.drive, self._index(one)),
                cut_pair_m(self.context, self.drive, self._index(one), one.series),
            )
            for one in self.boxes
        ]
        if self.lines["cable"].quantity < STUB_METRES + sum(map(sum, pairs)):
            return 0
        metres = cut_pair_m(self.context, self.drive, self._index(box), box.series)
        return round(Fraction(1000 * metres, 2 * self.strings))

    def _index(self, box: Box) -> int:
        return [bay.name for bay in self.context.bays].index(box.bay)

    def _pack(self) -> None:
        self.plus = self._block("X", "stud", "pack positive, in the junction box")
        self.minus = self._block("X", "stud", "pack negative, in the junction box")
        breaks = self._left("service_disconnect") // self.strings
        places = split_places([box.series for box in self.boxes], breaks)
        for string in range(1, self.strings + 1):
            self._string(string, places)

    def _string(self, string: int, places: tuple[int, ...]) -> None:
        before: tuple[str, str] = (self.plus, "1")
        at, last_fuse = 0, ""
        for number, box in enumerate(self.boxes):
            fuse = self._block("F", "fuse", "fuse of the box", "fuse", box=box.bay, string=string)
            length = self._pole_mm(box)
            self._wire(before, (fuse, "1"), "cable", last_fuse or fuse, length_mm=length)
            tags, ends = self._cells(box, string, at, places, fuse)
            self.runs.append(Run(box.bay, string, (fuse, *tags)))
            at += box.series
            if number + 1 < len(self.boxes):
                if at in places:
                    joint = self._block(
                        "S", "disconnect", "service disconnect", "service_disconnect", string=string
                    )
                else:
                    joint = self._block("X", "stud", "joint in the junction box", string=string)
                self.between[string, number] = joint
                self._wire(ends, (joint, "1"), "cable", fuse, length_mm=length)
                before = (joint, "2")
            else:
                self._wire(ends, (self.minus, "1"), "cable", fuse, length_mm=length)
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
                cut = self._block(
                    "S",
                    "disconnect",
                    "service disconnect",
                    "service_disconnect",
                    box=box.bay,
                    string=string,
                )
                self._wire(before, (cut, "1"), *lead)
                tags.append(cut)
                before = (cut, "2")
            volts = size * module.number("cells_series") * module.number("cell_v_charge")
            ah = module.number("capacity_ah") * module.number_or("state_of_health", 1.0) * parallel
            cells = self._block(
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
                self._wire(before, (cells, "+"), *lead)
            else:
                self._wire(before, (cells, "+"), "bar", fuse, "bars")
            tags.append(cells)
            before = (cells, "-")
        return tuple(tags), before

    # -- from the pack to the bus -------------------------------------------------------

    def _trunk(self) -> None:
        """Driver's disconnect, contactors and pre-charge in the plus pole; shunt in the minus."""
        main = self.runs[0].tags[0]
        tail = self.runs[-1].tags[0]
        at = (self.plus, "2")
        if self._has("emergency_disconnect"):
            cut = self._block(
                "Q", "driver disconnect", "driver's disconnect", "emergency_disconnect"
            )
            self._wire(at, (cut, "1"), "stud", main)
            at = (cut, "2")
        self.pack_plus = self._block("X", "stud", "positive, pack side")
        self._wire(at, (self.pack_plus, "1"), "stud", main)
        below = (self.minus, "2")
        if self._has("shunt"):
            shunt = self._block("R", "shunt", "shunt of the gauge", "shunt")
            self._wire((shunt, "1"), below, "stud", tail)
            below = (shunt, "2")
        self.pack_minus = self._block("X", "stud", "negative, pack side")
        self._wire((self.pack_minus, "1"), below, "stud", tail)
        self.bus_plus = self._block("X", "stud", "positive bus, behind the contactor")
        self.bus_minus = self._block("X", "stud", "negative bus, behind the contactor")
        number = self._left("contactor")
        plus_pole = number - number // 2
        self._chain(self.pack_plus, self.bus_plus, plus_pole, main)
        self._chain(self.pack_minus, self.bus_minus, number // 2, tail)
        self._precharge(main)

    def _chain(self, start: str, end: str, number: int, fuse: str) -> None:
        at = (start, "2")
        for _ in range(number):
            contactor = self._block("K", "contactor", "main contactor", "contactor")
            self._wire(at, (contactor, "1"), "stud", fuse)
            at = (contactor, "2")
        self._wire(at, (end, "1"), "stud", fuse)

    def _precharge(self, fuse: str) -> None:
        """The resistor stands first, so that the thin wires carry what it lets through."""
        if not (self._has("precharge_resistor") and self._has("precharge_relay")):
            return
        resistor = self._block(
            "R", "precharge resistor", "pre-charge resistor", "precharge_resistor"
        )
        relay = self._block("K", "precharge relay", "pre-charge relay", "precharge_relay")
        ohm = self.parts["precharge_resistor"].number("ohm")
        amps = self.drive.figures.charge_v / ohm
        bought = self._has("branch_cable")
        section = self._branch_section() if bought else self._least_section(amps)
        length = TAPS_MM // 2 if bought else None
        note = f"at most {amps:.1f} A through {resistor}"
        self._wire((self.pack_plus, "2"), (resistor, "1"), "stud", fuse, "bolted", 0, note)
        for start, end in (
            ((resistor, "2"), (relay, "1")),
            ((relay, "2"), (self.bus_plus, "1")),
        ):
            self._wire(start, end, "branch", fuse, section, length, note)

    # -- controller and motor -----------------------------------------------------------

    def _drive(self) -> None:
        series = self.drive.motor.text("kind") == "series_dc"
        controller = self._block(
            "T",
            "chopper" if series else "inverter",
            "controller",
            "controller",
            (*rating(self.parts["controller"]), f"set to {self.drive.battery_limit_a:.0f} A"),
        )
        motor = self._block(
            "M", "series motor" if series else "three-phase motor", "motor", "motor"
        )
        main, tail = self.runs[0].tags[0], self.runs[-1].tags[0]
        poles = ("A+", "A-") if series else ("U", "V", "W")
        length = self._stub_mm(2 + len(poles))
        self._wire((self.bus_plus, "2"), (controller, "+"), "cable", main, length_mm=length)
        self._wire((self.bus_minus, "2"), (controller, "-"), "cable", tail, length_mm=length)
        for pole in poles:
            self._wire((controller, pole), (motor, pole), "cable", main, length_mm=length)
        if self._has("discharge_resistor"):
            across = self._block(
                "R", "discharge resistor", "discharge resistor", "discharge_resistor"
            )
            self._wire((controller, "+"), (across, "1"), "stud", main, "bolted")
            self._wire((across, "2"), (controller, "-"), "stud", tail, "bolted")

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
            if not self._has(family):
                continue
            plus = self.pack_plus if pack_side else self.bus_plus
            minus = self.pack_minus if pack_side else self.bus_minus
            at, fuse = (plus, "2"), ""
            length = branch_run_mm(self.context, family) if self._has("branch_cable") else None
            if self._left("branch_fuse") > 0:
                fuse = self._block("F", "fuse", f"branch fuse: {words}", "branch_fuse")
                self._wire(at, (fuse, "1"), "stud", self.runs[0].tags[0], "bolted")
                at = (fuse, "2")
                self.branches[kind] = fuse
            elif kind == "isolation monitor" and "charger" in self.branches:
                # Plans that are older than its own fuse: behind that of the charger.
                fuse = self.branches["charger"]
                at = (fuse, "2")
            if kind == "heater" and self._has("heater_relay"):
                relay = self._block("K", "heater relay", "heater relay", "heater_relay")
                self._wire(at, (relay, "1"), "branch", fuse, section, 0)
                at = (relay, "2")
            lines = self._charger_rating() if kind == "charger" else None
            device = self._block(letter, kind, words, family, lines, side)
            self._wire(at, (device, "+"), "branch", fuse, section, length)
            self._wire((device, "-"), (minus, "1"), "branch", fuse, section, length)
            if kind == "charger":
                self._supply(device)

    def _charger_rating(self) -> tuple[str, ...]:
        part = self.parts["charger"]
        amps = set_current_a(self.context, self.drive, part)
        return (*rating(part), f"set to {amps:.1f} A")

    def _supply(self, charger: str) -> None:
        charging = self.context.project.charging
        breaker = f"outlet's own, {charging.supply_a:g} A"
        if self._has("charge_inlet"):
            inlet = self._block("X", "inlet", "charge inlet", "charge_inlet", side="mains")
            self._wire((inlet, "L"), (charger, "L"), "mains", breaker, "charger's lead", None)

    def _branch_section(self) -> str:
        cable = self.parts.get("branch_cable")
        if cable is not None:
            return f"{cable.number('area_mm2'):g} mm²"
        fuse = self.parts.get("branch_fuse")
        return self._least_section(fuse.number("rated_a")) if fuse is not None else "?"

    def _least_section(self, amps: float) -> str:
        """The thinnest copper that carries this current in the declared warmth, 90 °C insulation.

        For wires that the bill does not hold: of the 12 V side, and of plans that are older
        than branch cable.
        """
        ambient = self.context.project.house_rules.conductor_ambient_c
        for area, (ohm_per_km, _) in CLASS_5_OHM_PER_KM.items():
            if ampacity_a(ohm_per_km, ambient, 90.0) >= amps:
                return f"≥{area:g} mm²"
        return self.section

    # -- 12 V side ----------------------------------------------------------------------

    def _low_side(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The 12 V feed and the chain that lets the contactors close."""
        chain: list[str] = []
        battery = box = ""
        if self._has("battery_12v"):
            battery = self._block("G", "12 V battery", "12 V battery", "battery_12v", side="12 V")
        if self._has("fuse_box_12v"):
            box = self._block("F", "12 V fuse box", "12 V fuse box", "fuse_box_12v", side="12 V")
        converter = next((b.tag for b in self.blocks.values() if b.kind == "converter"), "")
        for start, end in ((converter, battery), (battery, box)):
            if start and end:
                self._wire(
                    (start, "12 V"), (end, "+"), "12 V", box or "12 V fuse", "12 V wire", None
                )
        chain.append(self._block("S", "key", "key switch, the donor's own", side="12 V", lines=()))
        if self._has("inertia_switch"):
            chain.append(
                self._block("S", "inertia", "inertia switch", "inertia_switch", side="12 V")
            )
        told: list[tuple[str, str]] = []
        if self._has("monitor"):
            watch, told = self._permission()
            chain.append(watch)
        before = box or battery
        for tag in chain:
            if before:
                self._wire(
                    (before, "out"), (tag, "in"), "12 V", box or "12 V fuse", "12 V wire", None
                )
            before = tag
        for terminal, tag in told:
            self._wire(
                (chain[-1], terminal),
                (tag, terminal),
                "12 V",
                box or "12 V fuse",
                "12 V wire",
                None,
            )
        loads = tuple(
            family
            for family in ("vacuum_set", "vent_fan", "cooling_set", "gauge", "throttle")
            if self._has(family)
        )
        return tuple(chain), loads

    def _permission(self) -> tuple[str, list[tuple[str, str]]]:
        """The monitors' contact in the chain, and what else it has a say in."""
        part = self.parts["monitor"]
        told = []
        lines = []
        for column, family, terminal in (
            ("charge_stop", "charger", "stop"),
            ("drive_stop", "controller", "limit"),
        ):
            at = next((one.tag for one in self.blocks.values() if one.family == family), "")
            if at and part.text(column) in ("signal", "relay"):
                told.append((terminal, at))
                lines.append(f"{terminal} {at}: {part.text(column)}")
        boards = sum(box.monitors for box in self.boxes)
        sensors = boards * int(part.number_or("temperature_channels", 0))
        if sensors:
            lines.append(f"{sensors} temperatures")
        words = "permission of the cell monitors"
        tag = self._block("A", "monitor contact", words, side="12 V", lines=tuple(lines))
        self.blocks[tag] = replace(
            self.blocks[tag], family="monitor", part=self.lines["monitor"].part
        )
        self.drawn["monitor"] = boards
        return tag, told

    def _beside(self) -> Iterator[Beside]:
        for line in self.plan.lines:
            if line.family in CHARGES:
                continue
            left = line.quantity - self.drawn.get(line.family, 0)
            if line.family in ("cable", "branch_cable") or left <= 0:
                continue
            yield Beside(line, left)
