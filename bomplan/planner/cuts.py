"""What failed simulations taught of a core: couplers that fail, and what they leave."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Final

from bomplan.design.records import Couplers

ANY: Final = 10**9  # more than any coupler
MOST_BOXES: Final = 24  # further cuts are left out of the boxes


@dataclass(frozen=True)
class Cut:
    """A failed simulation: no bill may have all three couplers at least this bad.

    ``added_g`` is the greatest mass that still passes with the two other couplers.
    """

    added_g: int
    external_uohm: int
    mean_12v_w: int


@dataclass(frozen=True)
class Point:
    """Couplers at which a requirement without a direction failed: only these are excluded."""

    added_g: int
    external_uohm: int
    mean_12v_w: int


Cuts = tuple[Cut | Point, ...]


@dataclass(frozen=True)
class Box:
    """Couplers that are no worse than these in all three: what a bill may have."""

    added_g: int
    external_uohm: int
    mean_12v_w: int


BOX = tuple(one.name for one in fields(Box))


def boxes(cuts: Iterable[Cut | Point], least: Box) -> tuple[Box, ...]:
    """Boxes of couplers that hold every bill which no cut shuts out; ``least``: none has less.

    A cut wants less mass, or less resistance, or less load. Points are passed over.
    """
    found = [Box(ANY, ANY, ANY)]
    for cut in cuts:
        if not isinstance(cut, Cut):
            continue
        parts = [
            part
            for box in found
            for part in (
                Box(min(box.added_g, cut.added_g), box.external_uohm, box.mean_12v_w),
                Box(box.added_g, min(box.external_uohm, cut.external_uohm - 1), box.mean_12v_w),
                Box(box.added_g, box.external_uohm, min(box.mean_12v_w, cut.mean_12v_w - 1)),
            )
            if _holds(part, least)
        ]
        parts = list(dict.fromkeys(parts))
        kept = [one for one in parts if not any(o != one and _holds(o, one) for o in parts)]
        if len(kept) > MOST_BOXES:
            break
        found = kept
    return tuple(found)


def shut_out(cut: Cut | Point, couplers: Couplers) -> bool:
    """Whether a failed simulation tells that these couplers fail."""
    if isinstance(cut, Point):
        return couplers == Couplers(
            added_g=cut.added_g, external_uohm=cut.external_uohm, mean_12v_w=cut.mean_12v_w
        )
    return (
        couplers.added_g > cut.added_g
        and couplers.external_uohm >= cut.external_uohm
        and couplers.mean_12v_w >= cut.mean_12v_w
    )


def _holds(box: Box, other: Box) -> bool:
    # By name: asked a hundred thousand times of a core with many cuts.
    return (
        box.added_g >= other.added_g
        and box.external_uohm >= other.external_uohm
        and box.mean_12v_w >= other.mean_12v_w
    )
