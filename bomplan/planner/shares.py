"""What the packs of drives that drive alike bring to a core at least, before any drive is met.

A pack's share of a bound is the same beside every drive. So the least share of all packs that may
go the distance is found once for all drives that drive alike, and a drive whose own parts come to
too much with it is never looked at.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from bomplan.design.bill.rule import Side
from bomplan.planner.energy import Kin
from bomplan.planner.pack_keys import PackKeys
from bomplan.planner.pack_queue import PackQueue
from bomplan.planner.screen import Screened

IntArray = npt.NDArray[np.int64]


class Shares:
    """The least shares by what drives alike."""

    def __init__(self, keys: PackKeys, pack_keys: IntArray, rest: Mapping[Side, int]) -> None:
        """``pack_keys``: what the modules of each pack come to; ``rest``: of each side what
        every core brings."""
        self._keys, self._pack_keys, self._rest = keys, pack_keys, rest
        self._known: dict[int, tuple[Kin, int | None]] = {}

    def least(self, kin: Kin) -> int | None:
        """What any pack that may brings beside motor and controller; None if no pack may."""
        known = self._known.get(id(kin))
        if known is None:
            known = self._known[id(kin)] = kin, self._found(kin)
        return known[1]

    def _found(self, kin: Kin) -> int | None:
        order = kin.fits[kin.may[kin.fits]]
        own = self._pack_keys[order]
        coarse, beside = own + sum(self._rest.values()), own + self._rest["drive"]
        # What falls is counted when a drive of these comes to it.
        return PackQueue(order, coarse, beside, None, self._keys).next_key(Screened())


__all__ = ["Shares"]
