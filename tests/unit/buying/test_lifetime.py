"""Cost over the years against sums done by hand, and how a pack's life answers to its use."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bomplan.buying.lifetime import (
    Driven,
    Wear,
    cycle_life,
    depth_of_discharge,
    energy_cost,
    lifetime_cost,
    pack_life,
    packs_after_the_first,
)

LEAD = Wear(cycles=500, cycles_depth=Fraction("0.8"), calendar_years=Fraction(6))
DRIVEN = Driven(distance_a_year_m=12_000_000, years=Fraction(8), between_charges_m=60_000)
RANGE_M = 100_000


def test_by_hand_to_the_cent() -> None:
    """8 000.00 to buy, 12 000 km a year for 8 years, 180.5 Wh/km at 0.285 a kWh.

    60 of 100 km with 80 % of the capacity usable is a depth of 48 %. 500 cycles at 80 % are
    833 1/3 at 48 %, of 60 km each: 50 000 km, 4 1/6 years, less than 6 by calendar. Eight
    years take a second pack at 2 350.00. Energy: 96 000 km x 0.1805 kWh = 17 328 kWh, times
    0.285 = 4 938.48. In all 15 288.48, by 960 hundred kilometres 15.9255 each.
    """
    depth = depth_of_discharge(60_000, RANGE_M, Fraction("0.8"))
    assert depth == Fraction("0.48")
    life = pack_life(LEAD, DRIVEN, RANGE_M, depth)
    assert life.cycles == Fraction(2500, 3)
    assert life.years == life.cycle_years == Fraction(25, 6)
    assert life.ended_by == "cycles"
    cost = lifetime_cost(800_000, 235_000, DRIVEN, life, Fraction("180.5"), Fraction("28.5"))
    assert cost.energy == 493_848
    assert (cost.packs, cost.replacements) == (1, 235_000)
    assert cost.total == 1_528_848
    assert cost.per_100_km == Fraction("1592.55")


def test_little_driven_a_pack_ends_by_its_years() -> None:
    driven = Driven(distance_a_year_m=3_000_000, years=Fraction(12), between_charges_m=60_000)
    life = pack_life(LEAD, driven, RANGE_M, Fraction("0.48"))
    assert life.cycle_years == Fraction(50, 3)
    assert life.years == 6
    assert life.ended_by == "calendar"
    # Twelve years are two packs of six: the second is used up as the car is.
    assert packs_after_the_first(Fraction(12), life.years) == 1
    assert packs_after_the_first(Fraction("12.1"), life.years) == 2


def test_nobody_drives_further_than_the_range_without_charging() -> None:
    window = Fraction("0.8")
    assert depth_of_discharge(250_000, RANGE_M, window) == window
    far = Driven(distance_a_year_m=12_000_000, years=Fraction(8), between_charges_m=250_000)
    just = Driven(distance_a_year_m=12_000_000, years=Fraction(8), between_charges_m=RANGE_M)
    assert pack_life(LEAD, far, RANGE_M, window) == pack_life(LEAD, just, RANGE_M, window)


def test_what_is_kept_back_is_not_discharged() -> None:
    """Half the range on 80 % of the window of 90 %."""
    kept = depth_of_discharge(50_000, RANGE_M, Fraction("0.9"), Fraction("0.2"))
    assert kept == Fraction("0.36")


@given(
    st.integers(1, 10**6), st.integers(1, 10**6), st.fractions(Fraction(1, 20), 1),
    st.integers(100, 20_000),
)  # fmt: skip
def test_throughput_is_the_same_however_deep(
    between_m: int, range_m: int, window: Fraction, cycles: int
) -> None:
    wear = Wear(cycles, Fraction("0.8"), Fraction(50))
    depth = depth_of_discharge(between_m, range_m, window)
    assert 0 < depth <= window
    assert cycle_life(wear, depth) * depth == cycles * Fraction("0.8")
    driven = Driven(10_000_000, Fraction(10), between_m)
    # So the distance that a pack lasts does not depend on how often it is charged.
    distance = pack_life(wear, driven, range_m, depth).cycle_years * 10_000_000
    assert distance == cycles * Fraction("0.8") * range_m / window


@given(st.fractions(1, 60), st.fractions(Fraction(1, 10), 60))
def test_packs_last_the_years_and_none_is_bought_for_nothing(
    years: Fraction, pack_years: Fraction
) -> None:
    more = packs_after_the_first(years, pack_years)
    assert (1 + more) * pack_years >= years
    assert more == 0 or more * pack_years < years


@pytest.mark.parametrize(
    ("between_m", "range_m", "window"),
    [(0, 1, Fraction(1)), (1, 0, Fraction(1)), (1, 1, Fraction(0)), (1, 1, Fraction(2))],
)
def test_without_a_distance_there_is_no_depth(
    between_m: int, range_m: int, window: Fraction
) -> None:
    with pytest.raises(ValueError, match="needs a distance"):
        depth_of_discharge(between_m, range_m, window)


def test_energy_is_bought_at_the_wall() -> None:
    """100 km at 150 Wh/km are 15 kWh; at 0.30 each 4.50."""
    assert energy_cost(Fraction(100_000), Fraction(150), Fraction(30)) == 450
