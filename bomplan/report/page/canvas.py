"""The sheet that charts are drawn on: matplotlib without its global state, one style, SVG out.

Text stays text, so that it can be searched, scales with the page and takes its face; positions
are set by hand, so that no layout depends on the fonts of a machine. A reader's own
matplotlibrc has no say. Matplotlib is loaded when the first chart is drawn.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from bomplan.report.page.blocks import Picture, Reach, Table
from bomplan.report.page.inline import inline_svg
from bomplan.report.page.palette import GROUND, INK, QUIET, RULE
from bomplan.report.units import Show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

POINTS: Final = 72.0
NARROW, WIDE = 400.0, 720.0
SIZE: Final = 10.5
_STYLE: Final[dict[Any, Any]] = {
    # A dollar in the name of a part is a dollar, no formula.
    "text.parse_math": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "bomplan",
    "path.simplify": True,
    "font.size": SIZE,
    "text.color": INK,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.labelsize": SIZE,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.grid": True,
    "grid.color": RULE,
    "grid.linewidth": 0.6,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "legend.frameon": False,
    "legend.fontsize": SIZE - 0.5,
    "hatch.linewidth": 0.8,
    "hatch.color": "#ffffff",
    "lines.linewidth": 1.6,
    "patch.linewidth": 0.8,
}

# The groups of settings that a drawing depends on. Not by matplotlib's own way back to its
# defaults, which makes a folder in the reader's home.
_DRAWN: Final = frozenset(
    ("axes", "date", "errorbar", "figure", "font", "grid", "hatch", "hist", "legend", "lines",
     "markers", "mathtext", "patch", "path", "polaraxes", "savefig", "svg", "text", "xaxis",
     "xtick", "yaxis", "ytick")
)  # fmt: skip


@contextmanager
def style() -> Iterator[None]:
    """Matplotlib's own defaults and our style, whatever was set before."""
    import warnings

    import matplotlib

    with matplotlib.rc_context(), warnings.catch_warnings():
        # Text stays text: a letter that the font for measuring lacks, the reader's may have.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        matplotlib.rcParams.update(
            {
                name: value
                for name, value in matplotlib.rcParamsDefault.items()
                if name.split(".")[0] in _DRAWN
            }
        )
        matplotlib.rcParams.update(_STYLE)
        yield


@dataclass
class Canvas:
    """One chart in the making: ``width`` and ``height`` in points, figures shown as asked."""

    show: Show
    height: float
    wide: bool = False
    tips: dict[str, str] = field(default_factory=dict)
    _figure: Figure | None = None

    @property
    def width(self) -> float:
        return WIDE if self.wide else NARROW

    @property
    def figure(self) -> Figure:
        if self._figure is None:
            from matplotlib.backends.backend_svg import FigureCanvasSVG
            from matplotlib.figure import Figure

            self._figure = Figure(figsize=(self.width / POINTS, self.height / POINTS))
            self._figure.patch.set_visible(False)
            FigureCanvasSVG(self._figure)
        return self._figure

    def axes(self, left: float, top: float, right: float, bottom: float, **more: Any) -> Axes:
        """Axes between these margins, in points from the four edges."""
        place = (
            left / self.width,
            bottom / self.height,
            (self.width - left - right) / self.width,
            (self.height - top - bottom) / self.height,
        )
        axes = self.figure.add_axes(place, **more)
        axes.patch.set_facecolor(GROUND)
        axes.tick_params(length=3, pad=3)
        return axes

    def marked(self, axis: Any, digits: int | None = None) -> None:
        """Tick labels with the reader's decimal mark, thousands parted by a thin space."""
        from matplotlib.ticker import FuncFormatter, MaxNLocator

        axis.set_major_locator(MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10], min_n_ticks=3))
        axis.set_major_formatter(FuncFormatter(lambda value, _: self.tick(value, digits)))

    def tick(self, value: float, digits: int | None = None) -> str:
        """A figure on an axis."""
        text = f"{value:.{digits}f}" if digits is not None else f"{value:.10g}"
        if abs(value) >= 10_000:
            text = f"{value:,.0f}".replace(",", "\N{THIN SPACE}")
        return self.show.number(text).replace("-", "\N{MINUS SIGN}")

    def tip(self, artist: Any, words: str) -> None:
        """Words that a browser shows over this artist."""
        name = f"tip-{len(self.tips)}"
        artist.set_gid(name)
        self.tips[name] = words

    def picture(
        self,
        prefix: str,
        title: str,
        description: str,
        caption: str,
        table: Table | None = None,
        reach: Reach | None = None,
    ) -> Picture:
        """The finished chart. ``description`` says in words what the eye would see."""
        text = io.StringIO()
        self.figure.savefig(text, format="svg", transparent=False, metadata={"Date": None})
        svg = inline_svg(text.getvalue(), prefix, title, description, self.tips)
        return Picture(svg, title, caption, self.wide, table, reach)

    def reach(self, axes: Axes) -> Reach:
        """Where the horizontal axis lies in the picture."""
        box = axes.get_position()
        first, last = axes.get_xlim()
        return Reach(round(box.x0, 4), round(box.x1, 4), float(first), float(last))


def lines_of(texts: Sequence[str], columns: int) -> list[str]:
    """Labels broken to at most two lines of ``columns`` letters, cut where longer."""
    import textwrap

    found = []
    for text in texts:
        rows = textwrap.wrap(text, columns, max_lines=2, placeholder=" …") or [""]
        found.append("\n".join(rows))
    return found
