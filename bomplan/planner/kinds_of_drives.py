"""Drives that physics cannot tell apart: the same figures under other names, masses and prices.

Nothing but a row's columns reaches the physics, and of motor and controller neither id nor size,
price or mass does. So what a pack is worth at some mass behind one drive it is worth behind all
with the same columns.
"""

from __future__ import annotations

from bomplan.catalog.records import Pair, Part
from bomplan.planner.screen import DriveRow

Key = tuple[object, ...]
NAMES = frozenset({"motor", "controller", "source"})  # of a pair; they say no figure


class Kinds:
    """Numbers for what drives alike, in the order in which it was met."""

    def __init__(self) -> None:
        self._numbers: dict[Key, int] = {}
        # By the identity of rows, which are kept here so that no others take it.
        self._known: dict[int, tuple[Part | Pair, int]] = {}

    def of_motor(self, row: DriveRow) -> Key:
        """What the motor and the ratios behind it are to the physics."""
        return self._of(row.motor), row.motor.text("mount"), row.ratio

    def of_drive(self, row: DriveRow) -> Key:
        """The same of motor, controller and the settings of the pair."""
        pair = None if row.pair is None else self._of(row.pair)
        controller = self._of(row.controller)
        return (*self.of_motor(row), controller, pair, row.named_a, row.lower_a)

    def _of(self, record: Part | Pair) -> int:
        known = self._known.get(id(record))
        if known is None:
            figures = record.figures if isinstance(record, Part) else record.model_dump()
            # 1, 1.0 and True are equal, and are not the same as words.
            columns = tuple(
                (name, value.__class__, value)
                for name, value in sorted(figures.items())
                if isinstance(record, Part) or name not in NAMES
            )
            number = self._numbers.setdefault(columns, len(self._numbers))
            known = self._known[id(record)] = record, number
        return known[1]


__all__ = ["Kinds"]
