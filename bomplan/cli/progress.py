"""What the search is doing, on one line of a terminal that rewrites itself."""

from __future__ import annotations

import shutil
import sys
import time
from typing import TYPE_CHECKING, Final, TextIO

if TYPE_CHECKING:
    from bomplan.planner.events import Event

_EVERY_S: Final = 0.1


class Progress:
    """A listener for the planner; says nothing unless ``live`` or ``verbose``."""

    def __init__(
        self, currency: str, *, live: bool, verbose: bool, stream: TextIO | None = None
    ) -> None:
        self._currency = currency
        self._live = live
        self._verbose = verbose
        self._out = stream or sys.stderr
        self._begun = time.monotonic()
        self._shown = 0.0
        self._open = False

    def __call__(self, event: Event) -> None:
        if self._verbose and event.words:
            self.clear()
            self._out.write(f"{event.kind}: {event.words}\n")
            self._out.flush()
        now = time.monotonic()
        if not self._live or (event.kind == "opened" and now - self._shown < _EVERY_S):
            return
        self._shown = now
        self._write(self.line(event, now - self._begun))

    def searches(self, number: int) -> None:
        """How many searches of a study have ended."""
        if self._live:
            seconds = time.monotonic() - self._begun
            self._write(
                f"{seconds:5.1f} s  {number} {'search' if number == 1 else 'searches'} done"
            )

    def _write(self, line: str) -> None:
        width = shutil.get_terminal_size().columns - 1
        self._out.write("\r" + line[:width].ljust(width))
        self._out.flush()
        self._open = True

    def line(self, event: Event, seconds: float) -> str:
        """One line: counts, best so far against the bound, seconds."""
        from bomplan.money import format_amount

        parts = [
            f"{event.screened} screened",
            f"{event.solved} solved",
            f"{event.simulated} simulated",
        ]
        if event.best is not None:
            parts.append(f"best {format_amount(event.best, self._currency)} {self._currency}")
        if event.bound is not None:
            parts.append(f"bound {format_amount(event.bound, self._currency)}")
        return f"{seconds:5.1f} s  " + "  ".join(parts)

    def clear(self) -> None:
        """Take the line away before anything else is written."""
        if self._open:
            width = shutil.get_terminal_size().columns - 1
            self._out.write("\r" + " " * width + "\r")
            self._out.flush()
            self._open = False
