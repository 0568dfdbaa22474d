"""What a car costs over its years of use: purchase, energy from the wall, new packs.

Plain numbers in, exact numbers out: distances are whole metres, money is in smallest units of
one currency, every share and count a :class:`fractions.Fraction`, so that nothing is rounded
before the last figure. No interest, no change of prices, no maintenance, and a pack that is
not used up at the end is worth nothing.

How long a pack lasts is the lesser of two:

- *Cycles*, by constant throughput of charge: a pack gives as much charge in its life however
  deep each discharge is, so the number of cycles is inversely proportional to their depth
  (common practice; the figure in the catalogue holds at the depth beside it). Measured cycle
  lives lie above that for shallower discharges and below it for deeper ones, in lead as in
  lithium; temperature, current and standing full are not counted.
- *Calendar*: years after which cells are worn out whether they are used or not.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Final, Literal

HUNDRED_KM_M: Final = 100_000
WH_PER_KWH: Final = 1000


@dataclass(frozen=True)
class Wear:
    """What wears a pack: ``cycles`` at the share ``cycles_depth`` of its capacity, and years."""

    cycles: int
    cycles_depth: Fraction
    calendar_years: Fraction


@dataclass(frozen=True)
class Driven:
    """How a car is used: metres a year over ``years``, and metres from one charge to the next."""

    distance_a_year_m: int
    years: Fraction
    between_charges_m: int

    @property
    def distance_m(self) -> Fraction:
        """Metres over all the years."""
        return self.distance_a_year_m * self.years


@dataclass(frozen=True)
class PackLife:
    """How deep each discharge is, how many there are, and how many years that lasts.

    ``cycle_years`` are the years until the cycles are used up, ``years`` those until the pack
    is worn out by cycles or calendar, ``ended_by`` by which.
    """

    depth: Fraction
    cycles: Fraction
    cycle_years: Fraction
    years: Fraction
    ended_by: Literal["cycles", "calendar"]


@dataclass(frozen=True)
class LifetimeCost:
    """Smallest units of money over the years; ``packs`` are those bought after the first."""

    purchase: int
    energy: Fraction
    packs: int
    replacements: int
    distance_m: Fraction

    @property
    def total(self) -> Fraction:
        return self.purchase + self.energy + self.replacements

    @property
    def per_100_km(self) -> Fraction:
        return self.total * HUNDRED_KM_M / self.distance_m


def depth_of_discharge(
    between_charges_m: int, range_m: int, window: Fraction, reserve: Fraction = Fraction(0)
) -> Fraction:
    """The share of its capacity that a pack gives from one charge to the next.

    ``range_m`` is what the share ``1 - reserve`` of the usable ``window`` of the state of
    charge takes the car. Nobody drives further than the range without charging. ValueError
    unless distances and the window are above zero.
    """
    if between_charges_m <= 0 or range_m <= 0 or not 0 < window <= 1 or not 0 <= reserve < 1:
        raise ValueError("a discharge needs a distance, a range and a usable window")
    return min(Fraction(between_charges_m, range_m), Fraction(1)) * window * (1 - reserve)


def cycle_life(wear: Wear, depth: Fraction) -> Fraction:
    """Discharges of this depth to the end of life, by constant throughput of charge."""
    return wear.cycles * wear.cycles_depth / depth


def pack_life(wear: Wear, driven: Driven, range_m: int, depth: Fraction) -> PackLife:
    """How many years a pack lasts when it is driven like this.

    A car that does not get as far as ``driven.between_charges_m`` is charged more often.
    """
    cycles = cycle_life(wear, depth)
    cycle_years = cycles * min(driven.between_charges_m, range_m) / driven.distance_a_year_m
    by_cycles = cycle_years < wear.calendar_years
    return PackLife(
        depth=depth,
        cycles=cycles,
        cycle_years=cycle_years,
        years=min(cycle_years, wear.calendar_years),
        ended_by="cycles" if by_cycles else "calendar",
    )


def packs_after_the_first(years: Fraction, pack_years: Fraction) -> int:
    """Packs to be bought within so many years, the first not counted; each is used up first."""
    return max(0, ceil(years / pack_years) - 1)


def energy_cost(
    distance_m: Fraction, wall_wh_per_km: Fraction, price_per_kwh: Fraction
) -> Fraction:
    """Smallest units of money for the energy from the wall over a distance."""
    kwh = distance_m / 1000 * wall_wh_per_km / WH_PER_KWH
    return kwh * price_per_kwh


def lifetime_cost(
    purchase: int,
    pack_price: int,
    driven: Driven,
    life: PackLife,
    wall_wh_per_km: Fraction,
    price_per_kwh: Fraction,
) -> LifetimeCost:
    """Purchase, energy and whole new packs over the years of use.

    ``pack_price`` is what the modules of one new pack cost, ``price_per_kwh`` smallest units
    of money for a kilowatt-hour from the wall.
    """
    packs = packs_after_the_first(driven.years, life.years)
    return LifetimeCost(
        purchase=purchase,
        energy=energy_cost(driven.distance_m, wall_wh_per_km, price_per_kwh),
        packs=packs,
        replacements=packs * pack_price,
        distance_m=driven.distance_m,
    )
