"""What a power circuit is made of: blocks, wires between their terminals, boxes and strings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from bomplan.design.records import Line

Side = Literal["traction", "mains", "12 V", "both"]
WireKind = Literal[
    "cable", "bar", "stud", "branch", "tap", "mains", "12 V", "feed", "bolted 12 V", "signal"
]


@dataclass(frozen=True)
class Block:
    """One thing in the circuit. ``part`` is the id of the bill, empty for the donor's own."""

    tag: str
    kind: str
    words: str
    family: str = ""
    part: str = ""
    rating: tuple[str, ...] = ()
    side: Side = "traction"
    box: str = ""
    string: int = 0


@dataclass(frozen=True)
class End:
    """Where a wire ends: a block and one of its terminals."""

    tag: str
    terminal: str


@dataclass(frozen=True)
class Wire:
    """One conductor. ``length_mm`` 0: inside a box or bolted; None: to suit, not in the bill.

    ``section`` says the size as on the reel; ``fuse`` is the tag of the fuse upstream, or
    words for a breaker that is not the car's.
    """

    tag: str
    start: End
    end: End
    kind: WireKind
    section: str
    length_mm: int | None
    fuse: str
    note: str = ""


@dataclass(frozen=True)
class Run:
    """One string through one box, from its positive to its negative end: tags in order."""

    box: str
    string: int
    tags: tuple[str, ...]


@dataclass(frozen=True)
class Box:
    """One box of the pack: its bay, what stands in it and what it comes to."""

    bay: str
    series: int
    modules: int
    full_v: float
    nominal_v: float
    monitors: int


@dataclass(frozen=True)
class Beside:
    """Pieces of the bill that are no block of the circuit."""

    line: Line
    pieces: int


@dataclass(frozen=True)
class Circuit:
    """Blocks by tag in the order in which they were numbered, wires, boxes from + to -."""

    blocks: dict[str, Block]
    wires: tuple[Wire, ...]
    boxes: tuple[Box, ...]
    runs: tuple[Run, ...]
    between: dict[tuple[int, int], str]
    interlock: tuple[str, ...]
    branches: dict[str, str]
    beside: tuple[Beside, ...]
    regenerates: bool
    strings: int
    full_v: float
    precharge_s: float | None = None
    cable: str = ""
    branch_cable: str = ""
    wire_12v: str = ""
    feed_wire: str = ""

    def of(self, kind: str) -> tuple[Block, ...]:
        """The blocks of one kind, in order."""
        return tuple(block for block in self.blocks.values() if block.kind == kind)
