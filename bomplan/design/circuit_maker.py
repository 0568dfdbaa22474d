"""Blocks and wires of a circuit while it is put together: each gets its number here."""

from __future__ import annotations

from dataclasses import dataclass, field

from bomplan.buying.terms import CHARGES
from bomplan.design.circuit_ratings import rating
from bomplan.design.circuit_records import Block, End, Side, Wire, WireKind
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Plan
from bomplan.sizing.ampacity import ampacity_a
from bomplan.sizing.copper import CLASS_5_OHM_PER_KM


@dataclass
class Maker:
    """A circuit on its way; ``lines`` and ``parts`` are those of the plan by family."""

    plan: Plan
    context: Context
    drive: Drive
    blocks: dict[str, Block] = field(default_factory=dict)
    wires: list[Wire] = field(default_factory=list)
    numbers: dict[str, int] = field(default_factory=dict)
    drawn: dict[str, int] = field(default_factory=dict)
    section: str = ""

    def __post_init__(self) -> None:
        self.lines = {line.family: line for line in self.plan.lines if line.family not in CHARGES}
        self.parts = {
            family: self.context.catalog.family(family)[line.part]
            for family, line in self.lines.items()
            if line.part in self.context.catalog.family(family)
        }

    def block(
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

    def wire(
        self,
        start: tuple[str, str],
        end: tuple[str, str],
        kind: WireKind,
        fuse: str,
        section: str | None = None,
        length_mm: int | None = 0,
        note: str = "",
    ) -> None:
        letter = {"bar": "B", "stud": "B", "bolted 12 V": "B"}.get(kind, "W")
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

    def has(self, family: str) -> bool:
        return family in self.lines and self.lines[family].quantity > 0

    def left(self, family: str) -> int:
        """Pieces of a family that the bill holds and that no block stands for yet."""
        line = self.lines.get(family)
        return 0 if line is None else line.quantity - self.drawn.get(family, 0)

    def least_section(self, amps: float) -> str:
        """The thinnest copper that carries this current in the declared warmth, 90 °C insulation.

        For wires that the bill does not hold: of the 12 V side, and of plans that are older
        than branch cable.
        """
        ambient = self.context.project.house_rules.conductor_ambient_c
        for area, (ohm_per_km, _) in CLASS_5_OHM_PER_KM.items():
            if ampacity_a(ohm_per_km, ambient, 90.0) >= amps:
                return f"≥{area:g} mm²"
        return self.section
