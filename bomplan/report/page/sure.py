"""How sure it is: the chance of each target, what decides it, what to measure before buying."""

from __future__ import annotations

from typing import Final

from bomplan.design.chances import Chance, Chances
from bomplan.report.chances import (
    asked_words,
    chance_figure,
    chance_share,
    decided_by,
    half_words,
    known_words,
)
from bomplan.report.kept_studies import Studies
from bomplan.report.page.blocks import Block, Head, Part, Picture, Row, Section, Table, Tone, Words
from bomplan.report.page.canvas import Canvas, lines_of, style
from bomplan.report.page.palette import INK, SERIES
from bomplan.report.text import clean
from bomplan.report.units import Show

_MOST_BARS: Final = 12
_HALF: Final = 0.5


def sure(show: Show, studies: Studies) -> Section | None:
    """The chances that are kept beside the plan; None when there are none."""
    found = studies.chances
    if found is None:
        return None
    told = sorted(found.chances, key=lambda one: (one.chance, one.id))
    blocks: list[Block | Part] = [
        Words(
            f"All targets and mass limits together hold in {chance_share(found.all_kept, show)} of"
            f" {found.draws} draws ({chance_share(found.all_low, show)} to"
            f" {chance_share(found.all_high, show)} with 95 % certainty).",
            _tone(found.all_kept),
        ),
        Words(
            "Every figure that nobody knows exactly was drawn anew within what may be, and the car"
            " driven each time. Each target is judged as it stands, without the margin that"
            " planning adds: the margin is there for just this."
        ),
    ]
    first = next((one for one in found.inputs if one.name == found.measure_first), None)
    if first is not None:
        how = clean(first.to_know)
        blocks.append(
            Words(
                f"Before buying, find out: {clean(first.words, 60)}. {how[:1].upper()}{how[1:]}.",
                "caution",
            )
        )
    open_ones = [one for one in told if one.chance < 1]
    if open_ones:
        blocks.append(_chart(open_ones[:_MOST_BARS], found, show))
    blocks.append(_table(told, found, show))
    blocks.append(_inputs(found, show))
    return Section("sure", "How sure it is", "How sure", tuple(blocks))


def _tone(chance: float) -> Tone:
    return "bad" if chance < _HALF else "caution" if chance < 1 else "good"


def _chart(told: list[Chance], found: Chances, show: Show) -> Picture:
    bar = SERIES[0]
    with style():
        canvas = Canvas(show, 58 + 30 * len(told))
        axes = canvas.axes(left=150, top=12, right=48, bottom=40)
        for place, one in enumerate(told):
            percent = 100 * one.chance
            (drawn,) = axes.barh(place, percent, height=0.6, color=bar.colour, edgecolor=INK)
            canvas.tip(drawn, f"{clean(one.words, 90)}: {chance_share(one.chance, show)}")
            if one.low < one.high:
                axes.plot(
                    [100 * one.low, 100 * one.high],
                    [place, place],
                    color=INK,
                    linewidth=1.4,
                    marker="|",
                    markersize=8,
                )
            axes.annotate(
                chance_share(one.chance, show),
                (max(percent, 100 * one.high), place),
                xytext=(5, 0),
                textcoords="offset points",
                va="center",
                fontsize=9,
            )
        labels = lines_of([_name(one) for one in told], 26)
        axes.set_yticks(range(len(told)), labels)
        axes.set_xlim(0, 100)
        axes.set_ylim(len(told) - 0.5, -0.5)
        axes.grid(visible=False, axis="y")
        canvas.marked(axes.xaxis)
        axes.set_xlabel("draws that keep it, %")
        return canvas.picture(
            "chart-sure",
            "Chance of keeping each target or limit",
            "; ".join(
                f"{show.words(clean(one.words, 90))}: {chance_share(one.chance, show)}"
                for one in told
            ),
            "The least certain first; what is kept in every draw is left out. The black line is"
            " how far the share may be off with so many draws (95 %).",
            _decides(told, found, show),
        )


def _name(one: Chance) -> str:
    """A few words for an axis: the id after its kind says which target is meant."""
    kind, _, name = clean(one.id, 60).partition(".")
    return f"{kind.replace('_', ' ')}: {name}" if name else kind


def _decides(told: list[Chance], found: Chances, show: Show) -> Table:
    heads = (
        Head("Target or limit"),
        Head("Chance", number=True),
        Head("95 % interval", number=True),
        Head("Decided by"),
    )
    return Table(
        "Chances, and what decides them",
        heads,
        tuple(
            Row(
                (
                    show.words(clean(one.words, 160)),
                    chance_share(one.chance, show),
                    _interval(one, show),
                    decided_by(one, found, show),
                )
            )
            for one in told
        ),
        wordy=True,
    )


def _interval(one: Chance, show: Show) -> str:
    if one.low >= one.high:
        return ""
    return f"{chance_share(one.low, show)} to {chance_share(one.high, show)}"


def _table(told: list[Chance], found: Chances, show: Show) -> Table:
    heads = (
        Head("Target or limit"),
        Head("Chance", number=True),
        Head("Asked", number=True),
        Head("The plan says", number=True),
        Head("Worst tenth", number=True),
        Head("Middle", number=True),
        Head("Best tenth", number=True),
    )
    rows = []
    for one in told:
        figures = (one.at, one.worst_tenth, one.middle, one.best_tenth)
        cells = (
            show.words(clean(one.words, 160)),
            chance_share(one.chance, show),
            asked_words(one, found, show),
            *(chance_figure(value, one, found, show) for value in figures),
        )
        rows.append(Row(cells, "bad" if one.chance < _HALF else "plain"))
    return Table("What each target comes to over all draws", heads, tuple(rows), wordy=True)


def _inputs(found: Chances, show: Show) -> Table:
    heads = (
        Head("Figure"),
        Head("May be off by", number=True),
        Head("Known as"),
        Head("How to find out"),
    )
    return Table(
        "What may be off, and how to find out",
        heads,
        tuple(
            Row(
                (
                    clean(one.words, 60),
                    half_words(one, show),
                    known_words(one),
                    clean(one.to_know),
                )
            )
            for one in found.inputs
        ),
        wordy=True,
    )
