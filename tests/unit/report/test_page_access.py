"""Rules of WCAG 2.2 that a page can be held to without a person, on a whole report."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise

import pytest
from html_tree import Node, tree
from shipped_examples import quick_page

from bomplan.report.page import palette
from bomplan.report.page.palette import SERIES, contrast


@cache
def page() -> Node:
    return tree(quick_page())


def test_language_title_and_zoom() -> None:
    assert page().one("html").attributes["lang"] == "en"
    titles = list(page().one("head").every("title"))
    assert titles[0].text().startswith("Market garden pickup")
    (port,) = (m for m in page().every("meta") if m.attributes.get("name") == "viewport")
    assert "user-scalable" not in port.attributes["content"]
    assert "maximum-scale" not in port.attributes["content"]


def test_headings_run_down_without_a_gap() -> None:
    levels = [int(node.tag[1]) for node in page().every("h1", "h2", "h3", "h4", "h5", "h6")]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(node.text() for node in page().every("h1", "h2", "h3"))


def test_landmarks() -> None:
    for tag in ("header", "main", "nav", "footer"):
        assert len(list(page().every(tag))) == 1
    assert page().one("nav").attributes["aria-label"]
    for section in page().every("section"):
        assert page().by_id(section.attributes["aria-labelledby"]).tag == "h2"


def test_every_picture_has_a_name_and_says_what_it_shows() -> None:
    pictures = list(page().every("svg"))
    assert len(pictures) >= 7
    for svg in pictures:
        assert svg.attributes["role"] == "img"
        named = [page().by_id(name) for name in svg.attributes["aria-labelledby"].split()]
        assert [node.tag for node in named] == ["title", "desc"]
        assert all(len(node.text()) > 8 for node in named)
        figure = svg.parent
        while figure is not None and figure.tag != "figure":
            figure = figure.parent
        assert figure is not None
        assert figure.one("figcaption").text()


def test_every_chart_has_a_table_of_its_figures() -> None:
    """In the same figure, or, for the costs, right below it."""
    for figure in page().every("figure"):
        title = next(figure.every("title"))
        if title.attributes["id"].startswith("chart-") and "cost" not in title.attributes["id"]:
            assert len(list(figure.every("table"))) == 1, title.text()


def test_tables_have_captions_and_scoped_heads() -> None:
    for table in page().every("table"):
        assert table.one("caption").text()
        heads = list(table.one("thead").every("th"))
        assert all(head.attributes["scope"] == "col" and head.text() for head in heads)
        for row in table.one("tbody").every("tr"):
            cells = list(row.every("th", "td"))
            assert len(cells) == len(heads)
            assert cells[0].attributes["scope"] == "row"


def test_what_scrolls_can_be_reached_by_keyboard_and_has_a_name() -> None:
    for node in page().every("div"):
        if node.attributes.get("class") == "sideways":
            assert node.attributes["tabindex"] == "0"
            assert node.attributes["role"] == "region"
            assert node.attributes["aria-label"]
    regions = [n.attributes["aria-label"] for n in page().every("div") if "role" in n.attributes]
    assert len(regions) == len(set(regions)), sorted(regions)
    assert all(int(n.attributes.get("tabindex", "0")) <= 0 for n in page().every())


def test_links_and_summaries_say_where_they_lead() -> None:
    for node in page().every("a", "summary"):
        assert node.text()
    assert all(node.parent is not None and node.parent.tag == "details"
               for node in page().every("summary"))  # fmt: skip


def test_only_words_tell_a_failed_check_apart() -> None:
    """Not by colour alone (1.4.1): the row says NO, and is set in bold."""
    style = "".join(map(str, page().one("style").children))
    assert re.search(r"tr\.bad th, tr\.bad td \{ font-weight: 650", style)


@pytest.mark.parametrize("name", ["INK", "QUIET", "LINK", "GOOD", "CAUTION", "BAD"])
def test_words_stand_out_from_their_ground(name: str) -> None:
    """1.4.3: 4.5 for text, on paper and on the ground of charts."""
    colour = getattr(palette, name)
    assert contrast(colour, palette.PAPER) >= 4.5
    assert contrast(colour, palette.GROUND) >= 4.5


def test_letters_of_drawings_stand_out_from_every_ground() -> None:
    """1.4.3, which a checker cannot decide over a drawing: what they may stand on is light."""
    letters = {node.attributes.get("fill") for node in page().every("text", "tspan")} - {None}
    assert letters
    for colour in letters:
        long = {"#000": "#000000"}.get(colour, colour)
        assert contrast(long, palette.GROUND) >= 4.5, colour


def test_marks_of_charts_stand_out_and_differ_without_colour() -> None:
    """1.4.11: 3 for graphics; and every series has a mark, a dash or a hatch of its own."""
    for one in SERIES:
        assert contrast(one.colour, palette.GROUND) >= 3, one
    assert len({one.marker for one in SERIES}) == len(SERIES)
    assert len({one.hatch for one in SERIES}) == len(SERIES)
    assert len({(one.dash, one.marker) for one in SERIES}) == len(SERIES)


def test_the_formula_of_contrast_against_known_pairs() -> None:
    """WCAG 2.2: black on white 21, a colour on itself 1; #767676 just passes 4.5 on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#d55e00", "#d55e00") == pytest.approx(1.0)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_colours_come_from_the_palette_alone() -> None:
    """No colour in the style sheet that the contrast rules above do not know."""
    style = "".join(map(str, page().one("style").children))
    known = {value.lower() for value in vars(palette).values() if isinstance(value, str)}
    used = {one.lower() for one in re.findall(r"#[0-9a-fA-F]{3,8}\b", style)}
    assert used <= known
    assert "var(--" not in style
    assert not re.search(r": --\w", style)
