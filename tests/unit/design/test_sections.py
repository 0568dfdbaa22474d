"""The service disconnect cuts a string near its middle, and no board bridges the cut."""

from __future__ import annotations

from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bomplan.design.sections import cut_inside, split_places, unbroken_runs


@pytest.mark.parametrize(
    ("boxes", "breaks", "places"),
    [
        ((1, 3), 1, (3,)),
        ((2, 2), 1, (2,)),
        ((48, 42), 1, (48,)),
        ((18, 4), 1, (9,)),
        ((4, 18), 1, (13,)),
        ((7,), 1, (4,)),
        ((8, 8, 8), 1, (8,)),
        ((1,), 1, ()),
        ((7,), 0, ()),
        ((7,), 2, (3, 5)),
        ((1,), 3, ()),
    ],
)
def test_where_disconnects_cut(
    boxes: tuple[int, ...], breaks: int, places: tuple[int, ...]
) -> None:
    assert split_places(boxes, breaks) == places


def test_a_string_of_nothing_has_no_place() -> None:
    for boxes, breaks in (((0,), 1), ((3,), -1)):
        with pytest.raises(ValueError, match="at least one place"):
            split_places(boxes, breaks)


@given(boxes=st.lists(st.integers(1, 40), min_size=1, max_size=5))
def test_the_runs_of_the_boxes_are_what_the_disconnect_leaves(boxes: list[int]) -> None:
    series = sum(boxes)
    places = split_places(boxes, 1)
    ends = {0, *accumulate(boxes)}
    breaks = sorted(ends | set(places))
    sections = [b - a for a, b in pairwise(breaks)]
    assert sections == [run for rows in boxes for run in unbroken_runs(rows, series)]
    if series > 1:
        (place,) = places
        assert max(place, series - place) <= 0.8 * series + 1


@given(rows=st.integers(1, 200), others=st.integers(0, 200))
def test_at_most_one_box_is_cut_and_only_one_that_holds_most(rows: int, others: int) -> None:
    cut = cut_inside(rows, rows + others)
    if cut is not None:
        assert rows > others
        assert 0 < cut < rows
        assert abs(2 * cut - rows) <= 1
    elif others == 0:
        assert rows == 1
