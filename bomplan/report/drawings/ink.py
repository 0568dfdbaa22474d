"""Lines, shapes and text on a sheet, kept so that overlaps can be counted, then as SVG.

Written with the standard library's XML tree, which escapes whatever a part or a bay is
called; the small SVG builders that we looked at write text as it stands, and circuit
packages do not tell how much room a label takes. Text is set in a monospaced face, whose
widths are known without a font file: a layout that fits here fits everywhere.
"""

from __future__ import annotations

import itertools
import math
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal
from xml.etree import ElementTree

from bomplan.report.text import clean

Anchor = Literal["start", "middle", "end"]
# A drawing without a scale is printed whole; browsers cut what is wider than the paper.
FIT_PAPER: Final = "@media print { :root { width: 100%; height: 100%; } }"
FACE: Final = "'DejaVu Sans Mono', 'Liberation Mono', Menlo, Consolas, 'Courier New', monospace"
CHARACTER: Final = 0.61  # width over size; the widest of the faces above has 0.602
THIN, PLAIN, HEAVY = 0.8, 1.3, 2.4


@dataclass(frozen=True)
class Room:
    """A rectangle that something takes on the sheet."""

    left: float
    top: float
    right: float
    bottom: float
    words: str

    def within(self, other: Room) -> bool:
        """Whether it lies in the other, edges included."""
        return (
            other.left <= self.left
            and self.right <= other.right
            and other.top <= self.top
            and self.bottom <= other.bottom
        )

    def meets(self, other: Room, by: float = 0.0) -> bool:
        """Whether two rectangles share more than ``by`` in both directions."""
        return (
            min(self.right, other.right) - max(self.left, other.left) > by
            and min(self.bottom, other.bottom) - max(self.top, other.top) > by
        )


def cells(text: str) -> int:
    """Columns that a text takes in a monospaced face; wide letters take two, marks none."""
    return sum(
        0 if unicodedata.combining(one) else 2 if unicodedata.east_asian_width(one) in "WF" else 1
        for one in text
    )


def fit(text: str, columns: int) -> str:
    """``text`` made fit to be shown, cut with an ellipsis where it is wider than ``columns``."""
    kept = clean(text)
    if cells(kept) <= columns:
        return kept
    while kept and cells(kept) > columns - 1:
        kept = kept[:-1]
    return kept.rstrip() + "…"


def wrap(text: str, columns: int, lines: int) -> tuple[str, ...]:
    """``text`` in at most ``lines`` lines, broken at blanks and hyphens where it can be."""
    words, found, now = clean(text).replace("-", "-\0").replace(" ", " \0").split("\0"), [], ""
    for word in words:
        while cells(word) > columns:
            if now:
                found.append(now)
                now = ""
            found.append(word[:columns])
            word = word[columns:]
        if now and cells((now + word).rstrip()) > columns:
            found.append(now)
            now = ""
        now += word
    found.append(now)
    kept = [line.strip() for line in found if line.strip()]
    if len(kept) > lines:
        kept = [*kept[: lines - 1], fit("".join([kept[lines - 1], "…"]), columns)]
    return tuple(kept)


