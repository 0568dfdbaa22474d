"""How sure a plan is, as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bomplan.design.chances import Chance, Chances, InputRange
from bomplan.report.lines import Row, Tone, exact_money, wrapped
from bomplan.report.text import clean
from bomplan.report.units import Show

_SHOWN_INFLUENCES: Final = 3


def chance_rows(found: Chances, show: Show) -> Iterator[Row]:
    """The least certain first, each with what decides it; then what was varied and by how much."""
    yield Row(clean(f"How sure: {found.project}", 78), "heading")
    yield from wrapped(
        f"All targets and mass limits together hold in {chance_share(found.all_kept, show)} of"
        f" {found.draws} draws ({chance_share(found.all_low, show)} to"
        f" {chance_share(found.all_high, show)} with 95 % certainty). Each is judged by"
        " itself, without the margin that planning adds."
    )
    yield Row("")
    sure = [one for one in found.chances if one.chance == 1.0]
    for one in sorted(found.chances, key=lambda chance: (chance.chance, chance.id)):
        if one.chance < 1.0:
            yield from _one(one, found, show)
    if sure:
        yield Row("Kept in every draw", "heading")
        for one in sure:
            yield from wrapped(
                f"{show.words(clean(one.words))}: {span_words(one, found, show)}", "  ", "    "
            )
        yield Row("")
    yield Row("What may be off, and by how much", "heading")
    for given in found.inputs:
        yield Row(f"  {given.words:<32} {half_words(given, show)}  ({known_words(given)})")
    yield Row("")
    first = next((one for one in found.inputs if one.name == found.measure_first), None)
    if first is not None:
        how = first.to_know[0].upper() + first.to_know[1:]
        yield from wrapped(f"Before buying, find out: {first.words}. {how}.", tone="caution")
    yield from wrapped(
        "Every figure is taken as equally likely anywhere within its limits. Give your own in the"
        " section uncertainty of the project, or as the spread of a figure."
    )


def _one(one: Chance, found: Chances, show: Show) -> Iterator[Row]:
    tone: Tone = "bad" if one.chance < 0.5 else "caution"
    yield from wrapped(
        f"{chance_share(one.chance, show)}  {show.words(clean(one.words))}", "  ", " " * 10, tone
    )
    if one.low < one.high:
        low, high = chance_share(one.low, show), chance_share(one.high, show)
        yield Row(f"          95 % interval {low} to {high}")
    yield from wrapped(
        f"asked {asked_words(one, found, show)}; {span_words(one, found, show)}",
        " " * 10,
        " " * 10,
    )
    decides = decided_by(one, found, show)
    if decides:
        yield from wrapped("decided by " + decides, " " * 10, " " * 12)
    yield Row("")


def decided_by(one: Chance, found: Chances, show: Show) -> str:
    """What explains most of this figure's spread, each with its share; blank for nothing."""
    names = {given.name: given.words for given in found.inputs}
    return ", ".join(
        f"{names.get(influence.name, influence.name)} {chance_share(influence.share, show)}"
        for influence in one.influences[:_SHOWN_INFLUENCES]
    )


def span_words(one: Chance, found: Chances, show: Show) -> str:
    """The figure in the worst tenth of the draws, in the middle, in the best tenth."""
    return (
        f"{chance_figure(one.worst_tenth, one, found, show)} in the worst tenth,"
        f" {chance_figure(one.middle, one, found, show)} in the middle,"
        f" {chance_figure(one.best_tenth, one, found, show)} in the best tenth"
    )


def asked_words(one: Chance, found: Chances, show: Show) -> str:
    """The target or limit itself, with its unit; the budget's as an amount."""
    if one.id == "money.budget":
        return chance_figure(one.limit, one, found, show)
    return show.figure(round(one.limit, 1), one.unit)


def chance_figure(value: float, one: Chance, found: Chances, show: Show) -> str:
    """A figure of this target, with its unit; the budget's as an amount."""
    if one.id == "money.budget":
        return show.number(exact_money(round(value), found.currency))
    if one.unit in ("km", "km/h"):
        return show.judged(value, one.unit, one.sense)
    return show.figure(round(value, 1), one.unit)


def chance_share(share: float, show: Show) -> str:
    """Percent; never 100 or 0 by rounding alone."""
    percent = 100 * share
    shown = min(99.9, max(0.1, round(percent, 1))) if 0 < share < 1 else percent
    return show.number(f"{shown:.1f} %" if 0 < share < 1 else f"{shown:.0f} %")


def half_words(given: InputRange, show: Show) -> str:
    """How far a figure may be off, either way."""
    if given.unit == "g":
        return f"± {show.figure(round(given.half / 1000, 1), 'kg')}"
    if given.unit:
        return show.number(f"± {given.half:g} {given.unit}")
    return show.number(f"± {100 * given.half:.3g} %")


def known_words(given: InputRange) -> str:
    """How a figure is known."""
    return {"guess": "a guess", "class": "typical"}.get(given.known, "measured")
