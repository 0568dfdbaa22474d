"""Where the wheels of an axle stand, for every drawing that looks down on the vehicle."""

from __future__ import annotations

from typing import Final

from bomplan.project.records import Donor

# Drawn where nothing was measured; common practice for a small car.
USUAL_TRACK_MM: Final = 1_300
TWINS_APART_MM: Final = 20
"""Air between the two tyres of a twin pair, as drawn."""


def tyre_width_mm(donor: Donor) -> int:
    """Width of a tyre as it is drawn, in mm; common practice, for no width is asked."""
    return 110 if donor.kind == "motorcycle" else 150


def drawn_tracks_mm(donor: Donor) -> tuple[int, int]:
    """Front and rear track in mm; 0 where an axle has one wheel, the usual where not given."""
    front, rear = donor.tyre_counts
    return (
        0 if front == 1 else donor.track_front_mm or USUAL_TRACK_MM,
        0 if rear == 1 else donor.track_rear_mm or USUAL_TRACK_MM,
    )


def tracks_known(donor: Donor) -> bool:
    """Whether every axle with more than one wheel has its track given."""
    given = donor.track_front_mm, donor.track_rear_mm
    return not any(
        count > 1 and track is None for count, track in zip(donor.tyre_counts, given, strict=True)
    )


def tyre_middles_mm(count: int, track_mm: int, width_mm: int) -> tuple[float, ...]:
    """Middles of an axle's tyres in mm to the right, from the left one on: 1, 2, or 4 as twins.

    The track of twins runs between the middles of the pairs.
    """
    if count == 1:
        return (0.0,)
    half = track_mm / 2
    if count < 4:
        return -half, half
    aside = (width_mm + TWINS_APART_MM) / 2
    return -half - aside, -half + aside, half - aside, half + aside
