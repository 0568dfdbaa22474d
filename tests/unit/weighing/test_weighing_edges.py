"""What stands exactly at a limit, and what a refusal says, to the letter."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from math import atan

import pytest

from bomplan.weighing import (
    CornerSums,
    Moments,
    axle_tyre_load_g,
    centre_of_gravity_mm,
    chassis_hint,
    height_by_axle_lift_m,
    left_share,
    loads_in_motion_n,
    parse_tyre,
    rollover_ratio,
)

TWIN = "195/70 R15C 104/102R"


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: chassis_hint(0, 1), "the kerb load of the axle must be above 0 g"),
        (
            lambda: rollover_ratio(1_400, 0),
            "the height of the centre of gravity must be above 0 mm",
        ),
        (lambda: centre_of_gravity_mm(Moments(0, 5)), "no mass, so no centre of gravity"),
        (lambda: loads_in_motion_n(900, 0, 1, 0.5), "the wheelbase must be above 0 m"),
        (
            lambda: height_by_axle_lift_m(0, 2.4, [(0.1, 9.0)]),
            "needs a mass above 0 kg and at least one lift with an angle",
        ),
        (
            lambda: height_by_axle_lift_m(900, 2.4, [(0.0, 9.0)]),
            "needs a mass above 0 kg and at least one lift with an angle",
        ),
        (lambda: axle_tyre_load_g(parse_tyre(TWIN), 0), "an axle has at least one tyre"),
        (lambda: left_share(CornerSums(0, 0, 0, 0), 1_400), "no mass, so no share"),
        (
            lambda: parse_tyre("6.00-16"),
            "'6.00-16' is no tyre designation like '185/65 R15 88H': "
            "width/aspect, build and rim, load index and speed symbol",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_these_words(ask: Callable[[], object], said: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(said)}$"):
        ask()


def test_the_least_that_there_can_be_is_taken() -> None:
    """One gram, one millimetre, a wheelbase of one metre and a mass of one kilogram are enough."""
    assert chassis_hint(1, 1).change_share == 0
    assert rollover_ratio(3, 1) == 1.5
    assert loads_in_motion_n(2.0, 1.0, 0.5, 0.0, gravity_m_s2=10.0) == (10.0, 10.0)
    assert height_by_axle_lift_m(1.0, 2.0, [(atan(0.5), 0.25)]) == pytest.approx(1.0)


def test_chassis_work_begins_above_its_threshold_and_not_at_it() -> None:
    at, above = chassis_hint(1_000, 1_100), chassis_hint(1_000, 1_101)
    assert (at.springs, above.springs) == (False, True)
    at, above = chassis_hint(1_000, 1_150), chassis_hint(1_000, 1_151)
    assert (at.dampers, above.dampers) == (False, True)


def test_several_lifts_are_fitted_and_each_needs_its_gain() -> None:
    """Gains on one line through the origin give that line, whichever lift is taken alone."""
    lifts = [(atan(slope), 40.0 * slope) for slope in (0.05, 0.1, 0.2)]
    found = height_by_axle_lift_m(1_000.0, 2.5, lifts, axle_height_m=0.3)
    assert found == pytest.approx(0.3 + 2.5 * 40.0 / 1_000.0)
    assert height_by_axle_lift_m(1_000.0, 2.5, lifts[1:2], 0.3) == pytest.approx(found)


@pytest.mark.parametrize(("tyres", "each_kg"), [(1, 900), (2, 900), (3, 850), (4, 850)])
def test_the_twin_index_counts_from_the_third_tyre_on(tyres: int, each_kg: int) -> None:
    """Load indices 104 and 102 are 900 and 850 kg (ISO 4000-1, from memory)."""
    assert axle_tyre_load_g(parse_tyre(TWIN), tyres) == each_kg * tyres * 1_000


@pytest.mark.parametrize(("tyres", "axle_g"), [(1, 560_000), (2, 1_120_000), (4, 2_074_074)])
def test_car_tyres_in_twins_carry_less_than_twice_as_much(tyres: int, axle_g: int) -> None:
    """Each must carry 0.27 of the axle: 560 kg / 0.27 (EU 458/2011, annex II, from memory)."""
    assert axle_tyre_load_g(parse_tyre("185/65 R15 88H"), tyres) == axle_g


def test_moments_and_sums_of_two_are_added_and_taken_away_part_by_part() -> None:
    one, two = Moments(100, 7_000), Moments(30, 500)
    assert one.plus(two) == Moments(130, 7_500)
    assert one.minus(two) == Moments(70, 6_500)
    first, second = CornerSums(10, 200, 3_000, 40_000), CornerSums(1, 30, 500, 7_000)
    assert first.plus(second) == CornerSums(11, 230, 3_500, 47_000)
    assert first.minus(second) == CornerSums(9, 170, 2_500, 33_000)


def test_the_left_share_by_hand() -> None:
    """1,000 kg with its middle of mass 70 mm to the right of a track of 1,400 mm: 45 % left."""
    sums = CornerSums(1_000_000, 0, 2 * 70 * 1_000_000, 0)
    assert left_share(sums, 1_400) == Fraction(45, 100)
    assert left_share(CornerSums(1, 0, 0, 0), 1_400) == Fraction(1, 2)
