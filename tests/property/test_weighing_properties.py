"""What must hold for every set of masses."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from bomplan.weighing import (
    Mass,
    PlacedMass,
    allowed_axle_g,
    axle_loads_exact,
    axle_loads_of,
    base_from_weighing,
    corner_loads,
    corner_loads_of,
    corner_sums,
    missing_mass,
    moments,
    sums_of_readings,
)

mass = st.builds(Mass, st.just("m"), st.integers(0, 800_000), st.integers(-1_500, 5_000))
wheelbases = st.integers(1_000, 4_500)


@given(st.lists(mass, max_size=12), wheelbases)
def test_axles_carry_every_gram_once(masses, wheelbase):
    loads = axle_loads_exact(masses, wheelbase)
    assert loads.front_g + loads.rear_g == sum(m.mass_g for m in masses)
    assert loads.rear_g * wheelbase == sum(m.mass_g * m.x_mm for m in masses)


@given(st.lists(mass, max_size=6), st.lists(mass, max_size=6), wheelbases)
def test_weighing_and_taking_out_invert_each_other(kept, removed, wheelbase):
    loads = axle_loads_exact([*kept, *removed], wheelbase)
    # exact scales: read in units of 1/wheelbase of a gram
    front, rear = loads.front_g * wheelbase, loads.rear_g * wheelbase
    scaled = [Mass(m.name, m.mass_g * wheelbase, m.x_mm) for m in removed]
    base = base_from_weighing(int(front), int(rear), wheelbase, removed=scaled)
    assert base.mass_g == wheelbase * sum(m.mass_g for m in kept)
    assert base.moment_gmm == wheelbase * sum(m.mass_g * m.x_mm for m in kept)


@given(mass, mass, wheelbases)
def test_moving_a_mass_back_loads_the_rear(first, second, wheelbase):
    near, far = sorted((first, second), key=lambda m: m.x_mm)
    there = Mass("m", near.mass_g, far.x_mm)
    before = axle_loads_exact([near], wheelbase)
    after = axle_loads_exact([there], wheelbase)
    assert after.rear_g >= before.rear_g
    assert after.front_g <= before.front_g


@given(st.lists(mass, max_size=6), mass, wheelbases)
def test_a_forgotten_part_is_found_where_it_sits(masses, forgotten, wheelbase):
    planned = moments(masses)
    weighed = moments([*masses, forgotten])
    grams, place = missing_mass(planned, weighed)
    assert grams == forgotten.mass_g
    if grams:
        assert place == forgotten.x_mm
    assert axle_loads_of(weighed, wheelbase).total_g - forgotten.mass_g == planned.mass_g


@given(
    st.integers(100_000, 3_000_000),
    st.floats(0, 0.2),
    st.integers(0, 60_000),
    st.integers(0, 60_000),
)
def test_every_margin_is_kept(limit, fraction, fixed, spread):
    allowed = allowed_axle_g(limit, fraction, fixed, spread)
    assert limit - allowed >= max(fixed, spread)
    assert limit - allowed >= Fraction(str(fraction)) * limit
    assert limit - allowed < max(fixed, spread, Fraction(str(fraction)) * limit + 1) + 1


placed = st.builds(
    PlacedMass,
    st.just("m"),
    st.integers(0, 500_000),
    st.integers(-1_000, 4_000),
    st.integers(-900, 900),
)


@given(st.lists(placed, min_size=1, max_size=8), wheelbases, st.integers(900, 1_800))
def test_corners_add_up_to_the_axles(masses, wheelbase, track):
    corners = corner_loads(masses, wheelbase, track, track)
    loads = axle_loads_exact([Mass(m.name, m.mass_g, m.x_mm) for m in masses], wheelbase)
    assert corners.front_left_g + corners.front_right_g == loads.front_g
    assert corners.rear_left_g + corners.rear_right_g == loads.rear_g


placed = st.builds(
    PlacedMass, st.just("m"), st.integers(0, 800_000), st.integers(-1_500, 5_000),
    st.integers(-900, 900),
)  # fmt: skip
tracks = st.integers(900, 1_900)


@given(st.lists(placed, max_size=8), wheelbases, tracks, tracks)
def test_four_sums_say_what_each_mass_by_itself_says(masses, wheelbase, front, rear):
    by_mass = corner_loads(masses, wheelbase, front, rear)
    assert corner_loads_of(corner_sums(masses), wheelbase, front, rear) == by_mass


@given(st.tuples(*[st.integers(0, 900_000)] * 4), wheelbases, tracks, tracks)
def test_corner_readings_come_back_as_they_were_read(readings, wheelbase, front, rear):
    sums = sums_of_readings(readings, wheelbase, front, rear)
    found = corner_loads_of(sums, wheelbase, front, rear)
    four = (found.front_left_g, found.front_right_g, found.rear_left_g, found.rear_right_g)
    assert four == readings


@given(st.lists(placed, max_size=5), st.lists(placed, max_size=5))
def test_what_is_added_and_taken_off_again_leaves_nothing(first, second):
    together = corner_sums([*first, *second])
    assert together == corner_sums(first).plus(corner_sums(second))
    assert together.minus(corner_sums(second)) == corner_sums(first)
