"""Reads the printed sheets back for their tests."""

from __future__ import annotations

from html.parser import HTMLParser


class Reader(HTMLParser):
    """Tables as rows of cells, every word, tags and attributes of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.tags: list[str] = []
        self.links: list[str] = []
        self.words = ""
        self.inside = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for key, value in attrs if key in ("src", "href", "xlink:href")]
        self.links += [key for key, _ in attrs if key.startswith("on")]
        if tag in ("style", "td", "th"):
            self.inside = tag
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:
        if tag == self.inside:
            self.inside = ""

    def handle_data(self, data: str) -> None:
        if self.inside == "style":
            return
        data = data.replace("\N{NO-BREAK SPACE}", " ")
        self.words += data
        if self.inside:
            self.rows[-1][-1] += data

    def wanted(self, start: str) -> str:
        """The second cell of the first row whose first cell begins so."""
        return next(row[1] for row in self.rows if row and row[0].startswith(start))
