"""Published optima of the manufacturer's pallet loading problem.

The instances are those of the Cover II literature: G. M. Lins, S. Lins and R. Morabito, "An
L-approach for packing (l, w)-rectangles into rectangular and L-shaped pieces", J. Operational
Research Society 54 (2003) 777-789; E. G. Birgin, R. Lobato and R. Morabito, "An effective
recursive partitioning approach for the packing of identical rectangles in a rectangle", JORS
61 (2010) 306-320; reviewed by E. Silva, J. F. Oliveira and G. Wascher, Intl. Trans. in Op.
Res. 23 (2016) 147-172 (the list from memory; that five blocks give 56 and the L-approach 57
on (49, 28, 8, 3) was seen in print). Each optimum asserted here was proven independently: by
a layout that meets the area bound, or by a proof that one more rectangle cannot stand.
"""

from __future__ import annotations

import pytest

from bomplan.packing.bounds import rectangles_at_most
from bomplan.packing.layers import DEFAULT_PROOF_EFFORT
from bomplan.packing.rectangle import RectanglePacking, pack_rectangle

MEETS_BOUND = [
    (14, 10, 3, 2, 23),
    (22, 16, 5, 3, 23),
    (30, 22, 7, 4, 23),
    (50, 36, 11, 7, 23),
    (53, 51, 9, 7, 42),
    (86, 82, 15, 11, 42),
    (40, 25, 7, 3, 47),
    (52, 33, 9, 4, 47),
    (56, 52, 12, 5, 48),
    (42, 39, 9, 4, 45),
    (1000, 1000, 205, 159, 30),
    (1000, 1000, 200, 150, 33),
]
ONE_BELOW_BOUND = [
    (34, 23, 5, 4, 38),
    (100, 64, 17, 10, 36),
    (32, 22, 5, 4, 34),
    (32, 27, 5, 4, 42),
    (40, 26, 7, 4, 36),
]
FIVE_BLOCK_ONE_SHORT = [
    (43, 26, 7, 3, 53),
    (49, 28, 8, 3, 57),
    (63, 44, 8, 5, 69),
    (67, 37, 11, 3, 75),
    (61, 38, 10, 3, 77),
    (61, 38, 6, 5, 77),
    (93, 46, 13, 4, 82),
    (74, 46, 7, 5, 97),
]
FIVE_BLOCK_SHORT_OF_MORE = [(86, 52, 9, 5, 99), (106, 59, 13, 5, 96), (141, 71, 13, 8, 96)]


def assert_sound(found: RectanglePacking, length: int, width: int, long: int, short: int) -> None:
    """Inside, whole, and no two rectangles on the same unit square."""
    taken: set[tuple[int, int]] = set()
    for x, y, upright in found.placed:
        dx, dy = (short, long) if upright else (long, short)
        assert 0 <= x <= length - dx
        assert 0 <= y <= width - dy
        squares = {(a, b) for a in range(x, x + dx) for b in range(y, y + dy)}
        assert not squares & taken
        taken |= squares
    assert len(taken) == found.count * long * short


@pytest.mark.parametrize(("length", "width", "long", "short", "optimum"), MEETS_BOUND)
def test_five_blocks_reach_and_prove_the_optimum(length, width, long, short, optimum):
    found = pack_rectangle(length, width, long, short)
    assert (found.count, found.exact) == (optimum, True)
    assert found.bound == optimum
    assert_sound(found, length, width, long, short)


@pytest.mark.parametrize(("length", "width", "long", "short", "optimum"), ONE_BELOW_BOUND)
def test_five_blocks_reach_optima_below_the_bound(length, width, long, short, optimum):
    found = pack_rectangle(length, width, long, short)
    assert (found.count, found.exact, found.bound) == (optimum, False, optimum + 1)
    assert_sound(found, length, width, long, short)


@pytest.mark.parametrize(
    ("length", "width", "long", "short", "optimum"),
    [row for row in ONE_BELOW_BOUND if row != (32, 27, 5, 4, 42)],
)
def test_the_solver_excludes_one_more(length, width, long, short, optimum):
    found = pack_rectangle(length, width, long, short, proof_effort=2.0)
    assert (found.count, found.exact) == (optimum, True)
    assert_sound(found, length, width, long, short)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("length", "width", "long", "short", "optimum"),
    [(32, 27, 5, 4, 42), (53, 26, 7, 4, 48)],
)
def test_the_solver_excludes_one_more_with_patience(length, width, long, short, optimum):
    found = pack_rectangle(length, width, long, short, proof_effort=120.0)
    assert (found.count, found.exact) == (optimum, True)
    assert_sound(found, length, width, long, short)


@pytest.mark.parametrize(("length", "width", "long", "short", "optimum"), FIVE_BLOCK_ONE_SHORT)
def test_five_blocks_land_one_short_on_the_hard_instances(length, width, long, short, optimum):
    found = pack_rectangle(length, width, long, short)
    assert (found.count, found.exact, found.bound) == (optimum - 1, False, optimum)
    assert_sound(found, length, width, long, short)


@pytest.mark.parametrize(("length", "width", "long", "short", "optimum"), FIVE_BLOCK_ONE_SHORT[:2])
def test_l_pieces_reach_the_optimum_within_the_usual_effort(length, width, long, short, optimum):
    found = pack_rectangle(length, width, long, short, proof_effort=DEFAULT_PROOF_EFFORT)
    assert (found.count, found.exact) == (optimum, True)
    assert_sound(found, length, width, long, short)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("length", "width", "long", "short", "optimum", "effort"),
    [(*row, 24.0) for row in FIVE_BLOCK_ONE_SHORT[2:] + FIVE_BLOCK_SHORT_OF_MORE[1:]]
    + [(*FIVE_BLOCK_SHORT_OF_MORE[0], 60.0)],
)
def test_l_pieces_reach_every_published_optimum_with_patience(
    length, width, long, short, optimum, effort
):
    found = pack_rectangle(length, width, long, short, proof_effort=effort)
    assert (found.count, found.exact) == (optimum, True)
    assert_sound(found, length, width, long, short)


@pytest.mark.parametrize(("length", "width", "long", "short", "optimum"), FIVE_BLOCK_SHORT_OF_MORE)
def test_five_blocks_land_one_short_on_the_largest_instances(length, width, long, short, optimum):
    found = pack_rectangle(length, width, long, short)
    assert (found.count, found.exact, found.bound) == (optimum - 1, False, optimum)
    assert_sound(found, length, width, long, short)


@pytest.mark.parametrize(
    ("length", "width", "long", "short", "optimum"),
    MEETS_BOUND + ONE_BELOW_BOUND + FIVE_BLOCK_ONE_SHORT + FIVE_BLOCK_SHORT_OF_MORE,
)
def test_bound_is_never_below_an_optimum(length, width, long, short, optimum):
    assert optimum <= rectangles_at_most(length, width, long, short) <= optimum + 1
