"""The views of one bay's rack: a layer from above, terminals as they are faced, all from the side.

A view maps millimetres of the bay to the sheet. Seen from above the front of the car is left
and its left side is at the bottom; lying modules are also faced where their terminals are.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from bomplan.design.records import Stand
from bomplan.design.series_records import ModuleLink
from bomplan.packing import BayBox, Plate, obstacles
from bomplan.packing.poles import terminal
from bomplan.report.drawings.ink import CHARACTER, HEAVY, PLAIN, THIN, Ink
from bomplan.report.units import Show

LEFT: Final = 100.0
VIEW: Final = 640.0
TALLEST: Final = 420.0
GREY: Final = "#e4e4e4"
BAR: Final = 4.0  # weight of a link
_SMALL: Final = 9.0
_DASH: Final = "5 3"


@dataclass(frozen=True)
class Marked:
    """A module as it is drawn: its label, and whether its section is one of the grey ones."""

    label: str
    stand: Stand
    grey: bool


@dataclass(frozen=True)
class View:
    """Bay axes on the sheet: ``across`` runs to the right, ``up`` upwards; mirrored or not."""

    across: int
    up: int
    mirrored: bool
    room: tuple[int, int, int]
    scale: float
    top: float

    def at(self, point: tuple[float, float, float]) -> tuple[float, float]:
        """Where a point of the bay in mm lies on the sheet."""
        along = point[self.across]
        if self.mirrored:
            along = self.room[self.across] - along
        return (
            LEFT + along * self.scale,
            self.top + (self.room[self.up] - point[self.up]) * self.scale,
        )

    @property
    def right(self) -> float:
        return LEFT + self.room[self.across] * self.scale

    @property
    def bottom(self) -> float:
        return self.top + self.room[self.up] * self.scale

    def block(
        self,
        ink: Ink,
        corner: tuple[int, int, int],
        sides: tuple[int, int, int],
        *,
        weight: float = PLAIN,
        dash: str = "",
        fill: str = "none",
    ) -> tuple[float, float, float, float]:
        """A block of the bay as a rectangle; its left, top, width and height on the sheet."""
        x1, y1 = self.at((float(corner[0]), float(corner[1]), float(corner[2])))
        far = [float(a + b) for a, b in zip(corner, sides, strict=True)]
        x2, y2 = self.at((far[0], far[1], far[2]))
        left, top = min(x1, x2), min(y1, y2)
        width, height = abs(x2 - x1), abs(y2 - y1)
        ink.rectangle(left, top, width, height, weight=weight, dash=dash, fill=fill)
        return left, top, width, height


def from_above(room: tuple[int, int, int], top: float) -> View:
    return View(0, 1, False, room, min(VIEW / room[0], TALLEST / room[1]), top)


def from_the_left(room: tuple[int, int, int], top: float) -> View:
    return View(0, 2, False, room, min(VIEW / room[0], TALLEST / room[2]), top)


def onto_terminals(room: tuple[int, int, int], terminals: str, top: float) -> View:
    """From the rear onto terminals that point backwards, from the right onto those to the right."""
    across = 1 if terminals == "x" else 0
    scale = min(VIEW / room[across], TALLEST / room[2])
    return View(across, 2, terminals == "y", room, scale, top)


def sides_of(stand: Stand) -> tuple[int, int, int]:
    return stand.length_mm, stand.width_mm, stand.height_mm


def corner_of(stand: Stand) -> tuple[int, int, int]:
    return stand.x_mm, stand.y_mm, stand.z_mm


def poles(stand: Stand, spacing_mm: int | None) -> dict[str, tuple[float, float, float]]:
    """Where + and - of a module are, in mm of the bay; empty without a polarity."""
    if not stand.plus:
        return {}
    from bomplan.design.series import geometry

    shape = geometry(stand)
    found: dict[str, tuple[float, float, float]] = {}
    for pole in ("+", "-"):
        x, y, z = terminal(shape, stand.plus, "+" if pole == "+" else "-", spacing_mm)
        found[pole] = (x / 2, y / 2, z / 2)
    return found


def outline(ink: Ink, view: View, wall_mm: int, show: Show) -> None:
    """The bay's inner faces, the inside of the box, both outer dimensions."""
    room = view.room
    view.block(ink, (0, 0, 0), room, weight=HEAVY)
    inner = (room[0] - 2 * wall_mm, room[1] - 2 * wall_mm, room[2] - 2 * wall_mm)
    view.block(ink, (wall_mm, wall_mm, wall_mm), inner, weight=THIN, dash="2 3")
    low, right = view.bottom + 34, view.right
    ink.line((LEFT, low), (right, low), weight=THIN)
    for x in (LEFT, right):
        ink.line((x, low - 5), (x, low + 5), weight=THIN)
    ink.text((LEFT + right) / 2, low + 15, show.length(room[view.across]), anchor="middle")
    aside = right + 14
    ink.line((aside, view.top), (aside, view.bottom), weight=THIN)
    for y in (view.top, view.bottom):
        ink.line((aside - 5, y), (aside + 5, y), weight=THIN)
    middle = (view.top + view.bottom) / 2 + 4
    ink.text(aside + 9, middle, f"{room[view.up]}")
    ink.text(aside + 9, middle + 14, show.inches(room[view.up]).strip())


