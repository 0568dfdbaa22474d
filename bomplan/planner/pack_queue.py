"""The packs of one drive in the order of their keys, looked at no further than they are asked for.

They stand in the order of a coarse key, by price alone. A closer key is higher and takes time, so
it is found for those alone whose coarse key is not above what is asked; a pack is handed out when
no other can have a lesser key.
"""

from __future__ import annotations

import heapq

import numpy as np
import numpy.typing as npt

from bomplan.planner.bill_bound import BEYOND
from bomplan.planner.pack_keys import PackKeys
from bomplan.planner.screen import Screened

IntArray = npt.NDArray[np.int64]
TOGETHER = 32  # packs looked at together
BLOCK = 512  # packs handed out together at most
NEAR = 8  # and those alone whose keys are above the first by no more than one part in so many


class PackQueue:
    """One drive's packs by place in their coarse order."""

    def __init__(
        self,
        order: IntArray,
        coarse: IntArray,
        beside: IntArray,
        lifts: IntArray | None,
        keys: PackKeys,
        drive: IntArray | None = None,
    ) -> None:
        """By place: the packs and their ``coarse`` keys, which must not fall.

        ``beside`` is what each comes to without what its pack brings beside its modules; of that,
        ``lifts`` is what comes on top of the bill. Instead it may be without what the ``drive``
        brings too, told by sets of suppliers: pack and drive are bought from the same.
        """
        self.order, self.lifts = order, lifts
        self._coarse, self._beside, self._keys = coarse, beside, keys
        self._drive = drive
        self._seen = 0
        self._heap: list[tuple[int, int]] = []

    def next_key(self, screened: Screened) -> int | None:
        """A bound on the keys of all that are left, and that of one; None if none is left."""
        while self._seen < len(self.order):
            if self._heap and self._heap[0][0] <= self._coarse[self._seen]:
                break
            self._look(screened)
        return self._heap[0][0] if self._heap else None

    def take(self, screened: Screened, most: int | None) -> list[tuple[int, int]]:
        """The next packs' keys and places, in the order of keys; none above ``most``."""
        first = self.next_key(screened)
        if first is None:
            return []
        limit = first + first // NEAR
        if most is not None:
            limit = max(first, min(limit, most))
        while self._seen < len(self.order) and self._coarse[self._seen] <= limit:
            self._look(screened)
        found: list[tuple[int, int]] = []
        while self._heap and self._heap[0][0] <= limit and len(found) < BLOCK:
            found.append(heapq.heappop(self._heap))
        return found

    def _look(self, screened: Screened) -> None:
        """Find the keys of the next few; those that fall are counted."""
        some = slice(self._seen, self._seen + TOGETHER)
        packs, first = self.order[some].tolist(), self._seen
        self._seen += len(packs)
        told = self._told(packs)
        keys = np.maximum(self._coarse[some], self._beside[some] + told)
        for place, (pack, key, own) in enumerate(
            zip(packs, keys.tolist(), told.tolist(), strict=True), start=first
        ):
            if own >= BEYOND:
                missing = self._keys.fallen[pack]
                screened.keep(missing.nearest, missing.name)
                screened.count(missing.name)
            else:
                heapq.heappush(self._heap, (key, place))

    def _told(self, packs: list[int]) -> IntArray:
        """What comes on top of ``beside`` with each of these packs."""
        if self._drive is None:
            return np.array([self._keys.known(pack) for pack in packs], dtype=np.int64)
        by_set = np.array([self._keys.by_set(pack) for pack in packs], dtype=np.int64)
        together: IntArray = np.minimum((by_set + self._drive).min(axis=1), BEYOND)
        # That nobody sells both is told when the pack is judged: until then its coarse key does.
        stands = np.array([pack not in self._keys.fallen for pack in packs])
        together[stands & (together >= BEYOND)] = 0
        return together


__all__ = ["BLOCK", "PackQueue"]
