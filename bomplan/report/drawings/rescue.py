"""The car from above for whoever comes to rescue: where batteries are, what is live, front left.

To scale as far as the project says where things are; what it does not say is drawn dashed in
the middle and named, for a rescuer must not take it for a measurement.
"""

from __future__ import annotations

from typing import Final

from bomplan.project.records import Bay, Project
from bomplan.report.drawings.ink import HEAVY, PLAIN, THIN, Ink, fit
from bomplan.report.drawings.wheels import drawn_tracks_mm, tyre_middles_mm, tyre_width_mm
from bomplan.report.text import clean

WIDTH: Final = 900.0
TOP: Final = 74.0
SIDE: Final = 40.0
# Drawn where nothing was measured; common practice for a small car.
OVERHANG_MM: Final = 600
HATCH: Final = 12.0


def rescue_svg(project: Project, used: tuple[Bay, ...], disconnect: tuple[int, int] | None) -> str:
    """The drawing. ``used`` are the bays that hold modules, in the order of the circuit.

    ``disconnect``: x and y of the driver's disconnect in mm where the builder gave it.
    """
    donor = project.donor
    ink = Ink()
    cycle = donor.kind == "motorcycle"
    radius = donor.driveline.wheel_radius_mm
    ends = [bay.x_mm + bay.length_mm for bay in used]
    over = radius if cycle else OVERHANG_MM
    front = min([-over, *(bay.x_mm for bay in used)])
    rear = max([donor.wheelbase_mm + over, *ends])
    scale = (WIDTH - 2 * SIDE) / (rear - front)
    tracks = drawn_tracks_mm(donor)
    width = tyre_width_mm(donor)
    half = max([*tracks, *(2 * _far(bay) for bay in used)]) / 2 + 120
    if max(donor.tyre_counts) > 2:
        half += width
    middle = TOP + half * scale

    def x(mm: float) -> float:
        return SIDE + (mm - front) * scale

    def y(mm: float) -> float:
        # The car points left, so its right side lies at the top of the sheet.
        return middle - mm * scale

    ink.line((SIDE + 80, 30), (SIDE + 4, 30), weight=HEAVY)
    ink.path(f"M {SIDE + 20:.1f} 20 L {SIDE + 2:.1f} 30 L {SIDE + 20:.1f} 40", weight=HEAVY)
    ink.text(SIDE + 92, 38, "FRONT", size=24, bold=True)
    ink.text(WIDTH - SIDE, 36, "from above; right side is up", size=18, anchor="end")
    ink.line((x(front), middle), (x(rear), middle), weight=THIN, dash="12 3 2 3")
    places = zip((0, donor.wheelbase_mm), donor.tyre_counts, tracks, strict=True)
    for axle_mm, count, track in places:
        for centre in tyre_middles_mm(count, track, width):
            ink.rectangle(
                x(axle_mm - radius), y(centre + width / 2), 2 * radius * scale, width * scale,
                weight=HEAVY,
            )  # fmt: skip
    bottom = y(-half)
    words: list[str] = []
    for number, bay in enumerate(used, start=1):
        left_mm = -bay.width_mm / 2 if bay.y_mm is None else float(bay.y_mm)
        _battery(
            ink, x(bay.x_mm), y(left_mm + bay.width_mm), bay.length_mm * scale,
            bay.width_mm * scale, dashed=bay.y_mm is None,
        )  # fmt: skip
        unknown = "; its side is not known" if bay.y_mm is None else ""
        cabin = ", inside the cabin" if bay.inside_cabin else ""
        words.append(f"{number} = battery, {fit(clean(bay.name), 40)}{cabin}{unknown}")
    # Above all boxes, for one may stand over another; side by side along them, so that a
    # number stays to be read in the box below.
    for number, bay in enumerate(used, start=1):
        at_mm = bay.x_mm + bay.length_mm * number / (len(used) + 1)
        _number(ink, x(at_mm), y(0 if bay.y_mm is None else bay.y_mm + bay.width_mm / 2), number)
    if disconnect is not None:
        ink.circle(x(disconnect[0]), y(disconnect[1]), 17, weight=HEAVY, fill="#fff")
        ink.text(x(disconnect[0]), y(disconnect[1]) + 8, "Q", size=23, anchor="middle",
                 bold=True, inside=True)  # fmt: skip
        words.append("Q = the driver's disconnect")
    else:
        words.append("Mark with a pen where the driver's disconnect is")
    at = ink.lines(SIDE, bottom + 30, tuple(words), size=18, first_bold=False, step=24)
    return ink.svg(
        WIDTH, at, "The vehicle from above for rescuers", "; ".join(words) + ". Front is left."
    )


def _far(bay: Bay) -> float:
    if bay.y_mm is None:
        return bay.width_mm / 2
    return max(abs(bay.y_mm), abs(bay.y_mm + bay.width_mm))


def _battery(ink: Ink, x: float, y: float, width: float, height: float, *, dashed: bool) -> None:
    """A hatched box; what lies below it shines through."""
    ink.rectangle(x, y, width, height, weight=HEAVY, dash="7 4" if dashed else "")
    along = HATCH
    while along < width + height:
        # From the lower or right edge up to the upper or left one, at 45 degrees.
        ink.line(
            (x + max(0.0, along - height), y + min(along, height)),
            (x + min(along, width), y + max(0.0, along - width)),
            weight=THIN,
        )  # fmt: skip
        along += HATCH


def _number(ink: Ink, x: float, y: float, number: int) -> None:
    ink.circle(x, y, 17, weight=PLAIN, fill="#fff")
    ink.text(x, y + 8, str(number), size=23, anchor="middle", bold=True, inside=True)