def ordinates(ink: Ink, view: View, corners: Iterable[tuple[int, int, int]]) -> None:
    """Ticks with the distance from the inner corner at every edge that has room for its figure.

    Below the view those across, left of it those upwards; mirrored views count from the right.
    """
    points = list(corners)
    taken = -1e9
    for value in sorted({point[view.across] for point in points}, reverse=view.mirrored):
        spot = [0.0, 0.0, 0.0]
        spot[view.across] = value
        x, _ = view.at((spot[0], spot[1], spot[2]))
        words = f"{value}"
        half = len(words) * _SMALL * CHARACTER / 2
        if x - half < taken + 4:
            continue
        taken = x + half
        ink.line((x, view.bottom + 2), (x, view.bottom + 9), weight=THIN)
        ink.text(x, view.bottom + 20, words, size=_SMALL, anchor="middle")
    taken = 1e9
    for value in sorted({point[view.up] for point in points}):
        spot = [0.0, 0.0, 0.0]
        spot[view.up] = value
        _, y = view.at((spot[0], spot[1], spot[2]))
        if y > taken - 11:
            continue
        taken = y
        ink.line((LEFT - 9, y), (LEFT - 2, y), weight=THIN)
        ink.text(LEFT - 13, y + 3, f"{value}", size=_SMALL, anchor="end")


def modules(ink: Ink, view: View, found: Iterable[Marked]) -> None:
    """Each module as a rectangle."""
    for one in found:
        view.block(ink, corner_of(one.stand), sides_of(one.stand), fill=_paper(one))


def labels(ink: Ink, view: View, found: Iterable[Marked]) -> None:
    """What each module is called, in its middle, over whatever link runs there."""
    for one in found:
        corner, sides = corner_of(one.stand), sides_of(one.stand)
        middle = [a + b / 2 for a, b in zip(corner, sides, strict=True)]
        x, y = view.at((middle[0], middle[1], middle[2]))
        width, height = sides[view.across] * view.scale, sides[view.up] * view.scale
        size = min(12.0, 0.7 * height, 0.5 * width / (CHARACTER * max(1, len(one.label))))
        half = len(one.label) * size * CHARACTER / 2 + 1
        ink.rectangle(
            x - half, y - size / 2 - 1, 2 * half, size + 2, weight=0, fill=_paper(one), edge=False
        )
        ink.text(x, y + 0.35 * size, one.label, size=size, anchor="middle", inside=True)


