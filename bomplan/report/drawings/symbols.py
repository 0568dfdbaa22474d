"""Circuit symbols, in the manner of IEC 60617 (from memory): black lines, drawn at rest.

Every two-terminal symbol runs along a wire from ``start`` over a length; it is drawn for a
wire that runs downward and turned for one that runs to the right.
"""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.report.drawings.ink import HEAVY, PLAIN, THIN, Ink


@dataclass(frozen=True)
class Along:
    """A stretch of wire: points are given as distance along it and to its right-hand side."""

    ink: Ink
    x: float
    y: float
    down: bool = True

    def at(self, along: float, aside: float) -> tuple[float, float]:
        """The place on the sheet. Aside counts to the right of a wire that runs downward."""
        if self.down:
            return self.x + aside, self.y + along
        return self.x + along, self.y + aside

    def line(self, *points: tuple[float, float], weight: float = PLAIN) -> None:
        self.ink.line(*(self.at(*point) for point in points), weight=weight)

    def box(
        self, along: float, aside: float, length: float, width: float, fill: str = "none"
    ) -> None:
        """A rectangle whose corner nearest to the start is given."""
        x, y = self.at(along, aside)
        if self.down:
            self.ink.rectangle(x, y, width, length, fill=fill)
        else:
            self.ink.rectangle(x, y, length, width, fill=fill)


def fuse(wire: Along, length: float, weight: float) -> None:
    """A long box with the wire through it."""
    wire.line((0, 0), (length, 0), weight=weight)
    middle = length / 2
    wire.box(middle - 13, -6, 26, 12)


def battery(wire: Along, length: float, weight: float) -> None:
    """Long plate positive, short plate negative, and the cells between them as dots."""
    middle = length / 2
    wire.line((0, 0), (middle - 12, 0), weight=weight)
    for at in (middle - 12, middle + 6):
        wire.line((at, -13), (at, 13))
        wire.line((at + 6, -6), (at + 6, 6), weight=HEAVY)
    wire.line((middle - 4, 0), (middle - 2, 0), weight=THIN)
    wire.line((middle + 2, 0), (middle + 4, 0), weight=THIN)
    wire.line((middle + 12, 0), (length, 0), weight=weight)


def _contact(wire: Along, length: float, weight: float) -> tuple[float, float]:
    middle = length / 2
    near, far = middle - 13, middle + 13
    wire.line((0, 0), (near, 0), weight=weight)
    wire.line((far, 0), (length, 0), weight=weight)
    wire.line((far, 0), (near - 1, -11))
    return near, far


def contactor(wire: Along, length: float, weight: float) -> None:
    """A contact that closes, with the half circle of a contactor at its fixed end."""
    near, _ = _contact(wire, length, weight)
    x, y = wire.at(near, 0)
    if wire.down:
        wire.ink.path(f"M{x:.1f},{y - 4:.1f} a4,4 0 0 1 0,8")
    else:
        wire.ink.path(f"M{x - 4:.1f},{y:.1f} a4,4 0 0 0 8,0")


def relay(wire: Along, length: float, weight: float) -> None:
    """A contact that closes."""
    _contact(wire, length, weight)


def disconnect(wire: Along, length: float, weight: float) -> None:
    """A contact with the bar of a disconnector at its fixed end."""
    near, _ = _contact(wire, length, weight)
    wire.line((near, -5), (near, 5))


def hand_disconnect(wire: Along, length: float, weight: float) -> None:
    """A disconnector worked by hand that breaks load: bar, half circle and a handle."""
    near, far = _contact(wire, length, weight)
    wire.line((near, -5), (near, 5))
    middle = (near + far) / 2
    wire.line((middle, -7), (middle, -20), weight=THIN)
    wire.line((middle - 5, -20), (middle + 5, -20))


def resistor(wire: Along, length: float, weight: float) -> None:
    """A plain box in the wire."""
    middle = length / 2
    wire.line((0, 0), (middle - 14, 0), weight=weight)
    wire.box(middle - 14, -6, 28, 12)
    wire.line((middle + 14, 0), (length, 0), weight=weight)


def shunt(wire: Along, length: float, weight: float) -> None:
    """A resistor with two taps for the gauge."""
    resistor(wire, length, weight)
    middle = length / 2
    for at in (middle - 8, middle + 8):
        wire.line((at, -6), (at, -13), weight=THIN)


def heater(wire: Along, length: float, weight: float) -> None:
    """A resistor that is there for its heat: the box is divided."""
    middle = length / 2
    wire.line((0, 0), (middle - 18, 0), weight=weight)
    wire.box(middle - 18, -8, 36, 16)
    for at in (middle - 9, middle, middle + 9):
        wire.line((at, -8), (at, 8), weight=THIN)
    wire.line((middle + 18, 0), (length, 0), weight=weight)


def coil(wire: Along, length: float, weight: float) -> None:
    """The coil of a contactor."""
    middle = length / 2
    wire.line((0, 0), (middle - 7, 0), weight=weight)
    wire.box(middle - 7, -14, 14, 28)
    wire.line((middle + 7, 0), (length, 0), weight=weight)


def converter(ink: Ink, x: float, y: float, first: str, second: str) -> None:
    """The square of a converter with its diagonal: ``first`` in, ``second`` out."""
    ink.rectangle(x, y, 30, 30)
    ink.line((x, y + 30), (x + 30, y))
    ink.text(x + 9, y + 13, first, size=9, anchor="middle", inside=True)
    ink.text(x + 21, y + 27, second, size=9, anchor="middle", inside=True)


def chassis(ink: Ink, x: float, y: float) -> None:
    """A wire that ends at the chassis."""
    ink.line((x, y), (x, y + 8))
    ink.line((x - 9, y + 8), (x + 9, y + 8))
    for at in (-9, 0, 9):
        ink.line((x + at, y + 8), (x + at - 5, y + 14), weight=THIN)
