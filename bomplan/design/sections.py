"""Where the service disconnect cuts a string, and the unbroken runs that are left in a box.

The place follows from the number of series places in a box and in the whole string alone, so
that a bill can be counted box by box. Common practice: as near to the middle as may be, for
the largest section decides how many volts stay together when the disconnect is out.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from typing import Final

# A box is cut inside, where the disconnect needs bars of its own, only when it holds more than
# this share of the larger half of the string (common practice).
_NEAR_ENOUGH: Final = (6, 5)


def cut_inside(rows: int, series: int) -> int | None:
    """After how many places of a box its string is cut there; None: at a gap between boxes.

    Only a box that holds more than three fifths of the string is cut, in its own middle.
    """
    over, under = _NEAR_ENOUGH
    if rows < 2 or under * rows <= over * -(-series // 2):
        return None
    return -(-rows // 2)


def unbroken_runs(rows: int, series: int) -> tuple[int, ...]:
    """Series places of a box that no fuse, box wall or disconnect parts: one run or two."""
    cut = cut_inside(rows, series)
    return (rows,) if cut is None else (cut, rows - cut)


def split_places(boxes: Sequence[int], breaks: int) -> tuple[int, ...]:
    """After how many series places each of ``breaks`` disconnects cuts a string.

    ``boxes``: places in each box, in the order of the string. One disconnect goes into the
    middle of a box that holds most of the string, or to the gap nearest to the middle. More
    than one (a typed list) leave sections as equal as may be.
    """
    series = sum(boxes)
    if breaks < 0 or series < 1 or min(boxes) < 1:
        raise ValueError("breaks cannot be below 0, and each box has at least one place")
    if breaks == 1:
        ends = list(accumulate(boxes))
        for rows, end in zip(boxes, ends, strict=True):
            cut = cut_inside(rows, series)
            if cut is not None:
                return (end - rows + cut,)
        return tuple(sorted(ends[:-1], key=lambda gap: (max(gap, series - gap), gap))[:1])
    sections = min(breaks + 1, series)
    base, extra = divmod(series, sections)
    sizes = [base + 1] * extra + [base] * (sections - extra)
    return tuple(accumulate(sizes))[:-1]
