"""One sheet to write on: text stays text, every formula carries its value.

Nothing that comes from a file is handed to the spreadsheet program as anything but a plain
string or a number, so text that begins like a formula or a link does nothing.
"""

from __future__ import annotations

import datetime as dt
import math
import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from xlsxwriter.utility import xl_rowcol_to_cell

from bomplan.catalog.workbook import exact_pieces
from bomplan.design.records import Plan
from bomplan.errors import Fault, InputError
from bomplan.report.text import clean
from bomplan.report.units import Units

Paper = Literal["a4", "letter"]
ROW_LIMIT: Final = 20_000
_INK: Final = "#1F2A33"
_SOFT: Final = "#E9EEF1"
_INPUT: Final = "#FFF8DC"
_LINE: Final = "#B9C3C9"
# Days are counted from here; programs differ on those before March 1900.
_ZERO_DAY: Final = dt.date(1899, 12, 30)
_FIRST_DAY: Final = 60


# Numbers of paper sizes, ECMA-376 part 1, 18.3.1.63.
_PAPERS: Final[Mapping[Paper, int]] = {"a4": 9, "letter": 1}


def paper_of(plan: Plan, units: Units | None = None) -> Paper:
    """The paper that the plan's project names; Letter for who reads US units, else A4.

    ``units`` are the reader's; left out, those of the project.
    """
    show = plan.project_used.get("show") or {}
    if show.get("paper") in ("a4", "letter"):
        return "letter" if show["paper"] == "letter" else "a4"
    return "letter" if (units or show.get("units")) == "us" else "a4"


class Styles:
    """The cell formats of the workbook, made once by name."""

    def __init__(self, book: Any, currency: str, decimals: int) -> None:
        cents = "#,##0" + ("." + "0" * decimals if decimals else "")
        self.money: Final = cents
        self.whole_money: Final = f'#,##0 "{currency}"'
        self._book = book
        self._made: dict[tuple[tuple[str, Any], ...], Any] = {}

    def get(self, **what: Any) -> Any:
        """A format with these properties; the same ones give the same format."""
        key = tuple(sorted(what.items()))
        if key not in self._made:
            base = {"font_name": "Arial", "font_size": 10, "font_color": _INK, "valign": "top"}
            self._made[key] = self._book.add_format({**base, **what})
        return self._made[key]

    def chart(self, kind: str, subtype: str = "") -> Any:
        """A new chart of the workbook: ``bar``, ``column`` or ``line``."""
        what = {"type": kind, "subtype": subtype} if subtype else {"type": kind}
        return self._book.add_chart(what)

    def bars(self, name: str, sheet: str, first: int, last: int) -> Any:
        """Bars of column B of a sheet, named by column A, top row first, figures beside them."""
        chart = self.chart("bar")
        chart.add_series(
            {
                "name": name,
                "categories": [sheet, first, 0, last, 0],
                "values": [sheet, first, 1, last, 1],
                "fill": {"color": "#2F6F8F"},
                "gap": 40,
                "data_labels": {"value": True, "num_format": "#,##0"},
            }
        )
        chart.set_title({"none": True})
        chart.set_legend({"none": True})
        chart.set_y_axis({"reverse": True})
        return chart

    def title(self) -> Any:
        return self.get(bold=True, font_size=15, valign="vcenter")

    def heading(self) -> Any:
        return self.get(bold=True, font_size=11, bottom=1)

    def header(self, *, right: bool = False, apart: bool = False) -> Any:
        return self.get(
            bold=True,
            bg_color=_SOFT,
            bottom=2,
            text_wrap=True,
            valign="vcenter",
            align="right" if right else "left",
            indent=1 if right or apart else 0,
        )

    def text(self, *, bold: bool = False, wrap: bool = True, apart: bool = False) -> Any:
        """Text; ``apart`` keeps it clear of the figures in the column before it."""
        more = {"indent": 1, "align": "left"} if apart else {}
        return self.get(text_wrap=wrap, bold=bold, **more)

    def number(self, shape: str, *, bold: bool = False, edit: bool = False) -> Any:
        what: dict[str, Any] = {"num_format": _clear(shape), "align": "right", "bold": bold}
        if edit:
            what |= {"bg_color": _INPUT, "border": 1, "border_color": _LINE}
        return self.get(**what)

    def input(self, *, wrap: bool = False, num_format: str = "General") -> Any:
        """A cell on a pale ground, to be filled in."""
        return self.get(
            text_wrap=wrap,
            num_format=num_format,
            align="left",
            bg_color=_INPUT,
            border=1,
            border_color=_LINE,
        )

    def mark(self, **what: Any) -> Any:
        """What a conditional mark lays over a cell's own format."""
        key = (("conditional", True), *sorted(what.items()))
        if key not in self._made:
            self._made[key] = self._book.add_format(what)
        return self._made[key]

    def group(self, shape: str = "General") -> Any:
        what: dict[str, Any] = {"bold": True, "bg_color": _SOFT, "top": 1}
        if shape != "General":
            what |= {"num_format": _clear(shape), "align": "right"}
        return self.get(**what)

    def big(self, shape: str = "General") -> Any:
        return self.get(bold=True, font_size=16, num_format=shape, align="left")


def _lines(text: str, width: float) -> int:
    """Lines that ``text`` fills in a column of this width, broken at spaces."""
    return max(1, len(textwrap.wrap(text, max(4, int(width * 1.12)))))


