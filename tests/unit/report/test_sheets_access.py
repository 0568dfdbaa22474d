"""The sheets for whoever hears them or walks through them by keyboard."""

from __future__ import annotations

from itertools import pairwise

import pytest
from html_tree import tree
from sheet_plans import induction, lead, saved

from bomplan import api
from bomplan.design.records import Plan

CASES = [
    pytest.param(plan, name, id=f"{words}-{name}")
    for words, plan in (("series", saved()), ("inverter", induction()), ("lead", lead()))
    for name in ("check-sheets.html", "drivers-card.html", "inspectors-folder.html")
]


@pytest.mark.parametrize(("plan", "name"), CASES)
def test_headings_tables_and_pictures_say_what_they_are(plan: Plan, name: str) -> None:
    page = tree(api.sheets(plan)[name])
    assert page.one("html").attributes["lang"] == "en"
    assert next(page.one("head").every("title")).text().endswith(plan.project)
    assert len(list(page.every("main"))) == 1
    levels = [int(node.tag[1]) for node in page.every("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    tables = list(page.every("table"))
    assert tables
    for table in tables:
        assert table.one("caption").text()
        for head in table.every("th"):
            assert head.attributes["scope"] in ("row", "col", "colgroup")
            assert head.text()
    for picture in page.every("svg"):
        assert picture.attributes["role"] == "img"
        assert next(picture.every("title")).text()
