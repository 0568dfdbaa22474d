"""The least that so many pieces of a part can cost, from any set of suppliers, landed.

Lower bounds in whole smallest units: goods with their duty, tax and exchange, rounded down;
shipping is left out. Where a line may be split over suppliers, the bound is the least over all
splits, each share at its own envelope price.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from bomplan.buying.prices import PriceBook, Source
from bomplan.catalog.records import Part

# Beyond so many pieces a split is bounded by the least price of a single piece.
MOST_PIECES: Final = 4096
_BEYOND: Final = 1 << 61

Costs = npt.NDArray[np.int64]


class Envelope:
    """Bounds for every part of one price book; keeps what it found."""

    def __init__(self, prices: PriceBook, split: bool) -> None:
        self._prices = prices
        self._split = split
        self._single: dict[tuple[str, str, int], int | None] = {}
        self._tables: dict[tuple[str, tuple[str, ...]], Costs] = {}

    def least(self, part: Part, needed: int, allowed: frozenset[str] | None = None) -> int | None:
        """The least price of ``needed`` pieces from these suppliers (None: from any).

        ``""`` among them stands for the list price. None if they cannot deliver so many;
        what is not needed costs nothing.
        """
        if needed <= 0:
            return 0
        each = self._prices.list_price(part)
        if each is not None:
            return each * needed if allowed is None or "" in allowed else None
        sources = tuple(
            source
            for source in self._prices.sources(part)
            if allowed is None or source.supplier in allowed
        )
        singles = [self._alone(source, needed) for source in sources]
        least = min((price for price in singles if price is not None), default=None)
        if not self._split or len(sources) < 2 or needed < 2:
            return least
        if needed > MOST_PIECES:
            return self._per_piece(sources, needed)
        shared = int(self._table(sources, needed)[needed])
        return None if shared >= _BEYOND else shared

    def _alone(self, source: Source, needed: int) -> int | None:
        key = (source.part, source.supplier, needed)
        if key not in self._single:
            lot = source.cheapest(needed)
            terms = self._prices.terms_of(source)
            self._single[key] = None if lot is None else terms.least(lot.price)
        return self._single[key]

    def _per_piece(self, sources: tuple[Source, ...], needed: int) -> int | None:
        stocks = [source.stock for source in sources]
        if None not in stocks and sum(stock or 0 for stock in stocks) < needed:
            return None
        return min(
            self._prices.terms_of(source).least(needed * min(s.unit_price for s in source.steps))
            for source in sources
        )

    def _table(self, sources: tuple[Source, ...], needed: int) -> Costs:
        """Least cost of 0 pieces, of 1, of 2 and so on, at least as far as ``needed``."""
        key = (sources[0].part, tuple(source.supplier for source in sources))
        known = self._tables.get(key)
        if known is not None and len(known) > needed:
            return known
        most = 1 << needed.bit_length()
        found = self._costs(sources[0], most)
        for source in sources[1:]:
            found = _least_sums(found, self._costs(source, most))
        self._tables[key] = found
        return found

    def _costs(self, source: Source, most: int) -> Costs:
        costs = [self._alone(source, pieces) for pieces in range(1, most + 1)]
        return np.array([0, *(_BEYOND if cost is None else cost for cost in costs)], dtype=np.int64)


def _least_sums(first: Costs, second: Costs) -> Costs:
    """For every number of pieces the least sum over its splits in two."""
    found = np.full(len(first), _BEYOND, dtype=np.int64)
    for here, cost in enumerate(first.tolist()):
        if cost < _BEYOND:
            np.minimum(found[here:], second[: len(second) - here] + cost, out=found[here:])
    return found