@dataclass
class Ink:
    """A sheet that grows as it is drawn on; y runs downward, all figures in its own units."""

    texts: list[Room] = field(default_factory=list)
    strokes: list[Room] = field(default_factory=list)
    frames: list[Room] = field(default_factory=list)
    framed: list[Room] = field(default_factory=list)
    _elements: list[ElementTree.Element] = field(default_factory=list)

    def line(
        self, *points: tuple[float, float], weight: float = PLAIN, dash: str = "", name: str = ""
    ) -> None:
        """A line through points."""
        self._add(
            "polyline",
            {
                "points": " ".join(f"{_n(x)},{_n(y)}" for x, y in points),
                "fill": "none",
                "stroke-width": _n(weight),
                **({"stroke-dasharray": dash} if dash else {}),
            },
        )
        for (x1, y1), (x2, y2) in itertools.pairwise(points):
            half = weight / 2
            self.strokes.append(
                Room(
                    min(x1, x2) - half,
                    min(y1, y2) - half,
                    max(x1, x2) + half,
                    max(y1, y2) + half,
                    name or "line",
                )
            )

    def rectangle(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        weight: float = PLAIN,
        dash: str = "",
        fill: str = "none",
        edge: bool = True,
    ) -> None:
        """A rectangle; only its edges count as strokes, for text may stand inside.

        Without ``edge``: paper laid under a text, no line around it.
        """
        self._add(
            "rect",
            {
                "x": _n(x),
                "y": _n(y),
                "width": _n(width),
                "height": _n(height),
                "fill": fill,
                "stroke-width": _n(weight),
                **({"stroke-dasharray": dash} if dash else {}),
                **({} if edge else {"stroke": "none"}),
            },
        )
        self.frames.append(Room(x, y, x + width, y + height, "frame"))
        if not edge:
            return
        corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)]
        for (x1, y1), (x2, y2) in itertools.pairwise(corners):
            self.strokes.append(
                Room(min(x1, x2), min(y1, y2), max(x1, x2) + 0.1, max(y1, y2) + 0.1, "edge")
            )

    def hatched(
        self, left: float, top: float, width: float, height: float, *, step: float = 9.0
    ) -> None:
        """A rectangle in thin lines at 45 degrees, on one raster for the whole sheet."""
        self.rectangle(left, top, width, height, weight=THIN)
        first = math.ceil((left + top) / step)
        for number in range(first, math.floor((left + width + top + height) / step) + 1):
            total = number * step
            x1, x2 = max(left, total - top - height), min(left + width, total - top)
            if x2 - x1 > 0.5:
                self.line((x1, total - x1), (x2, total - x2), weight=THIN / 2)

    def circle(
        self, x: float, y: float, radius: float, *, weight: float = PLAIN, fill: str = "none"
    ) -> None:
        """A circle, or a dot where two wires join."""
        self._add(
            "circle",
            {"cx": _n(x), "cy": _n(y), "r": _n(radius), "fill": fill, "stroke-width": _n(weight)},
        )
        room = Room(x - radius, y - radius, x + radius, y + radius, "circle")
        self.strokes.append(room)
        self.frames.append(room)

    def quarters(self, x: float, y: float, radius: float) -> None:
        """Two opposite quarters of a circle filled: the sign of a centre of gravity."""
        r = _n(radius)
        for sweep, sign in ((1, 1), (1, -1)):
            self._add(
                "path",
                {
                    "d": f"M {_n(x)} {_n(y)} l {_n(sign * radius)} 0 A {r} {r} 0 0 {sweep} "
                    f"{_n(x)} {_n(y + sign * radius)} z",
                    "fill": "#000",
                    "stroke-width": _n(THIN),
                },
            )

    def path(self, data: str, *, weight: float = PLAIN) -> None:
        """A curve inside a symbol, whose room the symbol's other strokes cover."""
        self._add("path", {"d": data, "fill": "none", "stroke-width": _n(weight)})

    def outline(self, points: list[tuple[float, float]]) -> None:
        """A boundary in long and short dashes, under everything else."""
        self.line(*points, weight=2, dash="14 5 3 5", name="outline")
        self._elements.insert(0, self._elements.pop())

    def dot(self, x: float, y: float) -> None:
        self.circle(x, y, 3, weight=THIN, fill="#000")

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = 11,
        anchor: Anchor = "start",
        bold: bool = False,
        inside: bool = False,
    ) -> None:
        """One line of text on its base line. ``inside``: set within a symbol, over its strokes."""
        if not words:
            return
        element = self._add(
            "text",
            {
                "x": _n(x),
                "y": _n(y),
                "font-size": _n(size),
                "fill": "#000",
                "stroke": "none",
                **({"text-anchor": anchor} if anchor != "start" else {}),
                **({"font-weight": "bold"} if bold else {}),
            },
        )
        element.text = words
        width = cells(words) * size * CHARACTER
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        room = Room(left, y - 0.78 * size, left + width, y + 0.22 * size, words)
        (self.framed if inside else self.texts).append(room)

    def lines(
        self,
        x: float,
        y: float,
        words: tuple[str, ...],
        *,
        size: float = 11,
        anchor: Anchor = "start",
        first_bold: bool = True,
        inside: bool = False,
        step: float = 13,
    ) -> float:
        """Lines of text below each other from base line ``y``; the next free base line."""
        for number, one in enumerate(words):
            bold = first_bold and number == 0
            self.text(x, y, one, size=size, anchor=anchor, bold=bold, inside=inside)
            y += step
        return y

    def overlaps(self) -> Iterator[tuple[str, str]]:
        """Pairs that a reader would see on top of each other: text on text, text on a line."""
        for number, one in enumerate(self.texts):
            for other in self.texts[number + 1 :]:
                if one.meets(other, 0.5):
                    yield one.words, other.words
            for stroke in self.strokes:
                if one.meets(stroke, 0.3):
                    yield one.words, stroke.words

    def astray(self, width: float, height: float) -> Iterator[str]:
        """Texts that leave the sheet, and texts within a symbol that leave it."""
        sheet = Room(0, 0, width, height, "sheet")
        for one in (*self.texts, *self.framed):
            if not one.within(sheet):
                yield one.words
        for one in self.framed:
            if not any(one.within(frame) for frame in self.frames):
                yield one.words
        for number, one in enumerate(self.framed):
            for other in self.framed[number + 1 :]:
                if one.meets(other, 0.5):
                    yield f"{one.words} / {other.words}"

    def extent(self) -> tuple[float, float]:
        """The greatest x and y that anything reaches."""
        every = [*self.texts, *self.framed, *self.strokes]
        return max(room.right for room in every), max(room.bottom for room in every)

    def svg(
        self, width: float, height: float, title: str, description: str, *, to_scale: bool = True
    ) -> str:
        """The sheet as one SVG element, black on white, the same bytes for the same drawing.

        What is not ``to_scale`` shrinks to the paper when a browser prints its file.
        """
        root = ElementTree.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": f"0 0 {_n(width)} {_n(height)}",
                "width": _n(width),
                "height": _n(height),
                "role": "img",
                "font-family": FACE,
                "stroke": "#000",
                "stroke-linecap": "round",
                "stroke-linejoin": "round",
            },
        )
        ElementTree.SubElement(root, "title").text = clean(title)
        ElementTree.SubElement(root, "desc").text = clean(description, 2000)
        if not to_scale:
            ElementTree.SubElement(root, "style").text = FIT_PAPER
        paper = {"width": _n(width), "height": _n(height), "fill": "#fff", "stroke": "none"}
        ElementTree.SubElement(root, "rect", paper)
        root.extend(self._elements)
        ElementTree.indent(root, " ")
        return ElementTree.tostring(root, encoding="unicode") + "\n"

    def _add(self, name: str, attributes: dict[str, str]) -> ElementTree.Element:
        element = ElementTree.Element(name, attributes)
        self._elements.append(element)
        return element


def _n(value: float) -> str:
    """A coordinate with one decimal at most."""
    return f"{value:.1f}".removesuffix(".0")
