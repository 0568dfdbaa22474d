"""``run.log``: what a run read, tried, found and wrote, line by line with the time of day."""

from __future__ import annotations

import datetime as dt
import sys
import time
from typing import TYPE_CHECKING

from bomplan import __version__

if TYPE_CHECKING:
    from bomplan.planner.events import Event


class RunLog:
    """Collects lines; their text is written with the other outputs, whole or not at all."""

    def __init__(self, arguments: list[str] | None = None) -> None:
        self._begun = time.monotonic()
        self._lines: list[str] = []
        day = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
        self.add("run", f"bomplan {__version__}, {day}")
        self.add("run", "arguments: " + " ".join(sys.argv[1:] if arguments is None else arguments))

    def add(self, kind: str, words: str) -> None:
        """One line; ``words`` are put on a single one."""
        seconds = time.monotonic() - self._begun
        self._lines.append(f"{seconds:9.3f} s  {kind:<9} {' '.join(words.split())}")

    def event(self, event: Event) -> None:
        """What the search said, as far as it is more than a count."""
        if event.words:
            figures = {"best": event.best, "bound": event.bound}
            told = [f"{name} {amount}" for name, amount in figures.items() if amount is not None]
            self.add(event.kind, ", ".join([event.words, *told]))

    def text(self) -> str:
        return "\n".join(self._lines) + "\n"
