"""The report in a real browser: it asks for nothing, complains of nothing, and fits the screen.

Needs a browser on the path; the slow lane alone runs it.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from browser import BROWSER, POLICY, asked_for, browse, opened, said_on_the_console
from html_tree import tree
from shipped_examples import NAMES, plan_of, quick_plan

from bomplan import api
from bomplan.design.records import Plan
from bomplan.report.units import Show

MOST_BYTES = 1_500_000
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(BROWSER is None, reason="no browser on the path"),
]


def test_the_instruments_see_a_request_and_a_complaint(tmp_path: Path) -> None:
    page = api.report(quick_plan())
    leaky = POLICY.sub("", page).replace(
        "</main>", '<img alt="" src="http://127.0.0.1:9/leak.png"></main>'
    )
    browse(tmp_path, leaky, "--dump-dom")
    assert asked_for(tmp_path) == {"http://127.0.0.1:9/leak.png"}
    noisy = page.replace("</main>", "<script>console.error('no')</script></main>")
    # The policy forbids that script, and the browser says so.
    assert said_on_the_console(browse(tmp_path, noisy, "--dump-dom").stderr)


@pytest.mark.parametrize("name", NAMES)
def test_each_example(name: str, tmp_path: Path) -> None:
    plan: Plan = plan_of(name)
    page = api.report(plan)
    assert len(page.encode("utf-8")) <= MOST_BYTES
    found = browse(tmp_path, page, "--dump-dom")
    assert said_on_the_console(found.stderr) == []
    assert asked_for(tmp_path) == set()
    seen = tree(found.stdout.replace("<!DOCTYPE html>", ""))
    # Our own script has run, under the policy that forbids any other.
    reached = [one for one in seen.every("figure") if "data-reach" in one.attributes]
    assert reached
    for figure in reached:
        assert any(node.attributes.get("class") == "readout" for node in figure.every("p"))


@pytest.mark.parametrize("width", [360, 390, 1366])
@pytest.mark.parametrize("name", NAMES)
def test_nothing_sticks_out_of_the_screen(name: str, width: int, tmp_path: Path) -> None:
    """What is wider than the screen scrolls by itself; the page does not.

    In a frame of that width: no window of the browser is as narrow as a phone.
    """
    probe = (
        "<script>parent.postMessage([document.documentElement.scrollWidth,"
        " window.innerWidth].join(' '), '*')</script>"
    )
    (tmp_path / "inner.html").write_text(
        opened(api.report(plan_of(name))).replace("</body>", f"{probe}</body>"), "utf-8"
    )
    frame = (
        "<!doctype html><title>none</title>"
        "<script>window.onmessage = event => { document.title = event.data; }</script>"
        f'<iframe src="inner.html" width="{width}" height="900" style="border:0"></iframe>'
    )
    found = browse(tmp_path, frame, "--dump-dom", "--virtual-time-budget=20000")
    title = re.search(r"<title>(\d+) (\d+)</title>", found.stdout)
    assert title is not None
    assert int(title[2]) == width
    assert int(title[1]) <= width


def test_over_a_chart_the_nearest_row_of_its_table_is_told(tmp_path: Path) -> None:
    probe = (
        "<script>const figure = document.querySelector('figure[data-reach]');"
        " const box = figure.querySelector('svg').getBoundingClientRect();"
        " figure.querySelector('svg').dispatchEvent(new PointerEvent('pointermove',"
        " {clientX: box.left + box.width / 2, clientY: box.top + 9}));"
        " document.title = figure.querySelector('.readout').textContent;</script>"
    )
    page = api.report(quick_plan())
    open_page = POLICY.sub("", page)
    found = browse(tmp_path, open_page.replace("</body>", f"{probe}</body>"), "--dump-dom")
    figure = next(one for one in tree(page).every("figure") if "data-reach" in one.attributes)
    left, right, first, last = map(float, figure.attributes["data-reach"].split())
    at = first + (0.5 - left) / (right - left) * (last - first)
    table = figure.one("table")
    heads = [head.text() for head in table.one("thead").every("th")]
    row = min(
        (one for one in table.every("tr") if "data-at" in one.attributes),
        key=lambda one: abs(float(one.attributes["data-at"]) - at),
    )
    cells = [cell.text() for cell in row.every("th", "td")]
    told = ", ".join(f"{head} {cell}" for head, cell in zip(heads, cells, strict=True))
    assert f"<title>{told}</title>" in found.stdout


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="reads the print")
@pytest.mark.parametrize("name", NAMES)
def test_it_prints_with_the_answer_on_the_first_page(name: str, tmp_path: Path) -> None:
    plan = plan_of(name)
    out = tmp_path / "print.pdf"
    found = browse(
        tmp_path, api.report(plan, Show()), "--no-pdf-header-footer", f"--print-to-pdf={out}"
    )
    assert said_on_the_console(found.stderr) == []
    assert asked_for(tmp_path) == set()
    text = subprocess.run(
        ["pdftotext", "-layout", out, "-"], capture_output=True, text=True, check=True
    ).stdout
    pages = text.split("\f")[:-1]
    assert plan.performance is not None
    worst = min(one.range_km for one in plan.performance.ranges)
    for words in (plan.project, "Does it work?", Show().distance(worst), "What to mind"):
        assert words in pages[0]
    assert 8 <= len(pages) <= 40
    # What is folded on the screen is not printed, the checks are.
    assert "Every check, with its margin and source" in text
    assert "The whole bill, " not in text
    # Words have room: three short ones stand on a line, not one.
    checks = text.partition("Every check, with its margin and source")[2]
    for check in plan.checks:
        begin = " ".join(check.words.split()[:3])
        assert begin in checks or len(begin) > 20, check.words
    if plan.supply_12v is not None and plan.supply_12v.loads:
        assert "catalogue row, mean" in text
