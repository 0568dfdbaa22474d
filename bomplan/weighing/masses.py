"""Masses on a line along the car: totals, moments, axle loads, exact to the gram.

Positions count backwards from the front axle in whole millimetres: a mass ahead of it has a
negative ``x_mm``, one behind the rear axle an ``x_mm`` above the wheelbase. Loads are kept as
fractions of a gram, so that front and rear always sum up to the total.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor


@dataclass(frozen=True)
class Mass:
    """A named mass at a place along the car; negative grams mean that it is taken out."""

    name: str
    mass_g: int
    x_mm: int


@dataclass(frozen=True)
class Moments:
    """A total mass in g and its moment about the front axle in g·mm. Both are exact."""

    mass_g: int
    moment_gmm: int

    def plus(self, other: Moments) -> Moments:
        """Both together."""
        return Moments(self.mass_g + other.mass_g, self.moment_gmm + other.moment_gmm)

    def minus(self, other: Moments) -> Moments:
        """This without the other."""
        return Moments(self.mass_g - other.mass_g, self.moment_gmm - other.moment_gmm)


@dataclass(frozen=True)
class AxleLoads:
    """What each axle carries, in fractions of a gram.

    Asked for a share of no mass: ValueError.
    """

    front_g: Fraction
    rear_g: Fraction

    @property
    def total_g(self) -> Fraction:
        """The whole mass."""
        return self.front_g + self.rear_g

    @property
    def front_share(self) -> Fraction:
        """Share of the mass on the front axle; ValueError if there is no mass."""
        if self.total_g == 0:
            raise ValueError("no mass, so no share")
        return self.front_g / self.total_g


def moments(masses: Iterable[Mass]) -> Moments:
    """Total mass in g and moment about the front axle in g·mm."""
    total = moment = 0
    for mass in masses:
        total += mass.mass_g
        moment += mass.mass_g * mass.x_mm
    return Moments(total, moment)


def axle_moments(masses: Iterable[Mass], wheelbase_mm: int) -> tuple[int, int]:
    """Axle loads times the wheelbase, in g·mm: (front, rear), whole numbers.

    front x L = sum of m (L - x); rear x L = sum of m x. Balance of moments about the other
    axle, e.g. T. D. Gillespie, Fundamentals of Vehicle Dynamics (SAE 1992), ch. 1.
    """
    sums = moments(masses)
    return sums.mass_g * wheelbase_mm - sums.moment_gmm, sums.moment_gmm


def axle_loads_exact(masses: Iterable[Mass], wheelbase_mm: int) -> AxleLoads:
    """What the axles carry of these masses. ValueError for a wheelbase of 0 or less."""
    return axle_loads_of(moments(masses), wheelbase_mm)


def axle_loads_of(sums: Moments, wheelbase_mm: int) -> AxleLoads:
    """What the axles carry of a mass and moment. ValueError for a wheelbase of 0 or less."""
    if wheelbase_mm <= 0:
        raise ValueError("the wheelbase must be above 0 mm")
    rear = Fraction(sums.moment_gmm, wheelbase_mm)
    return AxleLoads(sums.mass_g - rear, rear)


def centre_of_gravity_mm(sums: Moments) -> Fraction:
    """How far the centre of gravity lies behind the front axle; ValueError without mass."""
    if sums.mass_g == 0:
        raise ValueError("no mass, so no centre of gravity")
    return Fraction(sums.moment_gmm, sums.mass_g)


def shown_load_g(load_g: Fraction) -> int:
    """A load as it is shown against an upper limit: rounded up to the gram."""
    return ceil(load_g)


def shown_least_load_g(load_g: Fraction) -> int:
    """A load as it is shown against a lower limit: rounded down to the gram."""
    return floor(load_g)


def base_from_weighing(
    front_g: int,
    rear_g: int,
    wheelbase_mm: int,
    in_it: Iterable[Mass] = (),
    removed: Iterable[Mass] = (),
) -> Moments:
    """The bare donor, exactly: what the scales read, less what sat in it, less what comes out.

    ``in_it``: fuel and people during the weighing. ``removed``: engine, tank and the like.
    The readings themselves are loads at the axles, i.e. masses at x = 0 and x = wheelbase.

    ValueError for a wheelbase that is not above 0 mm.
    """
    if wheelbase_mm <= 0:
        raise ValueError("the wheelbase must be above 0 mm")
    weighed = Moments(front_g + rear_g, rear_g * wheelbase_mm)
    return weighed.minus(moments(in_it)).minus(moments(removed))


def missing_mass(planned: Moments, weighed: Moments) -> tuple[int, Fraction | None]:
    """Where a difference between scale and plan must sit.

    Returns the mass in g that the real car has above the plan, and the place behind the
    front axle in mm at which it would explain both axle readings (None if the masses agree,
    whatever the moments do).
    """
    difference = weighed.minus(planned)
    if difference.mass_g == 0:
        return 0, None
    return difference.mass_g, Fraction(difference.moment_gmm, difference.mass_g)