def _clear(shape: str) -> str:
    """The number format with a little room at the right, clear of text in the next column."""
    return ";".join(f"{part}_)" if part else "" for part in shape.split(";"))


@dataclass
class Sheet:
    """A worksheet with the few ways in which we write on it."""

    page: Any
    styles: Styles
    name: str
    widths: dict[int, float] = field(default_factory=dict)
    paper: Paper = "a4"
    apart: set[int] = field(default_factory=set)

    def text(self, row: int, col: int, text: str, style: Any = None) -> None:
        self._bound(row)
        style = style or self.styles.text(apart=col in self.apart)
        self.page.write_string(row, col, clean(text, 2000), style)

    def exact(self, row: int, col: int, text: str, style: Any) -> None:
        """Text to the letter, line ends among it, for what is read back from the workbook."""
        self._bound(row)
        pieces = exact_pieces(text)
        if len(pieces) > 1:
            self.page.write_rich_string(row, col, *pieces, style)
        elif text:
            self.page.write_string(row, col, text, style)
        else:
            self.page.write_blank(row, col, None, style)

    def number(self, row: int, col: int, value: float, style: Any) -> None:
        self._bound(row)
        if not math.isfinite(value):
            self.text(row, col, "not known")
            return
        self.page.write_number(row, col, value, style)

    def formula(self, row: int, col: int, formula: str, value: float | str, style: Any) -> None:
        """A formula of our own making, with the value that it must give."""
        self._bound(row)
        told = clean(value, 2000) if isinstance(value, str) else value
        self.page.write_formula(row, col, formula, style, told)

    def headers(self, row: int, names: tuple[tuple[str, float, bool], ...]) -> None:
        """A row of column heads: name, column width, whether it stands above figures.

        Text below a head that follows one of figures keeps clear of them.
        """
        before = False
        for col, (name, width, right) in enumerate(names):
            self.width(col, width)
            apart = before and not right
            self.text(row, col, name, self.styles.header(right=right, apart=apart))
            if apart:
                self.apart.add(col)
            before = right
        self.page.set_row(row, 32)

    def helps(self, row: int, words: Mapping[int, str]) -> None:
        """What the columns under this row of heads mean, as a note on each head."""
        for col, text in words.items():
            size = {"x_scale": 1.6, "y_scale": 0.4 + 0.25 * _lines(text, 34)}
            self.page.write_comment(row, col, text, {"font_size": 9, **size})

    def date(self, row: int, col: int, day: str, style: Any) -> None:
        """A day such as 2026-11-02 as a date of the spreadsheet; any other text as text."""
        try:
            number = (dt.date.fromisoformat(day) - _ZERO_DAY).days
        except ValueError:
            number = 0
        if number > _FIRST_DAY:
            self.page.write_number(row, col, number, style)
        else:
            self.exact(row, col, day, style)

    def width(self, col: int, width: float) -> None:
        """Set a column's width, in characters."""
        self.widths[col] = width
        self.page.set_column(col, col, width)

    def fit(self, row: int, texts: Iterable[tuple[int, str]], *, level: int = 0) -> None:
        """Make the row as high as its longest wrapped text needs; not every program does so.

        ``texts`` are (column, text); ``level`` folds the row away under a group's head.
        """
        lines = max(
            (_lines(clean(text, 2000), self.widths.get(col, 10.0)) for col, text in texts),
            default=1,
        )
        self.page.set_row(row, 13.5 * min(lines, 30), None, {"level": level} if level else {})

    def at(self, row: int, col: int, *, absolute: bool = False) -> str:
        """The address of a cell on this sheet, for a formula on this sheet."""
        return str(xl_rowcol_to_cell(row, col, row_abs=absolute, col_abs=absolute))

    def ref(self, row: int, col: int) -> str:
        """The address of a cell on this sheet, for a formula on another one."""
        return f"'{self.name}'!{self.at(row, col, absolute=True)}"

    def span(self, first: int, last: int, col: int) -> str:
        """The address of a piece of a column, for a formula on another sheet."""
        return f"{self.ref(first, col)}:{self.at(last, col, absolute=True)}"

    def print_columns(self, last_row: int, last_col: int) -> None:
        """Print no column beyond this one, so that the others stay large enough to be read."""
        self.page.print_area(0, 0, last_row, last_col)

    def print_setup(self, heading: str, *, repeat_row: int | None = None) -> None:
        """Landscape, one page wide; the plan's name above, page numbers below."""
        page = self.page
        page.set_paper(_PAPERS[self.paper])
        page.set_landscape()
        page.fit_to_pages(1, 0)
        page.set_margins(left=0.4, right=0.4, top=0.75, bottom=0.6)
        page.hide_gridlines(1)
        safe = clean(heading, 80).replace("&", "&&")
        page.set_header(f"&L{safe}&R&A")
        page.set_footer("&Lnot an approval: the inspector decides&RPage &P of &N")
        if repeat_row is not None:
            page.repeat_rows(repeat_row)

    def _bound(self, row: int) -> None:
        if row >= ROW_LIMIT:
            raise InputError(
                [
                    Fault(
                        code="workbook.too-long",
                        message="the plan has too many lines for a workbook",
                        value=f"more than {ROW_LIMIT} rows on the sheet {self.name}",
                        allowed=f"up to {ROW_LIMIT}",
                    )
                ]
            )
