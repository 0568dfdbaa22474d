"""The colours of the page. Every one that carries words or marks stands out on white.

Chart colours are three of the eight that Okabe and Ito proposed for all kinds of colour vision
(Color Universal Design, 2008; from memory), and black: those with a contrast on white of 3 at
least, as WCAG 2.2, success criterion 1.4.11, asks of graphics. Every series has a line style,
a marker or a hatch of its own beside its colour, so that a grey print tells as much.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

PAPER: Final = "#ffffff"
INK: Final = "#1f2529"
QUIET: Final = "#545f66"
RULE: Final = "#c9d0d4"
GROUND: Final = "#f3f5f6"
LINK: Final = "#0b5394"
GOOD: Final = "#00694a"
CAUTION: Final = "#7a4f00"
BAD: Final = "#a61b1b"


@dataclass(frozen=True)
class Series:
    """How one series of a chart is told from the others, in colour and without."""

    colour: str
    dash: str
    marker: str
    hatch: str


SERIES: Final = (
    Series("#0072b2", "-", "o", ""),
    Series("#d55e00", "--", "s", "////"),
    Series("#00795a", "-.", "^", ".."),
    Series("#1f2529", ":", "D", "xx"),
    Series("#8a4f7d", "-", "v", "\\\\\\\\"),
    Series("#6b6b6b", "--", "P", "++"),
)


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb`` (WCAG 2.2, definition of relative luminance)."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
