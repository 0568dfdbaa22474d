"""One bay's rack: each layer from above, all layers from the side, every place with its corner.

All lengths are millimetres from the bay's inner corner at the front, left and floor; they are
those of the plan file, so that a rack can be measured out from the table. The numbers count
places, not the order of wiring: no order is decided here.
"""

from __future__ import annotations

import itertools
import re
import unicodedata
from typing import Final

from bomplan.design.planfile import project_of
from bomplan.design.records import BayUse, Plan, Stand
from bomplan.project.records import Bay
from bomplan.report.drawings.ink import CHARACTER, HEAVY, PLAIN, THIN, Ink, fit

LEFT: Final = 90.0
VIEW: Final = 640.0
WIDTH: Final = 860.0
LINE: Final = 14.0
HEADS: Final = ("place", "x", "y", "z", "length", "width", "height", "layer", "terminals")
COLUMN: Final = 80.0


def bay_drawings(plan: Plan) -> dict[str, str]:
    """File name to SVG for every bay of the plan that holds modules; empty without a choice."""
    if plan.core is None or not any(use.stands for use in plan.placement):
        return {}
    bays = {bay.name: bay for bay in project_of(plan).bays}
    return {
        file_name(number, use.bay): _draw(plan, bays[use.bay], use)
        for number, use in enumerate(plan.placement, start=1)
        if use.stands and use.bay in bays
    }


def file_name(number: int, bay: str) -> str:
    """A name that every file system takes; the number tells bays apart whose letters do not."""
    ascii_name = unicodedata.normalize("NFKD", bay).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", ascii_name).strip("-")[:40].strip("-")
    return f"bay-{number}-{slug}.svg" if slug else f"bay-{number}.svg"


def in_places(stands: tuple[Stand, ...]) -> tuple[Stand, ...]:
    """The stands as they are numbered: layer by layer, front to rear, left to right."""
    return tuple(sorted(stands, key=lambda s: (s.layer, s.x_mm, s.y_mm)))


def _draw(plan: Plan, bay: Bay, use: BayUse) -> str:
    ink, places = Ink(), in_places(use.stands)
    scale = min(VIEW / bay.length_mm, 420 / bay.width_mm)
    ink.text(LEFT, 34, f"{fit(plan.project, 40)}: bay {fit(bay.name, 30)}", size=17, bold=True)
    ink.text(LEFT, 54, f"{len(places)} modules. Front is left. Lengths in mm from the bay's inner")
    ink.text(LEFT, 68, "corner at front, left and floor. Not to a fixed scale: use the figures.")
    ink.text(LEFT, 82, "Numbers count places, not the order of wiring; no polarity is shown.")
    top = 120.0
    for layer, group in itertools.groupby(enumerate(places, start=1), key=lambda p: p[1].layer):
        ink.text(
            LEFT, top, f"Layer {layer + 1} from above: the left side is at the bottom", bold=True
        )
        top = _outline(ink, top + 12, bay.length_mm, bay.width_mm, scale)
        zero = top - bay.width_mm * scale
        for number, one in group:
            # Seen from above with the front left, the car's left side is at the bottom.
            corner = (one.x_mm, bay.width_mm - one.y_mm - one.width_mm)
            _place(ink, str(number), corner, (one.length_mm, one.width_mm), zero, scale)
        top += 60
    ink.text(LEFT, top, "From the left side, all layers: the floor is at the bottom", bold=True)
    top = _outline(ink, top + 12, bay.length_mm, bay.height_mm, scale)
    # behind each other in this view: one outline for every place that is seen
    for x, z, length, height in sorted(
        {(one.x_mm, one.z_mm, one.length_mm, one.height_mm) for one in places}
    ):
        corner = (x, bay.height_mm - z - height)
        _place(ink, "", corner, (length, height), top - bay.height_mm * scale, scale)
    top = _table(ink, top + 66, places)
    return ink.svg(
        WIDTH,
        top + 20,
        f"{plan.project}: bay {bay.name}",
        f"Layers of bay {bay.name} with {len(places)} modules and where each stands.",
    )


def _outline(ink: Ink, top: float, length: int, other: int, scale: float) -> float:
    """The bay's inner faces with their two dimensions; the lower edge."""
    right, bottom = LEFT + length * scale, top + other * scale
    ink.rectangle(LEFT, top, length * scale, other * scale, weight=HEAVY)
    ink.line((LEFT, bottom + 14), (right, bottom + 14), weight=THIN)
    for x in (LEFT, right):
        ink.line((x, bottom + 8), (x, bottom + 20), weight=THIN)
    ink.text((LEFT + right) / 2, bottom + 32, f"{length}", anchor="middle")
    ink.line((right + 14, top), (right + 14, bottom), weight=THIN)
    for y in (top, bottom):
        ink.line((right + 8, y), (right + 20, y), weight=THIN)
    ink.text(right + 24, (top + bottom) / 2 + 4, f"{other}")
    return bottom


def _place(
    ink: Ink,
    words: str,
    corner: tuple[int, int],
    sides: tuple[int, int],
    zero: float,
    scale: float,
) -> None:
    x, y = LEFT + corner[0] * scale, zero + corner[1] * scale
    width, height = sides[0] * scale, sides[1] * scale
    ink.rectangle(x, y, width, height, weight=PLAIN)
    size = min(12.0, 0.8 * height, 0.9 * width / (CHARACTER * max(1, len(words))))
    ink.text(x + width / 2, y + height / 2 + 0.35 * size, words, size=size, anchor="middle")


def _table(ink: Ink, top: float, places: tuple[Stand, ...]) -> float:
    for column, head in enumerate(HEADS):
        ink.text(LEFT + column * COLUMN, top, head, bold=True)
    for number, one in enumerate(places, start=1):
        top += LINE
        row = (number, one.x_mm, one.y_mm, one.z_mm, one.length_mm, one.width_mm,
               one.height_mm, one.layer + 1, one.terminals)  # fmt: skip
        for column, value in enumerate(row):
            ink.text(LEFT + column * COLUMN, top, f"{value}")
    return top
