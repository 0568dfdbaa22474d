"""Limits of the gross mass, axles, shares, single wheels and sides, by whole numbers."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from oracle.shares import Sums, lever_sums

from bomplan.design.context import Context
from bomplan.project.records import LoadCase


def failed_masses(context: Context, sums: Sums) -> Iterator[str]:
    """Which kinds of limit these totals pass over, in any load case.

    What an axle carries times the wheelbase is a whole number, and is compared as one.
    """
    limits, rules = context.limits, context.project.house_rules
    own, length = context.project.targets, context.wheelbase_mm
    for load in context.loads:
        laden = context.base.mass_g + load.mass_g + sums.mass_g
        rear = context.base.moment_gmm + load.moment_gmm + sums.moment_gmm
        front = laden * length - rear
        if laden > limits.gross_g:
            yield "gross"
        if front > limits.front_g * length or rear > limits.rear_g * length:
            yield "axle"
        least, greatest = rules.minimum_front_share, rules.maximum_front_share
        if least is not None and front * 1000 < round(least * 1000) * laden * length:
            yield "share"
        if greatest is not None and front * 1000 > round(greatest * 1000) * laden * length:
            yield "share"
        for value, most in (
            (laden * length, own.laden_mass_max_g),
            (front, own.front_axle_max_g),
            (rear, own.rear_axle_max_g),
        ):
            if most is not None and value > most * length:
                yield "own"
        if context.project.donor.weighing.front_left_g is not None:
            (case,) = [one for one in context.project.load_cases if one.name == load.name]
            yield from failed_wheels(context, sums, laden, case)


def failed_wheels(context: Context, sums: Sums, laden: int, case: LoadCase) -> Iterator[str]:
    """Limits of wheels and sides by four levers, one for each wheel."""
    donor, rules = context.project.donor, context.project.house_rules
    assert donor.track_front_mm is not None
    assert donor.track_rear_mm is not None
    weighing, length = donor.weighing, donor.wheelbase_mm
    tracks = {"front": donor.track_front_mm, "rear": donor.track_rear_mm}
    assert weighing.fuel_x_mm is not None
    points = [(item.mass_g, item.x_mm, item.y_mm or 0) for item in (*donor.added, *case.items)]
    points += [(-item.mass_g, item.x_mm, item.y_mm or 0) for item in donor.removed]
    points.append((-weighing.fuel_g, weighing.fuel_x_mm, weighing.fuel_y_mm or 0))
    front, rear, front_aside, rear_aside = (
        ours + theirs for ours, theirs in zip(sums.levers, lever_sums(points, length), strict=True)
    )
    loads: dict[tuple[str, str], Fraction] = {}
    for axle, along, aside in (("front", front, front_aside), ("rear", rear, rear_aside)):
        half, lean = Fraction(along, 2 * length), Fraction(aside, length * tracks[axle])
        loads[axle, "left"] = getattr(weighing, f"{axle}_left_g") + half - lean
        loads[axle, "right"] = getattr(weighing, f"{axle}_right_g") + half + lean
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
