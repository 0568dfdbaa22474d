"""Text from files, made fit to be shown: no control characters, no endless lines."""

from __future__ import annotations

import unicodedata
from typing import Final

# Control, surrogate, private and unassigned characters, and the marks that turn the
# direction of writing: none of them belongs in a part's name.
_DROPPED: Final = frozenset({"Cc", "Cs", "Co", "Cn"})
_DIRECTION_MARKS: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def clean(text: str, limit: int = 500) -> str:
    """``text`` on one line, without control characters, at most ``limit`` characters."""
    kept = "".join(
        " " if letter in "\t\n\r\v\f" else letter
        for letter in text[: limit * 4]
        if letter in "\t\n\r\v\f"
        or (unicodedata.category(letter) not in _DROPPED and letter not in _DIRECTION_MARKS)
    )
    flat = " ".join(kept.split())
    return flat if len(flat) <= limit else flat[: limit - 1] + "…"


def title(name: str) -> str:
    """An id such as ``charge_inlet`` as words for a heading."""
    words = clean(name.replace("_", " "), 60)
    return words[:1].upper() + words[1:]
