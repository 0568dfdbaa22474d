"""Packs for which a family has no row whatever drives them: they fall before drives are joined.

Where a catalogue has no contactor for the voltage, every pack above it falls with every drive.
Most families that read the whole core ask the voltage first, which the pack tells by itself. So a
family that turned one core away is suspected, and packs are asked about it alone.
"""

from __future__ import annotations

from collections.abc import Callable

from bomplan.design.bill import RULES, Rule
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.judge import Judge
from bomplan.planner.options import CORE, NoOption, lacking_by_pack

OF_FAMILY = {rule.family: rule for rule in RULES}


class Lacking:
    """What one search knows of packs by their number; nothing before a family is suspected."""

    def __init__(self, context: Context, judge: Judge) -> None:
        self._context, self._judge = context, judge
        self._suspects: list[Rule] = []
        # Of each pack how many suspects it was asked about, and what it lacks.
        self._asked: dict[int, int] = {}
        self._found: dict[int, NoOption] = {}

    def suspect(self, family: str) -> None:
        """A core was turned away for want of a row of this family."""
        rule = OF_FAMILY[family]
        if rule.side == "currents" and family not in CORE and rule not in self._suspects:
            self._suspects.append(rule)

    def of(self, pack: int, drive: Callable[[], Drive]) -> NoOption | None:
        """The suspected family without a row for this pack; ``drive`` any core that has it."""
        if not self._suspects:
            return None
        begun = self._asked.get(pack, 0)
        if begun < len(self._suspects) and pack not in self._found:
            core = drive()
            for rule in self._suspects[begun:]:
                found = lacking_by_pack(self._context, self._judge, core, rule)
                if found is not None:
                    self._found[pack] = found
                    break
            self._asked[pack] = len(self._suspects)
        return self._found.get(pack)


__all__ = ["Lacking"]
