"""Text on the terminal, in colour only where a person wants it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final, TextIO

if TYPE_CHECKING:
    from bomplan.report.lines import Row

_TONES: Final = {"heading": "1", "good": "1;32", "bad": "1;31", "caution": "33"}


def wants_colour(stream: TextIO) -> bool:
    """A terminal, and nobody has said NO_COLOR (no-color.org: any value that is not empty)."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return stream.isatty()


def show(rows: Iterable[Row], stream: TextIO | None = None, *, colour: str = "auto") -> None:
    """Write the rows, each in its tone; ``colour`` is "auto" or "never"."""
    out = stream or sys.stdout
    coloured = colour != "never" and wants_colour(out)
    for row in rows:
        code = _TONES.get(row.tone) if coloured else None
        out.write(f"\x1b[{code}m{row.text}\x1b[0m\n" if code else f"{row.text}\n")
