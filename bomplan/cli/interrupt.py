"""Ctrl-C: once asks the search for its best plan so far, twice ends the program at once."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
from collections.abc import Callable
from types import FrameType
from typing import TYPE_CHECKING, Any, Final, TypeVar

if TYPE_CHECKING:
    from bomplan.planner.events import Stop

Result = TypeVar("Result")

# As a shell reports a program that Ctrl-C ended (128 + SIGINT).
ENDED_AT_ONCE: Final = 130
_LOOK_S: Final = 0.2


class Interrupts:
    """While open, SIGINT and SIGTERM set the stop token; a second one ends the process."""

    def __init__(self, stop: Stop, *, doing: str = "writing what is found so far") -> None:
        self._stop = stop
        self._doing = doing
        self._process = os.getpid()
        self._before: dict[int, Any] = {}

    def __enter__(self) -> Interrupts:
        for number in (signal.SIGINT, signal.SIGTERM):
            self._before[number] = signal.signal(number, self._caught)
        return self

    def __exit__(self, *_: object) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def _caught(self, _number: int, _frame: FrameType | None) -> None:
        # A worker process that was forked has this handler too: its parent decides.
        if os.getpid() != self._process:
            return
        if self._stop.requested:
            _end_workers()
            # Outputs take their place whole, so leaving now leaves none half written.
            _discard_parts()
            os._exit(ENDED_AT_ONCE)
        self._stop.request()
        # print is not safe inside a signal handler that may have interrupted a print.
        note = f"\nstopping: {self._doing} (Ctrl-C again ends at once)\n"
        with contextlib.suppress(OSError):  # nobody may be reading any more
            os.write(sys.__stderr__.fileno() if sys.__stderr__ else 2, note.encode())


def run_aside(job: Callable[[], Result], tell: Callable[[], None] | None = None) -> Result:
    """Run ``job`` in a thread while this one waits, awake for signals; hand on what it raises.

    Meanwhile ``tell`` is called every now and then.

    A solver that is deep in its own code keeps Python from seeing a signal in the thread
    that called it; the waiting main thread sees it at once.
    """
    results: list[Result] = []
    errors: list[BaseException] = []

    def work() -> None:
        try:
            results.append(job())
        except BaseException as error:
            errors.append(error)

    thread = threading.Thread(target=work, name="search", daemon=True)
    thread.start()
    while thread.is_alive():
        thread.join(_LOOK_S)
        if tell is not None:
            tell()
    if errors:
        raise errors[0]
    return results[0]


# The signal may come while either module is being loaded: then it holds nothing of ours yet.
def _discard_parts() -> None:
    discard = getattr(sys.modules.get("bomplan.report.files"), "discard_parts", None)
    if discard is not None:
        discard()


def _end_workers() -> None:
    children = getattr(sys.modules.get("multiprocessing"), "active_children", None)
    for child in children() if children is not None else ():
        child.kill()
