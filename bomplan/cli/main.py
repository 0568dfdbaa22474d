"""The entry point: runs a command and turns whatever happens into words and an exit status."""

from __future__ import annotations

import os
import signal
import sys
import threading
import traceback
from collections import Counter
from collections.abc import Sequence
from types import FrameType
from typing import Any, Final

from bomplan.cli.status import Status
from bomplan.errors import BomplanError, InputError

# Faults told one by one; a whole column misread would fill the terminal many times over.
MOST_FAULTS: Final = 100


def main(arguments: Sequence[str] | None = None) -> int:
    """Run ``bomplan`` with these arguments (those of the process by default).

    Returns the exit status: 0 sound, 1 no plan or a failed check, 2 input or usage, 3 our
    bug, 4 stopped early.
    """
    from bomplan.cli.app import command

    words = list(sys.argv[1:] if arguments is None else arguments)
    if words[:1] == ["help"]:
        words = [*words[1:], "--help"]
    _speak_unicode()
    heard = _Heard()
    try:
        result = command.main(args=words or ["--help"], prog_name="bomplan", standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read our output has gone: not worth a word. Python would complain at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return int(Status.SOUND)
    except InputError as error:
        _complain(error)
        return int(Status.INPUT)
    except KeyboardInterrupt:
        return _stopped()
    except Exception as error:
        # A library that is being loaded may turn an interrupt into an error of its own.
        return _stopped() if heard.interrupt else _other(error, verbose="--verbose" in words)
    finally:
        heard.leave()
    return int(result or 0)


class _Heard:
    """Whether Ctrl-C was heard while nothing else had taken charge of it."""

    def __init__(self) -> None:
        self.interrupt = False
        self._before: Any = None
        if (
            threading.current_thread() is threading.main_thread()
            and signal.getsignal(signal.SIGINT) is signal.default_int_handler
        ):
            self._before = signal.signal(signal.SIGINT, self._hear)

    def _hear(self, number: int, frame: FrameType | None) -> None:
        self.interrupt = True
        signal.default_int_handler(number, frame)

    def leave(self) -> None:
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)


def _stopped() -> int:
    print("stopped; no file is half written", file=sys.stderr)
    return int(Status.STOPPED)


def _other(error: Exception, *, verbose: bool) -> int:
    if hasattr(error, "exit_code") and hasattr(error, "show"):
        _usage(error)
        return int(Status.INPUT)
    if type(error).__name__ in ("Abort", "Exit"):
        return int(getattr(error, "exit_code", Status.STOPPED))
    kind = "" if isinstance(error, BomplanError) else f"{type(error).__name__}: "
    print(f"error: bomplan has a bug: {kind}{error}", file=sys.stderr)
    if verbose:
        traceback.print_exception(error)
    hint = (
        "report this message" if verbose else "run it again with --verbose and report what it says"
    )
    print(
        f"\nhint: {hint}, together with the project file and the output of bomplan --version",
        file=sys.stderr,
    )
    return int(Status.BUG)


def _usage(error: Any) -> None:
    """A wrong argument: what the parser says, then where help is."""
    print(f"error: {error.format_message()}", file=sys.stderr)
    context = getattr(error, "ctx", None)
    path = getattr(context, "command_path", "bomplan")
    print(f"\nhint: {path} --help shows how it is used", file=sys.stderr)


def _complain(error: InputError) -> None:
    count = len(error.faults)
    head = "error: this cannot be used" if count == 1 else f"error: {count} things cannot be used"
    print(head, file=sys.stderr)
    for fault in error.faults[:MOST_FAULTS]:
        print(f"\n{fault.text()}", file=sys.stderr)
    rest = Counter(fault.code for fault in error.faults[MOST_FAULTS:])
    if rest:
        kinds = ", ".join(f"{number} of [{code}]" for code, number in rest.items())
        print(f"\nand {sum(rest.values())} more: {kinds}", file=sys.stderr)


def _speak_unicode() -> None:
    """A terminal that lacks a letter gets a question mark instead of an error."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
