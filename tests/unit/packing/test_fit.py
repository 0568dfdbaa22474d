"""Parts in places: to the millimetre, turned as they may be."""

from __future__ import annotations

from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from bomplan.packing import best_fit, pieces_at_most

sides = st.tuples(st.integers(1, 60), st.integers(1, 60), st.integers(1, 60))


def test_a_part_turns_about_the_vertical_and_not_on_its_side() -> None:
    assert best_fit((300, 200, 100), (200, 300, 100)).spare_mm == 0
    assert best_fit((300, 200, 100), (300, 100, 200)).spare_mm == -100
    assert best_fit((300, 200, 100), (300, 100, 200), any_way_up=True).spare_mm == 0


def test_clearance_counts_at_both_ends_and_the_tightest_direction_is_told() -> None:
    fit = best_fit((300, 200, 100), (350, 260, 145), 20)
    assert (fit.needs_mm, fit.room_mm, fit.spare_mm) == (140, 145, 5)
    assert best_fit((300, 200, 100), (350, 260, 139), 20).spare_mm == -1


@given(sides, sides, st.integers(0, 5))
def test_one_piece_fits_exactly_where_nothing_is_missing(part, room, clear) -> None:
    for any_way_up in (False, True):
        fits = best_fit(part, room, clear, any_way_up).spare_mm >= 0
        ways = permutations(part) if any_way_up else [part, (part[1], part[0], part[2])]
        assert fits == any(
            all(side + 2 * clear <= there for side, there in zip(way, room, strict=True))
            for way in ways
        )
        assert (pieces_at_most(part, room, clear, any_way_up) >= 1) == fits


def test_several_pieces_keep_their_distance() -> None:
    assert pieces_at_most((60, 50, 70), (130, 50, 70), 0) == 2
    assert pieces_at_most((60, 50, 70), (130, 60, 80), 5) == 1
    assert pieces_at_most((60, 50, 70), (135, 60, 80), 5) == 2
