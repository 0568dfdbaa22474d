"""Loads per wheel where lateral places are known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class PlacedMass:
    """A mass with its place: behind the front axle and to the right of the middle, in mm."""

    name: str
    mass_g: int
    x_mm: int
    y_mm: int


@dataclass(frozen=True)
class CornerLoads:
    """What each wheel carries, in fractions of a gram."""

    front_left_g: Fraction
    front_right_g: Fraction
    rear_left_g: Fraction
    rear_right_g: Fraction

    @property
    def left_share(self) -> Fraction:
        """Share of the whole mass on the left wheels; ValueError if there is no mass."""
        total = self.front_left_g + self.front_right_g + self.rear_left_g + self.rear_right_g
        if total == 0:
            raise ValueError("no mass, so no share")
        return (self.front_left_g + self.rear_left_g) / total


def corner_loads(
    masses: Iterable[PlacedMass], wheelbase_mm: int, track_front_mm: int, track_rear_mm: int
) -> CornerLoads:
    """Loads of the four wheels, exact.

    Four wheels carry a load in more than one way; as is common practice each mass is first
    shared between the axles by its ``x``, then between the wheels of each axle by its ``y``.
    Springs and a twisted frame change that: only corner scales tell.
    """
    if min(wheelbase_mm, track_front_mm, track_rear_mm) <= 0:
        raise ValueError("wheelbase and tracks must be above 0 mm")
    sums = [Fraction(0)] * 4
    for mass in masses:
        rear = Fraction(mass.mass_g * mass.x_mm, wheelbase_mm)
        for offset, load, track in (
            (0, mass.mass_g - rear, track_front_mm),
            (2, rear, track_rear_mm),
        ):
            right = load * (Fraction(1, 2) + Fraction(mass.y_mm, track))
            sums[offset] += load - right
            sums[offset + 1] += right
    return CornerLoads(*sums)
