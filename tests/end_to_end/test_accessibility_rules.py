"""Report and printed sheets against the rules of axe-core, in a browser.

Needs a browser on the path and axe-core (``npm install axe-core``, or its file named by
``AXE_CORE``), which is no part of the project. The slow lane alone runs it.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from browser import BROWSER, axe, axe_file
from shipped_examples import NAMES, plan_of, quick_plan

from bomplan import api
from bomplan.report.units import Show

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(BROWSER is None, reason="no browser on the path"),
    pytest.mark.skipif(axe_file() is None, reason="no axe-core: npm install axe-core, or AXE_CORE"),
]
PHONE, LAPTOP = 500, 1366  # no window of the browser is narrower; the phone's layout begins at 640


def broken(found: dict[str, object]) -> str:
    return json.dumps(found["violations"], indent=1)


def test_the_checker_sees_what_is_wrong(tmp_path: Path) -> None:
    page = api.report(quick_plan())
    bad = page.replace(
        "</main>", '<img src="data:,"><p style="color:#aaa;background:#fff">faint</p></main>'
    )
    found = axe(tmp_path, bad, LAPTOP)
    assert {one["id"] for one in found["violations"]} >= {"image-alt", "color-contrast"}


@pytest.mark.parametrize("width", [PHONE, LAPTOP])
@pytest.mark.parametrize("name", NAMES)
def test_each_report(name: str, width: int, tmp_path: Path) -> None:
    found = axe(tmp_path, api.report(plan_of(name), Show("us", True)), width)
    assert found["violations"] == [], broken(found)
    assert len(found["passes"]) >= 40
    # What it cannot decide is the ground behind letters of drawings (test_page_access.py does)
    # and, on a phone, behind what lies outside the screen until somebody scrolls.
    assert {one["id"] for one in found["incomplete"]} <= {"color-contrast"}
    open_ones = [node for one in found["incomplete"] for node in one["nodes"]]
    if width == LAPTOP:
        assert [one for one in open_ones if not one["html"].startswith(("<text", "<tspan"))] == []


@pytest.mark.parametrize("name", NAMES)
def test_each_printed_sheet(name: str, tmp_path: Path) -> None:
    for sheet, page in api.sheets(plan_of(name)).items():
        found = axe(tmp_path, page, LAPTOP)
        assert found["violations"] == [], (sheet, broken(found))
        assert len(found["passes"]) >= 18, sheet
