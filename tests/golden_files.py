"""Texts that are read before they are kept: what a message says, letter by letter.

Run with ``BOMPLAN_WRITE_GOLDEN=1`` to write them anew, and read the difference.
"""

from __future__ import annotations

import os
from pathlib import Path

GOLDEN = Path(__file__).parent / "golden" / "messages"


def compare(room: str, name: str, text: str) -> None:
    """Hold ``text`` against the file of this name, or write it when asked to."""
    file = GOLDEN / room / f"{name}.txt"
    if os.environ.get("BOMPLAN_WRITE_GOLDEN"):
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    assert file.is_file(), f"no snapshot {file.name}: run with BOMPLAN_WRITE_GOLDEN=1 and read it"
    assert text == file.read_text(encoding="utf-8")


def shown_codes() -> set[str]:
    """Every code that some snapshot shows."""
    import re

    texts = (file.read_text(encoding="utf-8") for file in sorted(GOLDEN.rglob("*.txt")))
    return {code for text in texts for code in re.findall(r"\[([a-z]+\.[a-z0-9-]+)\]", text)}
