"""Whether different parts go into one place together, by straight cuts, and what is to spare."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import permutations, product

from bomplan.packing.fit import Fit, Sides

MOST_TOGETHER = 5
"""Above so many pieces no arrangement is looked for."""

Group = tuple[Sides, int]
"""Sides of a part, and how many of it."""


@lru_cache(maxsize=65536)
def best_together(
    groups: tuple[Group, ...], room: Sides, clear_mm: int = 0, any_way_up: bool = False
) -> Fit | None:
    """How several parts go into a room in the way that leaves most in its tightest direction.

    Each part may be turned as :func:`bomplan.packing.fit.best_fit` turns it, and ``clear_mm``
    is kept to the walls and between parts. Looked for are arrangements that straight cuts can
    take apart: beside one another, behind, on top, and such groups again. Parts that fit only
    interlocked are not found. None for more than ``MOST_TOGETHER`` pieces, or none at all.
    """
    kinds = tuple(sorted(groups))
    if not 0 < sum(count for _, count in kinds) <= MOST_TOGETHER:
        return None
    return max(
        (
            min(
                (Fit(side + 2 * clear_mm, there) for side, there in zip(box, room, strict=True)),
                key=lambda fit: fit.spare_mm,
            )
            for box in _boxes(
                tuple(sides for sides, _ in kinds),
                tuple(count for _, count in kinds),
                clear_mm,
                any_way_up,
            )
        ),
        key=lambda fit: fit.spare_mm,
    )


@lru_cache(maxsize=65536)
def _boxes(
    kinds: tuple[Sides, ...], counts: tuple[int, ...], clear_mm: int, any_way_up: bool
) -> tuple[Sides, ...]:
    """The boxes around all these parts of which none is within another."""
    if sum(counts) == 1:
        length, width, height = kinds[counts.index(1)]
        if any_way_up:
            return _least(permutations((length, width, height)))  # type: ignore[arg-type]
        return _least(iter([(length, width, height), (width, length, height)]))
    return _least(_joined(kinds, counts, clear_mm, any_way_up))


def _joined(
    kinds: tuple[Sides, ...], counts: tuple[int, ...], clear_mm: int, any_way_up: bool
) -> Iterator[Sides]:
    for some in product(*(range(count + 1) for count in counts)):
        rest = tuple(whole - part for whole, part in zip(counts, some, strict=True))
        if not 0 < sum(some) < sum(counts) or some > rest:
            continue
        for one, other in product(
            _boxes(kinds, some, clear_mm, any_way_up), _boxes(kinds, rest, clear_mm, any_way_up)
        ):
            for axis in range(3):
                sides = [max(a, b) for a, b in zip(one, other, strict=True)]
                sides[axis] = one[axis] + other[axis] + clear_mm
                yield sides[0], sides[1], sides[2]


def _least(boxes: Iterator[Sides]) -> tuple[Sides, ...]:
    kept: list[Sides] = []
    for box in sorted(set(boxes)):
        if not any(all(a <= b for a, b in zip(one, box, strict=True)) for one in kept):
            kept.append(box)
    return tuple(kept)
