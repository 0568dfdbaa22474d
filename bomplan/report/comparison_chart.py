"""Plans side by side as one picture: cost over the years, ranges, and masses, one row for each.

Bars differ in hatch and markers in shape, so that a grey print tells as much as colours do;
every figure stands beside its bar. The same bytes for the same comparison.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final

from bomplan.design.comparison import Compared, Comparison
from bomplan.money import currency_decimals
from bomplan.report.lines import whole_units
from bomplan.report.page.canvas import Canvas, lines_of, style
from bomplan.report.page.palette import INK, SERIES
from bomplan.report.text import clean
from bomplan.report.units import Show

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ROW: Final = 30.0
_LEFT, _RIGHT, _TOP, _BOTTOM, _GAP = 150.0, 70.0, 64.0, 40.0, 76.0
_COSTS: Final = (
    ("purchase", "purchase"),
    ("energy", "energy from the wall"),
    ("replacements", "new packs"),
)
_RANGES: Final = (
    ("range_new_km", "new pack"),
    ("range_worn_km", "worn pack"),
    ("range_cold_km", "new pack at -10 °C"),
)


def comparison_svg(found: Comparison, show: Show) -> str | None:
    """The picture as SVG text; None where no row has a plan."""
    rows = [one for one in found.rows if one.plan is not None]
    if not rows:
        return None
    panels: list[Callable[[Canvas, Axes, Sequence[Compared], Comparison], None]]
    panels = [_ranges, _masses]
    if any(one.life is not None for one in rows):
        panels = [_costs, *panels]
    inner = _ROW * len(rows) + 10
    height = _TOP + len(panels) * inner + (len(panels) - 1) * _GAP + _BOTTOM
    canvas = Canvas(show, height, wide=True)
    text = io.StringIO()
    with style():
        names = lines_of([clean(one.label) for one in rows], 22)
        for number, panel in enumerate(panels):
            top = _TOP + number * (inner + _GAP)
            axes = canvas.axes(_LEFT, top, _RIGHT, height - top - inner)
            axes.set_yticks(range(len(rows)), names)
            axes.set_ylim(len(rows) - 0.5, -0.5)
            axes.grid(visible=False, axis="y")
            panel(canvas, axes, rows, found)
            canvas.marked(axes.xaxis)
        canvas.figure.savefig(
            text,
            format="svg",
            transparent=False,
            facecolor="white",
            metadata={"Date": None, "Title": found.words, "Description": _words(rows, found, show)},
        )
    return text.getvalue()


def _costs(canvas: Canvas, axes: Axes, rows: Sequence[Compared], found: Comparison) -> None:
    del canvas
    unit = 10 ** currency_decimals(found.currency)
    starts = [0.0] * len(rows)
    for (key, words), series in zip(_COSTS, SERIES, strict=False):
        widths = [0.0 if one.life is None else (getattr(one.life, key) or 0) / unit for one in rows]
        axes.barh(
            range(len(rows)), widths, 0.62, starts, label=words, color=series.colour,
            hatch=series.hatch, edgecolor="white",
        )  # fmt: skip
        starts = [start + width for start, width in zip(starts, widths, strict=True)]
    for place, one in enumerate(rows):
        if one.life is not None:
            _beside(axes, starts[place], place, whole_units(one.life.total, found.currency))
    use = found.use
    _titled(axes, f"Cost over {use.years:g} years [{found.currency}]", len(_COSTS))


def _ranges(canvas: Canvas, axes: Axes, rows: Sequence[Compared], found: Comparison) -> None:
    show = canvas.show
    unit = show.distance(0).rpartition(" ")[2]
    for (key, words), series in zip(_RANGES, SERIES, strict=False):
        values = [_shown(show, getattr(one, key)) for one in rows]
        axes.plot(
            values, range(len(rows)), series.marker, label=words, color=series.colour,
            markersize=7, markerfacecolor="white" if key == "range_worn_km" else series.colour,
        )  # fmt: skip
    asked = [_shown(show, one.asked_km) for one in rows]
    axes.plot(asked, range(len(rows)), "|", color=INK, markersize=24)
    axes.plot([], [], "|", color=INK, markersize=10, label="asked")
    axes.set_xlim(left=0)
    _titled(axes, f"Range on {clean(found.use.target, 40)} [{unit}]", len(_RANGES) + 1)


def _masses(canvas: Canvas, axes: Axes, rows: Sequence[Compared], found: Comparison) -> None:
    del found
    show = canvas.show
    series = SERIES[0]
    texts = [show.mass(one.plan.laden_kg) for one in rows if one.plan is not None]
    values = [float(text.partition(" ")[0]) for text in texts]
    axes.barh(range(len(rows)), values, 0.5, color=series.colour, edgecolor="white")
    for place, (value, text) in enumerate(zip(values, texts, strict=True)):
        _beside(axes, value, place, text.partition(" ")[0])
    _titled(axes, f"Laden mass [{show.mass(0).rpartition(' ')[2]}]", 0)


def _titled(axes: Axes, words: str, columns: int) -> None:
    """The panel's title, and its legend between title and bars."""
    axes.set_title(words, loc="left", fontsize=11.5, fontweight="bold", pad=24 if columns else 6)
    if columns:
        place: Any = {"loc": "lower left", "bbox_to_anchor": (-0.01, 0.98), "borderaxespad": 0.2}
        axes.legend(ncols=columns, handlelength=1.6, columnspacing=1.4, **place)


def _beside(axes: Axes, value: float, place: int, text: str) -> None:
    axes.annotate(
        text, (value, place), (5, 0), textcoords="offset points", va="center", annotation_clip=False
    )


def _shown(show: Show, km: float | None) -> float:
    """A distance in the reader's unit; not a number where there is none."""
    if km is None:
        return float("nan")
    return float(show.nearest_distance(km).rpartition(" ")[0].replace(",", "."))


def _words(rows: Sequence[Compared], found: Comparison, show: Show) -> str:
    """What the picture shows, for somebody who cannot see it."""
    told = []
    for one in rows:
        cost = "" if one.life is None else whole_units(one.life.total, found.currency)
        far = "" if one.range_new_km is None else show.distance(one.range_new_km)
        mass = "" if one.plan is None else show.mass(one.plan.laden_kg)
        told.append(f"{clean(one.label)}: {cost} {found.currency}, {far} on a new pack, {mass}")
    return "; ".join(told)
