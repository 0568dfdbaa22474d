"""The sheets on paper, by a browser where there is one: the card fits one page, nothing is cut."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from sheet_plans import DRIVING, induction, lead, saved, steady

from bomplan import api
from bomplan.design.records import Plan

BROWSER = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome")
     if (found := shutil.which(name))), None
)  # fmt: skip
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(BROWSER is None, reason="no browser to print with"),
]


def pages(html: str, paper: str, folder: Path) -> int:
    """How many pages the browser makes of it."""
    assert BROWSER is not None
    page, printed = folder / "page.html", folder / "page.pdf"
    size = f"<style>@page {{ size: {paper}; }}</style></head>"
    page.write_text(html.replace("</head>", size), "utf-8")
    subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={printed}", page.as_uri()],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    return len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes()))


def fullest() -> Plan:
    """Every speed of the table, long names, every lamp."""
    speeds = (20, 30, 40, 50, 60, 80, 100, 120)
    long = "a day of the week with rather many words in it, and more of them"
    rows = [steady(kmh, 3, grade, 2.0 * kmh) for grade in (0.0, 0.05) for kmh in speeds]
    driving = DRIVING.model_copy(
        update={"steady": tuple(rows), "condition": long, "load_case": long}
    )
    plan = saved()
    assert plan.performance is not None
    far = plan.performance.ranges[0].model_copy(update={"target": long, "condition": long})
    performance = plan.performance.model_copy(update={"ranges": (far,) * 9})
    return saved(driving=driving, project=long, performance=performance)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    "plan", [saved(), induction(), lead(), saved(kind="motorcycle"), fullest()]
)
def test_the_card_is_one_page(plan: Plan, paper: str, tmp_path: Path) -> None:
    assert pages(api.sheets(plan)["drivers-card.html"], paper, tmp_path) == 1


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_rescuers_card_is_the_last_page_alone(paper: str, tmp_path: Path) -> None:
    page = api.sheets(saved())["inspectors-folder.html"]
    start = page.index('<section class="rescue">')
    without = page[:start] + page[page.index("</body>") :]
    whole = pages(page, paper, tmp_path)
    assert whole == pages(without, paper, tmp_path) + 1
    assert whole >= 5
