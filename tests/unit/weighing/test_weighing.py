"""Masses, limits, corners and tyres."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bomplan.weighing import (
    Mass,
    Moments,
    PlacedMass,
    allowed_axle_g,
    allowed_gross_g,
    axle_limits_cover_gross,
    axle_loads_exact,
    axle_loads_of,
    axle_moments,
    axle_tyre_load_g,
    base_from_weighing,
    centre_of_gravity_mm,
    chassis_hint,
    corner_loads,
    load_of_index_kg,
    missing_mass,
    parse_tyre,
    rollover_ratio,
    shown_least_load_g,
    shown_load_g,
    three_wheel_rollover_ratio,
)


def test_axle_moments_are_whole_and_loads_sum_up_exactly():
    masses = [Mass("a", 10_001, 333), Mass("b", 7, -55), Mass("c", 123_457, 2_999)]
    front, rear = axle_moments(masses, 2_600)
    assert front + rear == (10_001 + 7 + 123_457) * 2_600
    loads = axle_loads_exact(masses, 2_600)
    assert loads.front_g == Fraction(front, 2_600)
    assert loads.total_g == 133_465
    assert loads.front_share + loads.rear_g / loads.total_g == 1


def test_mass_behind_the_rear_axle_lifts_the_front():
    loads = axle_loads_exact([Mass("tow bar", 30_000, 3_250)], 2_600)
    assert loads.front_g == -7_500
    assert loads.rear_g == 37_500
    ahead = axle_loads_exact([Mass("bumper", 26_000, -260)], 2_600)
    assert (ahead.front_g, ahead.rear_g) == (28_600, -2_600)


def test_donor_without_fuel_people_and_engine():
    base = base_from_weighing(
        600_000,
        400_000,
        2_500,
        in_it=[Mass("fuel", 33_000, 2_900), Mass("driver", 80_000, 1_200)],
        removed=[Mass("engine", 120_000, -100)],
    )
    assert base == Moments(
        1_000_000 - 33_000 - 80_000 - 120_000,
        400_000 * 2_500 - 33_000 * 2_900 - 80_000 * 1_200 + 120_000 * 100,
    )
    loads = axle_loads_of(base, 2_500)
    assert loads.rear_g == 400_000 - Fraction(33_000 * 2_900 + 80_000 * 1_200 - 12_000_000, 2_500)


def test_shown_loads_round_to_their_own_disadvantage():
    assert shown_load_g(Fraction(10, 3)) == 4
    assert shown_load_g(Fraction(3)) == 3
    assert shown_least_load_g(Fraction(10, 3)) == 3


def test_scale_difference_is_placed_where_it_explains_both_axles():
    weighed = base_from_weighing(600_000 + 5_000, 400_000, 2_500)
    planned = base_from_weighing(600_000, 400_000, 2_500)
    assert missing_mass(planned, weighed) == (5_000, 0)
    rear_heavy = base_from_weighing(600_000, 412_000, 2_500)
    assert missing_mass(planned, rear_heavy) == (12_000, 2_500)
    assert missing_mass(planned, planned) == (0, None)


@pytest.mark.parametrize(
    ("limit", "fraction", "fixed", "spread", "allowed"),
    [
        (1_000_000, 0.03, 25_000, 10_000, 970_000),  # 3 % is the greatest
        (500_000, 0.03, 25_000, 10_000, 475_000),  # 25 kg is the greatest
        (500_000, 0.03, 25_000, 40_000, 460_000),  # the weighing's spread is
        (850_001, 0.03, 0, 0, 850_001 - 25_501),  # rounded up to the gram
        (850_000, 0.03, 0, 0, 850_000 - 25_500),  # and not beyond it
        (850_000, 0.0, 0, 0, 850_000),
    ],
)
def test_allowed_axle_load(limit, fraction, fixed, spread, allowed):
    assert allowed_axle_g(limit, fraction, fixed, spread) == allowed


def test_gross_limit_and_plate():
    assert allowed_gross_g(1_500_000, 0.01) == 1_485_000
    assert axle_limits_cover_gross(700_000, 800_000, 1_500_000)
    assert not axle_limits_cover_gross(700_000, 799_999, 1_500_000)


def test_chassis_hint_thresholds():
    assert not chassis_hint(500_000, 550_000).springs
    more = chassis_hint(500_000, 550_001)
    assert more.springs
    assert not more.dampers
    assert chassis_hint(500_000, 580_000).dampers
    less = chassis_hint(500_000, 400_000)
    assert (less.change_g, less.change_share, less.springs) == (-100_000, Fraction(-1, 5), False)
    with pytest.raises(ValueError, match="above 0"):
        chassis_hint(0, 1)


def test_corner_loads_split_by_place():
    loads = corner_loads([PlacedMass("pack", 100_000, 2_000, 350)], 2_500, 1_400, 1_400)
    assert loads.rear_left_g + loads.rear_right_g == 80_000
    assert loads.rear_right_g == 60_000
    assert loads.left_share == Fraction(1, 4)
    with pytest.raises(ValueError, match="above 0"):
        corner_loads([], 2_500, 0, 1_400)


def test_rollover_ratio():
    assert rollover_ratio(1_500, 500) == 1.5


@pytest.mark.parametrize(
    ("track", "length", "behind", "height"), [(1_300, 2_000, 1_400, 600), (900, 1_500, 400, 350)]
)
def test_three_wheels_tip_where_the_moments_about_the_line_balance(track, length, behind, height):
    """Vectors: weight and sideways pull at the centre, about the line through two contacts."""
    ratio = three_wheel_rollover_ratio(track, length, behind, height)
    along = (length, track / 2, 0.0)  # from the single wheel to the one on the right
    arm = (behind, 0.0, height)
    pull = (0.0, ratio, -1.0)
    moment = (
        arm[1] * pull[2] - arm[2] * pull[1],
        arm[2] * pull[0] - arm[0] * pull[2],
        arm[0] * pull[1] - arm[1] * pull[0],
    )
    about = sum(a * m for a, m in zip(along, moment, strict=True))
    assert about == pytest.approx(0.0, abs=1e-6 * length * height)
    # At the pair's own axle it is as steady as four wheels, at the single wheel not at all.
    assert three_wheel_rollover_ratio(track, length, length, height) == rollover_ratio(
        track, height
    )
    assert three_wheel_rollover_ratio(track, length, -10, height) == 0
    with pytest.raises(ValueError, match="wheelbase"):
        three_wheel_rollover_ratio(track, 0, behind, height)


@pytest.mark.parametrize("wheelbase", [0, -1])
def test_wheelbase_must_be_positive(wheelbase):
    for call in (
        lambda: axle_loads_exact([], wheelbase),
        lambda: base_from_weighing(1, 1, wheelbase),
    ):
        with pytest.raises(ValueError, match="wheelbase"):
            call()
    with pytest.raises(ValueError, match="no mass"):
        centre_of_gravity_mm(Moments(0, 0))


def test_tyre_designations():
    tyre = parse_tyre("185/65 R15 88H")
    assert (tyre.width_mm, tyre.aspect_percent, tyre.rim_in) == (185, 65, 15.0)
    assert (tyre.load_index, tyre.load_kg, tyre.speed_symbol, tyre.speed_kmh) == (88, 560, "H", 210)
    assert tyre.radial
    assert tyre.free_diameter_mm == pytest.approx(381 + 2 * 120.25)
    van = parse_tyre("195/70 R15C 104/102R")
    assert (van.load_kg, van.twin_load_kg) == (900, 850)
    bike = parse_tyre("130/70-17 M/C 62H")
    assert (bike.radial, bike.load_kg) == (False, 265)
    assert parse_tyre("205/55r16 91v").load_kg == 615


@pytest.mark.parametrize(
    "text", ["", "185/65 R15", "3.00-18 47P", "185/65 R15 88X", "about 185/65 R15 88H"]
)
def test_other_writing_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match="185/65 R15 88H"):
        parse_tyre(text)


def test_tyres_of_an_axle():
    assert axle_tyre_load_g(parse_tyre("185/65 R15 88H")) == 1_120_000
    assert axle_tyre_load_g(parse_tyre("130/70-17 62H"), 1) == 265_000
    assert axle_tyre_load_g(parse_tyre("195/70 R15C 104/102R"), 4) == 3_400_000
    with pytest.raises(ValueError, match="at least one"):
        axle_tyre_load_g(parse_tyre("185/65 R15 88H"), 0)


def test_load_index_table_grows_by_about_three_per_cent():
    loads = [load_of_index_kg(index) for index in range(30, 131)]
    for index, load in zip(range(30, 131), loads, strict=True):
        # the series behind the table: 80 steps to a factor of ten, 100 kg at index 28
        assert load == pytest.approx(100 * 10 ** ((index - 28) / 80), rel=0.02)
    assert loads == sorted(set(loads))
    with pytest.raises(ValueError, match="outside the table"):
        load_of_index_kg(131)
