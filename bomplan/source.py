"""Where a rule or a figure comes from, and how far that was looked at.

A reader who must rely on a check wants to know whether somebody held the standard in hand. So
a source is never text alone: it carries its kind, and what makes checks takes nothing else.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

SourceKind = Literal["from memory", "common practice", "seen", "computed", "given"]

KINDS: Final[dict[SourceKind, str]] = {
    "from memory": "a published source that was not at hand: look it up before you rely on it",
    "common practice": "a habit of the trade without a published source that we know",
    "seen": "a published source, seen in print or in a reproduction",
    "computed": "follows from counting, geometry or physics; no outside rule",
    "given": "a figure of the project, of a catalogue row, or of the scales",
}
"""Each kind in words, the weakest first: a source of several parts has the kind of its weakest."""


class Source(NamedTuple):
    """Who says so, in words, and how well that is known."""

    words: str
    kind: SourceKind

    def __str__(self) -> str:
        return self.words


def recalled(words: str) -> Source:
    """A published source from memory."""
    return Source(words, "from memory")


def practice(words: str = "common practice") -> Source:
    """A habit of the trade."""
    return Source(words, "common practice")


def seen(words: str) -> Source:
    """A published source that was seen, reproductions included."""
    return Source(words, "seen")


def computed(words: str) -> Source:
    """Counted, measured out or simulated from the plan's own figures."""
    return Source(words, "computed")


def given(words: str) -> Source:
    """A figure that the project, a catalogue row or the scales give."""
    return Source(words, "given")


def published(words: str, was_seen: bool) -> Source:
    """A published source, seen or from memory."""
    return seen(words) if was_seen else recalled(words)


COMMON: Final = practice()
