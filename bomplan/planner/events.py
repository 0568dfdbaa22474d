"""What the planner says while it works, and how it is asked to stop."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Event:
    """One step of the search. Money in smallest units; no clock: the listener has its own."""

    kind: Literal["screened", "opened", "better", "done"]
    screened: int = 0
    solved: int = 0
    simulated: int = 0
    cut: int = 0
    bound: int | None = None
    best: int | None = None
    words: str = ""


Listener = Callable[[Event], None]


class Stop:
    """A token that may be set from a signal handler or another thread."""

    def __init__(self) -> None:
        self._event = threading.Event()

    def request(self) -> None:
        """Ask the planner to return the best plan so far at its next step."""
        self._event.set()

    @property
    def requested(self) -> bool:
        return self._event.is_set()


class Until(Stop):
    """Stops for itself, and when the whole of which it is a part is to stop."""

    def __init__(self, whole: Stop) -> None:
        super().__init__()
        self._whole = whole

    @property
    def requested(self) -> bool:
        return super().requested or self._whole.requested
