"""What must hold for every bay and module."""

from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import examples
from oracle.filling import most_pieces

from bomplan.packing import BayBox, ModuleBox, at_most, check_layout, layout, moment_table
from bomplan.packing.bounds import rectangles_at_most
from bomplan.packing.lpieces import LPieces
from bomplan.packing.rectangle import pack_rectangle

STEPS = 3_000

small = st.integers(1, 14)
sides = st.tuples(st.integers(1, 40), st.integers(1, 40), st.integers(2, 14), st.integers(1, 13))
modules = st.builds(
    ModuleBox,
    st.integers(40, 420),
    st.integers(35, 260),
    st.integers(60, 290),
    st.sampled_from(["upright", "upright_or_side", "any"]),
    st.integers(0, 8),
    st.integers(0, 30),
    st.sampled_from([0, 0, 12]),
)
bays = st.builds(BayBox, st.integers(0, 1300), st.integers(0, 1000), st.integers(0, 600))


@settings(max_examples=examples(38, 150), deadline=None)
@given(bays, modules)
def test_layout_can_be_built_and_keeps_the_bound(bay, module):
    found = layout(bay, module, proof_effort=0.0, steps=STEPS)
    assert found.count <= at_most(bay, module)
    volume = module.length_mm * module.width_mm * module.height_mm
    assert found.count * volume <= bay.length_mm * bay.width_mm * bay.height_mm
    if found.count <= 120:
        assert check_layout(bay, module, found) == ()
    assert len(moment_table(found)) == found.count + 1


@settings(max_examples=examples(20, 80), deadline=None)
@given(bays, modules)
def test_swapping_the_bays_sides_changes_nothing(bay, module):
    swapped = BayBox(bay.width_mm, bay.length_mm, bay.height_mm)
    assert at_most(bay, module) == at_most(swapped, module)
    assert (
        layout(bay, module, proof_effort=0.0, steps=STEPS).count
        == layout(swapped, module, proof_effort=0.0, steps=STEPS).count
    )


@settings(max_examples=examples(25, 100), deadline=None)
@given(sides, st.integers(2, 9))
def test_scaling_and_swapping_change_nothing(size, scale):
    length, width, long, short = size
    found = pack_rectangle(length, width, long, short, STEPS)
    assert pack_rectangle(width, length, short, long, STEPS).count == found.count
    scaled = pack_rectangle(scale * length, scale * width, scale * long, scale * short, STEPS)
    assert (scaled.count, scaled.exact, scaled.bound) == (found.count, found.exact, found.bound)


@settings(max_examples=examples(15, 60), deadline=None)
@given(bays, modules, st.integers(1, 20))
def test_more_clearance_never_raises_the_bound(bay, module, extra):
    wider = ModuleBox(
        module.length_mm,
        module.width_mm,
        module.height_mm,
        module.orientation,
        module.gap_mm + extra,
        module.terminal_clearance_mm + extra,
        module.end_plate_mm,
    )
    narrow = layout(bay, module, proof_effort=0.0, steps=STEPS)
    wide = layout(bay, wider, proof_effort=0.0, steps=STEPS)
    # a heuristic count may lag; what is proven may not
    if narrow.exact:
        assert wide.count <= narrow.count
    assert wide.count <= at_most(bay, module)


@settings(max_examples=examples(15, 60), deadline=None)
@given(st.integers(1, 9), st.integers(1, 7), st.integers(1, 4), st.integers(1, 3))
def test_small_rectangles_against_exhaustion(length, width, long, short):
    found = pack_rectangle(length, width, long, short)
    best = exhaustive(length, width, max(long, short), min(long, short))
    assert found.count <= best <= found.bound
    if found.exact:
        assert found.count == best
    assert best <= rectangles_at_most(length, width, max(long, short), min(long, short))


@settings(max_examples=examples(10, 40), deadline=None)
@given(st.integers(4, 9), st.integers(4, 8), st.sampled_from([(3, 2), (4, 3), (5, 2), (4, 1)]))
def test_small_rectangles_with_effort_are_always_settled(length, width, size):
    found = pack_rectangle(length, width, *size, steps=40, proof_effort=1.0)
    assert found.exact
    assert found.count == exhaustive(length, width, *size)


@settings(max_examples=examples(10, 40), deadline=None)
@given(st.integers(8, 40), st.integers(8, 40), st.integers(3, 9), st.integers(2, 8))
def test_l_pieces_place_what_they_count(length, width, first, second):
    long, short = max(first, second), min(first, second)
    grid = max((length // long) * (width // short), (length // short) * (width // long))

    def one_grid(a: int, b: int) -> list[tuple[int, int, int, int]]:
        dx, dy = (long, short)
        if (a // long) * (b // short) < (a // short) * (b // long):
            dx, dy = (short, long)
        return [(i * dx, j * dy, dx, dy) for i in range(a // dx) for j in range(b // dy)]

    boxes = LPieces(length, width, long, short, 3_000, one_grid).pack(length, width, grid + 1)
    assert boxes == [] or len(boxes) >= grid + 1
    taken: set[tuple[int, int]] = set()
    for x, y, dx, dy in boxes:
        assert sorted((dx, dy)) == [short, long]
        assert 0 <= x <= length - dx
        assert 0 <= y <= width - dy
        squares = {(i, j) for i in range(x, x + dx) for j in range(y, y + dy)}
        assert not squares & taken
        taken |= squares


def exhaustive(length: int, width: int, long: int, short: int) -> int:
    """The optimum on unit squares, by trying everything."""
    shapes = {(long, short), (short, long)}
    masks: dict[int, list[int]] = {}
    for x, y in product(range(length), range(width)):
        at = y * length + x
        masks[at] = []
        for dx, dy in sorted(shapes):
            if x + dx <= length and y + dy <= width:
                row = ((1 << dx) - 1) << x
                masks[at].append(sum(row << ((y + k) * length) for k in range(dy)))
    return most_pieces(masks)
