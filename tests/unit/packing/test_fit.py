"""Parts in places: to the millimetre, turned as they may be."""

from __future__ import annotations

from itertools import permutations, product

from hypothesis import given
from hypothesis import strategies as st

from bomplan.packing import MOST_TOGETHER, best_fit, best_together, pieces_at_most

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


little = st.tuples(st.integers(1, 4), st.integers(1, 4), st.integers(1, 3))


@given(little, little, st.tuples(st.integers(1, 6), st.integers(1, 6), st.integers(1, 4)),
       st.booleans())  # fmt: skip
def test_two_different_parts_fit_exactly_where_two_boxes_do(one, other, room, any_way_up) -> None:
    """Against every pair of corners: two boxes that are apart can be parted by one cut."""
    groups = ((one, 2),) if one == other else ((one, 1), (other, 1))
    fit = best_together(groups, room, 0, any_way_up)
    assert fit is not None
    assert (fit.spare_mm >= 0) == any(
        all(0 <= a <= side - size for a, side, size in zip(at, room, box, strict=True))
        and any(p + s <= q or q + t <= p for p, s, q, t in zip(at, box, there, beside, strict=True))
        for box in _turned(one, any_way_up)
        for at in _corners(room, box)
        for beside in _turned(other, any_way_up)
        for there in _corners(room, beside)
    )


def _turned(part, any_way_up):
    return set(permutations(part)) if any_way_up else {part, (part[1], part[0], part[2])}


def _corners(room, box):
    return product(*(range(side - size + 1) for side, size in zip(room, box, strict=True)))


def test_parts_together_keep_their_distance_to_each_other_and_to_the_walls() -> None:
    charger, converter = ((300, 200, 100), 1), ((150, 100, 50), 1)
    assert best_together((charger, converter), (460, 240, 140), 20).spare_mm == 0
    assert best_together((charger, converter), (459, 240, 140), 20).spare_mm == -1
    # on top of each other, 20 mm apart
    assert best_together((charger, converter), (340, 240, 210), 20).spare_mm == 0
    assert best_together((((60, 50, 70), 2), ((40, 40, 40), 3)), (180, 100, 70)).spare_mm >= 0
    assert best_together((((60, 50, 70), MOST_TOGETHER + 1),), (9000, 900, 900)) is None


@given(st.lists(little, min_size=2, max_size=4), little)
def test_one_more_part_never_leaves_more_room(parts, more) -> None:
    def fit(some):
        kinds = sorted(set(some))
        return best_together(tuple((kind, some.count(kind)) for kind in kinds), (9, 9, 9)).spare_mm

    assert fit([*parts, more]) <= fit(parts)
