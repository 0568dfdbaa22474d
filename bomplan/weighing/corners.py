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
    """What each wheel carries, in fractions of a gram.

    Asked for a share of no mass: ValueError.
    """

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


@dataclass(frozen=True)
class CornerSums:
    """What decides the four corner loads, exact; the last two are *twice* the moments.

    ``mass_g``, ``moment_gmm`` = sum of m x, ``lateral_gmm`` = 2 x sum of m y and
    ``cross_gmm2`` = 2 x sum of m x y: twice, so that corner readings give whole numbers.
    """

    mass_g: int
    moment_gmm: int
    lateral_gmm: int
    cross_gmm2: int

    def plus(self, other: CornerSums) -> CornerSums:
        """Both together."""
        return CornerSums(
            self.mass_g + other.mass_g,
            self.moment_gmm + other.moment_gmm,
            self.lateral_gmm + other.lateral_gmm,
            self.cross_gmm2 + other.cross_gmm2,
        )

    def minus(self, other: CornerSums) -> CornerSums:
        """This without the other."""
        return CornerSums(
            self.mass_g - other.mass_g,
            self.moment_gmm - other.moment_gmm,
            self.lateral_gmm - other.lateral_gmm,
            self.cross_gmm2 - other.cross_gmm2,
        )


def corner_sums(masses: Iterable[PlacedMass]) -> CornerSums:
    """The sums of masses with their places."""
    total = moment = lateral = cross = 0
    for mass in masses:
        total += mass.mass_g
        moment += mass.mass_g * mass.x_mm
        lateral += 2 * mass.mass_g * mass.y_mm
        cross += 2 * mass.mass_g * mass.x_mm * mass.y_mm
    return CornerSums(total, moment, lateral, cross)


def sums_of_readings(
    readings_g: tuple[int, int, int, int],
    wheelbase_mm: int,
    track_front_mm: int,
    track_rear_mm: int,
) -> CornerSums:
    """The sums that give these readings: front left, front right, rear left, rear right.

    A reading is a mass at its wheel: x = 0 or the wheelbase, y = half the track aside.
    """
    front_left, front_right, rear_left, rear_right = readings_g
    rear_twice = (rear_right - rear_left) * track_rear_mm
    return CornerSums(
        sum(readings_g),
        (rear_left + rear_right) * wheelbase_mm,
        (front_right - front_left) * track_front_mm + rear_twice,
        rear_twice * wheelbase_mm,
    )


def corner_loads_of(
    sums: CornerSums, wheelbase_mm: int, track_front_mm: int, track_rear_mm: int
) -> CornerLoads:
    """The four loads of these sums, exact; see :func:`corner_loads` for what is assumed.

    ValueError for a wheelbase or a track that is not above 0 mm.
    """
    if min(wheelbase_mm, track_front_mm, track_rear_mm) <= 0:
        raise ValueError("wheelbase and tracks must be above 0 mm")
    rear = Fraction(sums.moment_gmm, wheelbase_mm)
    rear_twice = Fraction(sums.cross_gmm2, wheelbase_mm)
    front_lean = (sums.lateral_gmm - rear_twice) / (2 * track_front_mm)
    rear_lean = rear_twice / (2 * track_rear_mm)
    front = sums.mass_g - rear
    return CornerLoads(
        front / 2 - front_lean, front / 2 + front_lean, rear / 2 - rear_lean, rear / 2 + rear_lean
    )


def left_share(sums: CornerSums, track_mm: int) -> Fraction:
    """Share of the mass on the left: a half less how far the middle of mass lies to the right.

    ``track_mm`` is the narrower of the tracks, which is exact where both are equal and to the
    disadvantage of the heavier side otherwise. ValueError without mass.
    """
    if sums.mass_g == 0:
        raise ValueError("no mass, so no share")
    return Fraction(1, 2) - Fraction(sums.lateral_gmm, 2 * track_mm * sums.mass_g)


def corner_loads(
    masses: Iterable[PlacedMass], wheelbase_mm: int, track_front_mm: int, track_rear_mm: int
) -> CornerLoads:
    """Loads of the four wheels, exact.

    Four wheels carry a load in more than one way; as is common practice each mass is first
    shared between the axles by its ``x``, then between the wheels of each axle by its ``y``.
    Springs and a twisted frame change that: only corner scales tell.

    ValueError for a wheelbase or a track that is not above 0 mm.
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
