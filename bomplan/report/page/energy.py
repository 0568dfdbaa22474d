"""What eats the energy: for each target and state, from the air to the cells' own resistance."""

from __future__ import annotations

from typing import Final

from bomplan.design.curve_records import Curves, EnergyUse
from bomplan.design.driving import RangeState
from bomplan.report.page.blocks import Head, Picture, Row, Table
from bomplan.report.page.canvas import Canvas, lines_of, style
from bomplan.report.page.palette import INK
from bomplan.report.page.states import STATES, state_words
from bomplan.report.text import clean
from bomplan.report.units import Show

# Key of the record, words, colour and hatch: no two alike in grey, neighbours least of all.
SHARES: Final = (
    ("air", "air", "#0072b2", ""),
    ("rolling", "rolling", "#a5cfe6", "//"),
    ("brakes", "brakes", "#8a3d00", "xx"),
    ("driveline", "driveline", "#f0b184", ".."),
    ("motor", "motor", "#00604a", "||"),
    ("controller", "controller", "#8fd0bb", "\\\\"),
    ("beside", "12 V and heating", "#3a4147", "--"),
    ("circuit", "cables", "#b9c0c5", "++"),
    ("pack", "cells", "#6a3460", "\\\\"),
    ("slopes", "hills, speed kept", "#ffffff", ""),
)


def energy(curves: Curves, ranges: tuple[RangeState, ...], show: Show) -> Picture | None:
    """Stacked bars of energy per distance; None where no drive has an end."""
    uses = curves.energy
    if not uses:
        return None
    factor, unit = show.scale("Wh/km")
    known: dict[tuple[str, str], RangeState] = {(one.target, one.state): one for one in ranges}
    named = [_name(use) for use in uses]
    with style():
        canvas = Canvas(show, 94 + 30 * len(uses), wide=True)
        axes = canvas.axes(left=190, top=50, right=16, bottom=40)
        ends = [0.0] * len(uses)
        for key, words, colour, hatch in SHARES:
            shares = [max(0.0, getattr(use, f"{key}_wh_per_km")) * factor for use in uses]
            bars = axes.barh(
                range(len(uses)),
                shares,
                left=ends,
                height=0.66,
                color=colour,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.5,
                label=words,
            )
            ends = [end + share for end, share in zip(ends, shares, strict=True)]
            for bar, use in zip(bars, uses, strict=True):
                canvas.tip(bar, f"{_name(use)}: {words} {_figure(use, key, show)}")
        axes.set_yticks(range(len(uses)), lines_of(named, 32))
        axes.invert_yaxis()
        axes.grid(visible=False, axis="y")
        axes.set_xlim(left=0)
        canvas.marked(axes.xaxis)
        axes.set_xlabel(f"energy from the cells, {unit}")
        axes.legend(loc="lower left", bbox_to_anchor=(-0.36, 1.0), ncols=5, borderaxespad=0.2,
                    columnspacing=1.0, handlelength=1.6)  # fmt: skip
        return canvas.picture(
            "chart-energy",
            "What eats the energy, for each target and state",
            "; ".join(_most(use, show) for use in uses),
            "Energy per distance out of the cells, by what it goes into. Below zero, hills and"
            " speed gave back more than they took, or it was slower than asked; not drawn"
            " then, see the table.",
            _table(uses, known, show),
        )


def _name(use: EnergyUse) -> str:
    return f"{clean(use.target, 50)}, {STATES[use.state]}"


def _figure(use: EnergyUse, key: str, show: Show) -> str:
    return show.figure(getattr(use, f"{key}_wh_per_km"), "Wh/km")


def _most(use: EnergyUse, show: Show) -> str:
    ranked = sorted(SHARES, key=lambda share: -getattr(use, f"{share[0]}_wh_per_km"))
    told = ", ".join(f"{words} {_figure(use, key, show)}" for key, words, *_ in ranked[:3])
    return f"{_name(use)}: {_figure(use, 'cells', show)}, most of it {told}"


def _table(
    uses: tuple[EnergyUse, ...], known: dict[tuple[str, str], RangeState], show: Show
) -> Table:
    def name(use: EnergyUse) -> str:
        beside = known.get((use.target, use.state))
        state = STATES[use.state] if beside is None else state_words(beside)
        return f"{clean(use.target, 60)}, {state}"

    unit = show.scale("Wh/km")[1]
    keys = [(key, words) for key, words, *_ in SHARES] + [("cells", f"all, {unit}")]
    return Table(
        f"What eats the energy, {unit}",
        (Head("Target and state"), *(Head(words, number=True) for _, words in keys)),
        tuple(
            Row((name(use), *(_figure(use, key, show).rsplit(" ", 1)[0] for key, _ in keys)))
            for use in uses
        ),
        folded=True,
    )
