"""What a page is made of: sections of facts, lists, tables, charts and pictures.

Plain text throughout: the template escapes all of it. Only ``Picture.svg`` is markup, and
only :mod:`bomplan.report.page.inline` makes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Tone = Literal["plain", "good", "caution", "bad"]


@dataclass(frozen=True)
class Words:
    """One paragraph."""

    text: str
    tone: Tone = "plain"

    kind = "words"


@dataclass(frozen=True)
class Listing:
    """Points below each other."""

    points: tuple[str, ...]
    tone: Tone = "plain"

    kind = "listing"


@dataclass(frozen=True)
class Facts:
    """Terms and what is to be said of each."""

    rows: tuple[tuple[str, str], ...]

    kind = "facts"


@dataclass(frozen=True)
class Head:
    """The head of a column; ``number`` sets its cells to the right."""

    words: str
    number: bool = False


@dataclass(frozen=True)
class Row:
    """The cells of a row, the first of them its head; ``at`` is where it lies along a chart."""

    cells: tuple[str, ...]
    tone: Tone = "plain"
    at: float | None = None


@dataclass(frozen=True)
class Table:
    """A table with a caption.

    ``folded`` keeps it closed until somebody opens it; ``wordy`` gives its first column room.
    """

    caption: str
    heads: tuple[Head, ...]
    rows: tuple[Row, ...]
    folded: bool = False
    wordy: bool = False

    kind = "table"


@dataclass(frozen=True)
class Reach:
    """The part of a picture that a horizontal axis spans, as shares of its width.

    ``first`` and ``last`` are what the axis reads there, in the unit of ``Row.at``.
    """

    left: float
    right: float
    first: float
    last: float


@dataclass(frozen=True)
class Picture:
    """A drawing or a chart as inline SVG. ``wide`` ones scroll sideways on a narrow screen."""

    svg: str
    name: str
    caption: str
    wide: bool = False
    table: Table | None = None
    reach: Reach | None = None

    kind = "picture"


Block = Words | Listing | Facts | Table | Picture


@dataclass(frozen=True)
class Part:
    """A part of a section under a heading of its own."""

    title: str
    blocks: tuple[Block, ...]

    kind = "part"


@dataclass(frozen=True)
class Section:
    """A section of the page; ``id`` is its anchor, ``short`` its name in the list of contents."""

    id: str
    title: str
    short: str
    blocks: tuple[Block | Part, ...]


@dataclass(frozen=True)
class Card:
    """One figure of the first screen. ``target`` is the section that says more."""

    label: str
    figure: str
    words: tuple[str, ...]
    target: str
    tone: Tone = "plain"
