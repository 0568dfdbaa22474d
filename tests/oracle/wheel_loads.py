"""Limits of single wheels and of the car's two sides, by plain fractions."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

from bomplan.design.context import Context
from bomplan.project.records import LoadCase

if TYPE_CHECKING:
    from oracle.brute_force import Share


def failed_wheels(
    context: Context, picks: tuple[Share, ...], laden: int, case: LoadCase
) -> Iterator[str]:
    """Limits of wheels and sides by four levers, one for each wheel."""
    donor, rules = context.project.donor, context.project.house_rules
    assert donor.track_front_mm is not None
    assert donor.track_rear_mm is not None
    weighing, length = donor.weighing, donor.wheelbase_mm
    tracks = {"front": donor.track_front_mm, "rear": donor.track_rear_mm}
    loads = {
        (axle, side): Fraction(getattr(weighing, f"{axle}_{side}_g"))
        for axle in tracks
        for side in ("left", "right")
    }
    assert weighing.fuel_x_mm is not None
    points = [point for pick in picks for point in pick.points]
    points += [(item.mass_g, item.x_mm, item.y_mm or 0) for item in (*donor.added, *case.items)]
    points += [(-item.mass_g, item.x_mm, item.y_mm or 0) for item in donor.removed]
    points.append((-weighing.fuel_g, weighing.fuel_x_mm, weighing.fuel_y_mm or 0))
    for mass_g, x_mm, y_mm in points:
        for axle, load in (
            ("front", Fraction(mass_g * (length - x_mm), length)),
            ("rear", Fraction(mass_g * x_mm, length)),
        ):
            lean = load * Fraction(y_mm, tracks[axle])
            loads[axle, "left"] += load / 2 - lean
            loads[axle, "right"] += load / 2 + lean
    assert sum(loads.values()) == laden
    for axle in tracks:
        limit = getattr(donor, f"{axle}_wheel_limit_g")
        if limit is not None and max(loads[axle, "left"], loads[axle, "right"]) > limit:
            yield "wheel"
    lateral = sum(
        (loads[axle, "right"] - loads[axle, "left"]) * track / 2 for axle, track in tracks.items()
    )
    left = Fraction(1, 2) - lateral / (min(tracks.values()) * laden)
    for bound, sign in ((rules.minimum_left_share, 1), (rules.maximum_left_share, -1)):
        if bound is not None and sign * left < sign * Fraction(round(bound * 1000), 1000):
            yield "side"