def _on_a_step(stand: Stand, bay: BayBox) -> bool:
    """Whether something blocked carries the whole module."""
    return any(
        one.ends[5] + bay.wall_mm == stand.z_mm
        and one.ends[0] - bay.wall_mm <= stand.x_mm
        and stand.x_mm + stand.length_mm <= one.ends[3] + bay.wall_mm
        and one.ends[1] - bay.wall_mm <= stand.y_mm
        and stand.y_mm + stand.width_mm <= one.ends[4] + bay.wall_mm
        for one in bay.blocked
    )


def shelves(ink: Ink, view: View, found: Iterable[Marked], bay: BayBox) -> None:
    """The shelf under each layer above the lowest, from wall to wall.

    In a bay that is no box under whatever stands neither on the floor nor wholly on a step, and
    only as far as modules stand on it.
    """
    wall_mm, shelf_mm = bay.wall_mm, bay.shelf_mm
    levels: dict[int, list[Stand]] = {}
    for one in found:
        raised = one.stand.z_mm > wall_mm if bay.blocked else one.stand.layer > 0
        if raised and not _on_a_step(one.stand, bay):
            levels.setdefault(one.stand.z_mm, []).append(one.stand)
    for level, stands in sorted(levels.items()):
        low, high = wall_mm, view.room[0] - wall_mm
        if bay.blocked:
            low = min(one.x_mm for one in stands)
            high = max(one.x_mm + one.length_mm for one in stands)
        sides = (high - low, view.room[1] - 2 * wall_mm, shelf_mm)
        view.block(ink, (low, wall_mm, level - shelf_mm), sides, weight=THIN, fill=GREY)


def cut_outs(
    ink: Ink, view: View, bay: BayBox, band: tuple[int, int], *, whole: bool = False
) -> None:
    """What is no room of the bay, hatched, with the wall of the box around it dotted.

    Only pieces that meet the ``band`` of depths which the view shows; with ``whole`` those
    that do not fill it are outlined dashed instead, for something may stand beside them.
    """
    depth = 3 - view.across - view.up
    for one in obstacles(bay):
        if one[depth] < band[1] and band[0] < one[depth + 3]:
            corner, sides = one[:3], tuple(b - a for a, b in zip(one, one[3:], strict=False))
            view.block(ink, corner, (sides[0], sides[1], sides[2]), weight=THIN, dash="2 3")
    for piece in bay.blocked:
        low, high = piece.ends[depth], piece.ends[depth + 3]
        if low >= band[1] or band[0] >= high:
            continue
        filled = not whole or (low <= band[0] and band[1] <= high)
        left, top, width, height = view.block(
            ink,
            (piece.x_mm, piece.y_mm, piece.z_mm),
            (piece.length_mm, piece.width_mm, piece.height_mm),
            weight=THIN,
            dash="" if filled else "6 3",
        )
        if filled:
            ink.hatched(left, top, width, height)


def _paper(one: Marked) -> str:
    return GREY if one.grey else "#fff"


def plates(ink: Ink, view: View, found: Iterable[Plate]) -> None:
    """End plates: a rectangle with both diagonals."""
    for one in found:
        left, top, width, height = view.block(
            ink,
            (one.x_mm, one.y_mm, one.z_mm),
            (one.length_mm, one.width_mm, one.height_mm),
            weight=THIN,
        )
        ink.line((left, top), (left + width, top + height), weight=THIN)
        ink.line((left, top + height), (left + width, top), weight=THIN)


def clearances(ink: Ink, view: View, found: Iterable[Marked], clear_mm: int) -> None:
    """The free room before the terminals, dashed, where this view shows it."""
    if clear_mm == 0:
        return
    for one in found:
        stand = one.stand
        axis = {"x": 0, "y": 1, "up": 2}[stand.terminals]
        if axis not in (view.across, view.up):
            continue
        corner, sides = list(corner_of(stand)), list(sides_of(stand))
        corner[axis] += sides[axis]
        sides[axis] = clear_mm
        view.block(
            ink,
            (corner[0], corner[1], corner[2]),
            (sides[0], sides[1], sides[2]),
            weight=THIN,
            dash="2 2",
        )


