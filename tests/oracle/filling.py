"""The most pieces that fill a grid of cells, by trying everything."""

from __future__ import annotations


def most_pieces(masks: dict[int, list[int]], taken: int = 0) -> int:
    """The optimum by filling the first free cell with every choice, waste included.

    ``masks[cell]`` are the pieces that begin in a cell, each as the bits of the cells that it
    takes; ``taken`` the cells that are no room.
    """
    full = (1 << len(masks)) - 1
    known: dict[int, int] = {}

    def best(taken: int) -> int:
        if taken == full:
            return 0
        if taken not in known:
            free = ~taken & full
            at = (free & -free).bit_length() - 1
            value = best(taken | (1 << at))
            for mask in masks[at]:
                if not mask & taken:
                    value = max(value, 1 + best(taken | mask))
            known[taken] = value
        return known[taken]

    return best(taken)
