"""Packs for which a family has no row whatever drives them: they fall before drives are joined.

Where a catalogue has no contactor for the voltage, every pack above it falls with every drive.
Most families that read the whole core ask the voltage first, which the pack tells by itself. So a
family that turned one core away is suspected, and packs are asked about it alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from bomplan.design.bill import RULES, Rule
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.judge import Judge
from bomplan.planner.options import CORE, NoOption, lacking_by_pack

IntArray = npt.NDArray[np.int64]
OF_FAMILY = {rule.family: rule for rule in RULES}


class Lacking:
    """What one search knows of its packs by their number; nothing before a family is suspected."""

    def __init__(self, context: Context, judge: Judge, packs: int) -> None:
        self._context, self._judge = context, judge
        self._suspects: list[Rule] = []
        # Of each pack how many suspects it was asked about, and the number of what it lacks.
        self._asked = np.zeros(packs, dtype=np.int64)
        self._lacks = np.full(packs, -1, dtype=np.int64)
        self._found: list[NoOption] = []

    def suspect(self, family: str) -> None:
        """A core was turned away for want of a row of this family."""
        rule = OF_FAMILY[family]
        if rule.side == "currents" and family not in CORE and rule not in self._suspects:
            self._suspects.append(rule)

    def of(self, pack: int, drive: Callable[[int], Drive]) -> NoOption | None:
        """The suspected family without a row for this pack; ``drive`` makes a core that has it."""
        if self._asked[pack] < len(self._suspects) and self._lacks[pack] < 0:
            self._ask(pack, drive(pack))
        number = int(self._lacks[pack])
        return None if number < 0 else self._found[number]

    def having(
        self, packs: IntArray, drive: Callable[[int], Drive]
    ) -> tuple[IntArray, dict[NoOption, int]]:
        """Those of the packs that lack no suspected family, and how many others lack what."""
        unknown = (self._asked[packs] < len(self._suspects)) & (self._lacks[packs] < 0)
        for pack in packs[unknown].tolist():
            self._ask(pack, drive(pack))
        lacks = self._lacks[packs]
        missing = Counter(lacks[lacks >= 0].tolist())
        return packs[lacks < 0], {self._found[one]: count for one, count in missing.items()}

    def _ask(self, pack: int, core: Drive) -> None:
        for rule in self._suspects[self._asked[pack] :]:
            found = lacking_by_pack(self._context, self._judge, core, rule)
            if found is not None:
                if found not in self._found:
                    self._found.append(found)
                self._lacks[pack] = self._found.index(found)
                break
        self._asked[pack] = len(self._suspects)


__all__ = ["Lacking"]
