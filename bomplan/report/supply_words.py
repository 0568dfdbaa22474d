"""The 12 V side of a plan in words and rows, the same for report, workbook and sheets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bomplan.design.supply_records import Supply12V, SupplyLoad
from bomplan.report.text import clean

KIND_WORDS: Final = {
    "continuous": "",
    "intermittent": "comes and goes",
    "gone": "gone with the engine",
    "bill": "counted by its row of the bill",
}


def load_words(load: SupplyLoad) -> str:
    """What draws, with what must be said of it."""
    said = KIND_WORDS[load.kind]
    return clean(load.title, 120) + (f" ({said})" if said else "")


def sums(supply: Supply12V) -> Iterator[tuple[str, int]]:
    """(words, W) of every sum, from a quiet day to the worst night, then what carries it."""
    yield "counted in every range", supply.counted_w
    if supply.named:
        yield "mean by day", supply.day_w
        yield "mean at night", supply.night_w
        yield "mean by day in rain", supply.rain_w
        yield "mean on a winter's day", supply.winter_w
        yield "mean at night, in rain, in winter", supply.worst_w
        yield "all that runs without a break, while on", supply.continuous_w
        yield "all that comes and goes, while on", supply.intermittent_w
        yield "everything at its greatest at once", supply.peak_w
    yield "four fifths of what the converter is rated for", supply.supply_w


def notes(supply: Supply12V) -> Iterator[str]:
    """What the figures mean, and what is not known."""
    if not supply.named:
        yield (
            "The project gives one figure for what the car keeps on its 12 V side, and no list of"
            " loads: whether converter and battery carry a winter's night in rain is not looked at."
        )
        return
    yield (
        "Duty is the share of the time that a load is on; at night, in rain and in winter at once"
        " the greatest of the three holds. Usual figures are common practice: measure your own."
    )