def links(
    ink: Ink,
    view: View,
    found: Iterable[ModuleLink],
    spots: dict[tuple[str, str], tuple[float, float, float]],
    numbers: dict[tuple[str, str], int],
) -> None:
    """Links between poles that this view shows: bars heavy, cables dashed, last ones numbered."""
    for link in found:
        start = spots.get((link.first, link.first_pole))
        end = spots.get((link.second, link.second_pole))
        if start is None or end is None:
            continue
        a, b = view.at(start), view.at(end)
        number = numbers.get((link.first, link.second))
        cable = link.joins != "neighbours"
        weight, dash = (1.8, "3 3") if cable else (BAR, "")
        if number is not None:
            weight, dash = (2.2, _DASH) if cable else (BAR, "4 3")
        if link.way == "across" and not cable:
            # the two poles of parallel modules beside each other, so that both are seen
            a, b = _aside(a, b, 3.0 if link.first_pole == "+" else -3.0)
            weight = 2.4
        ink.line(a, b, weight=weight, dash=dash, name="link")
    for link in found:
        number = numbers.get((link.first, link.second))
        start = spots.get((link.first, link.first_pole))
        end = spots.get((link.second, link.second_pole))
        if number is None or start is None or end is None:
            continue
        a, b = view.at(start), view.at(end)
        words = f"L{number}"
        half = len(words) * _SMALL * CHARACTER / 2 + 2
        # beside the link, so that the signs at its ends stay legible
        flat = abs(a[0] - b[0]) > abs(a[1] - b[1])
        x = (a[0] + b[0]) / 2 + (0 if flat else half + 4)
        y = (a[1] + b[1]) / 2 - (11 if flat else 0)
        ink.rectangle(x - half, y - 7, 2 * half, 14, weight=THIN, fill="#fff")
        ink.text(x, y + 3.2, words, size=_SMALL, anchor="middle", inside=True)


def _aside(
    a: tuple[float, float], b: tuple[float, float], by: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """A line moved to its side."""
    long = math.hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    # always to the same side of the sheet, whichever end comes first
    sign = 1 if (b[0] - a[0], b[1] - a[1]) > (0, 0) else -1
    x, y = sign * by * (b[1] - a[1]) / long, -sign * by * (b[0] - a[0]) / long
    return (a[0] + x, a[1] + y), (b[0] + x, b[1] + y)


def poles_drawn(
    ink: Ink,
    view: View,
    spots: dict[tuple[str, str], tuple[float, float, float]],
    away: set[tuple[str, str]],
    outer: set[tuple[str, str]],
    size: float,
) -> None:
    """Each pole as a circle with its sign; in a square where a link leaves this view.

    A second circle marks the poles of the box to which its cables go.
    """
    for key, spot in spots.items():
        x, y = view.at(spot)
        if key in away:
            ink.rectangle(x - 1.5 * size, y - 1.5 * size, 3 * size, 3 * size, weight=1.1)
        if key in outer:
            ink.circle(x, y, 1.6 * size, weight=PLAIN, fill="#fff")
        ink.circle(x, y, size, weight=THIN, fill="#fff")
        arm = 0.65 * size
        ink.line((x - arm, y), (x + arm, y), weight=1.4)
        if key[1] == "+":
            ink.line((x, y - arm), (x, y + arm), weight=1.4)


def scale_bar(ink: Ink, top: float, scale: float) -> None:
    """A bar of a round number of millimetres, to check a print by."""
    length = next((mm for mm in (1000, 500, 200, 100, 50, 20) if mm * scale <= 220), 10)
    ink.rectangle(LEFT, top, length * scale / 2, 6, weight=THIN, fill="#000")
    ink.rectangle(LEFT + length * scale / 2, top, length * scale / 2, 6, weight=THIN, fill="#fff")
    ink.text(LEFT + length * scale + 8, top + 7, f"{length} mm in this view", size=_SMALL)
