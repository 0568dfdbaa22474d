"""The one form in which bomplan tells a person that an input cannot be used.

A :class:`Fault` names the file, the place in it, what was found, what is allowed
and what to try. Loaders collect every fault they can find and raise them together
as one :class:`InputError`, so that a file is mended in one go.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an input.

    ``code`` is a stable id such as ``project.unknown-key``; ``message`` one sentence
    in lower case without a full stop.
    """

    code: str
    message: str
    file: str | None = None
    where: str | None = None
    value: str | None = None
    allowed: str | None = None
    hint: str | None = None

    def text(self) -> str:
        """The fault as lines for a terminal, without colour."""
        place = ", ".join(shorten(part, 200) for part in (self.file, self.where) if part)
        message = shorten(self.message, 600)
        head = f"{place}: {message}" if place else message
        lines = [f"{head} [{self.code}]"]
        if self.value is not None:
            lines.append(f"  found:   {shorten(self.value)}")
        if self.allowed is not None:
            lines.append(f"  allowed: {self.allowed}")
        if self.hint is not None:
            lines.append(f"  hint:    {self.hint}")
        return "\n".join(lines)


class BomplanError(Exception):
    """Base of every error that bomplan raises on purpose."""


class InputError(BomplanError):
    """A file, an option or a project that cannot be used; carries every fault found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        if not self.faults:
            raise ValueError("an InputError needs at least one fault")
        super().__init__("\n".join(fault.text() for fault in self.faults))


class ContradictionError(InputError):
    """A plan whose figures contradict each other; ``__cause__`` is what broke on them."""


class InternalError(BomplanError):
    """Our own bug: the message says what did not hold and how to report it."""


def shorten(text: str, limit: int = 120) -> str:
    """``text`` on one line and no longer than ``limit`` characters."""
    flat = " ".join(text.split())
    return flat if len(flat) <= limit else flat[: limit - 1] + "…"
