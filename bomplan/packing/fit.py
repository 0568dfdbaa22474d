"""Whether one part, or several equal ones, go into a box-shaped place, and what is to spare."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

from bomplan.packing.boxes import BayBox, ModuleBox
from bomplan.packing.layers import layout

Sides = tuple[int, int, int]


@dataclass(frozen=True)
class Fit:
    """The tightest direction of the best way to turn a part: what it takes and what is there.

    ``needs_mm`` holds the clearance at both ends. The part fits where it does not exceed
    ``room_mm``.
    """

    needs_mm: int
    room_mm: int

    @property
    def spare_mm(self) -> int:
        """Below 0: so much is missing."""
        return self.room_mm - self.needs_mm


def best_fit(part: Sides, room: Sides, clear_mm: int = 0, any_way_up: bool = False) -> Fit:
    """How a box of sides length, width, height goes into a room, kept clear on every side.

    It may be turned about the vertical, and laid on any side if ``any_way_up``; sides stay
    parallel to the room's. Of all ways the one counts that leaves most in its tightest
    direction.
    """
    length, width, height = part
    ways = permutations(part) if any_way_up else ((length, width, height), (width, length, height))
    return max(
        (
            min(
                (Fit(side + 2 * clear_mm, there) for side, there in zip(way, room, strict=True)),
                key=lambda fit: fit.spare_mm,
            )
            for way in ways
        ),
        key=lambda fit: fit.spare_mm,
    )


def pieces_at_most(part: Sides, room: Sides, clear_mm: int = 0, any_way_up: bool = False) -> int:
    """How many equal parts a room holds, in layers on shelves as thick as the clearance."""
    box = ModuleBox(*part, "any" if any_way_up else "upright", gap_mm=clear_mm)
    return layout(BayBox(*room, wall_mm=clear_mm, shelf_mm=clear_mm), box).count
