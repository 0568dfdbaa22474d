"""The report: its figures are the plan's, it needs and runs nothing else, it is the same twice."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from html_tree import Node, tree
from shipped_examples import quick_page, quick_plan

from bomplan import api
from bomplan.design.planfile import plan_bytes
from bomplan.design.records import Plan
from bomplan.report.lines import exact_money, whole_money
from bomplan.report.page.energy import SHARES
from bomplan.report.page.inline import inline_svg
from bomplan.report.page.palette import contrast
from bomplan.report.page.template import policy
from bomplan.report.standing_words import instead_words, slack_words
from bomplan.report.terminal import summary
from bomplan.report.units import Show
from bomplan.report.workbook import workbook_bytes

ROOT = Path(__file__).parents[3]
MOST_BYTES = 1_500_000
MakePlan = Callable[..., Plan]


def plain_text(page: str) -> str:
    return tree(page).one("body").text()


# -- figures ---------------------------------------------------------------------------------


def test_first_screen_says_what_the_plan_says() -> None:
    plan, body = quick_plan(), tree(quick_page())
    first = body.by_id("answer").text()
    assert plan.mass is not None
    worst = min(plan.performance.ranges, key=lambda one: one.range_km)  # type: ignore[union-attr]
    show = Show()
    assert f"Count on {show.distance(worst.range_km)}" in first
    assert plan.objective.value is not None
    assert whole_money(plan.objective.value, plan.currency) in first
    assert f"laden {show.mass(plan.mass.laden_kg)}" in first
    assert "PROVEN CHEAPEST" in first
    # The worst range stands before the others.
    figures = [node.text() for node in body.by_id("answer").every("span")]
    assert figures.index(show.distance(worst.range_km)) < 3


def rows_of(page: Node, caption: str) -> list[list[str]]:
    (table,) = (
        node
        for node in page.every("table")
        if re.fullmatch(f"{caption}(, .*)?", node.one("caption").text())
    )
    return [
        [cell.text() for cell in row.every("th", "td")] for row in table.one("tbody").every("tr")
    ]


def test_every_line_check_axle_and_range_is_there_with_the_plans_figures() -> None:
    plan, page, show = quick_plan(), tree(quick_page()), Show()
    bill = rows_of(page, "The whole bill")
    assert [(row[0], row[5]) for row in bill] == [
        (line.part, exact_money(line.price, plan.currency)) for line in plan.lines
    ]
    close = rows_of(page, "How close, and what else")
    assert [(row[0], row[1], row[2]) for row in close] == [
        (
            line.part,
            slack_words(line.standing, show),
            instead_words(line.standing, plan.currency, show),
        )
        for line in plan.lines
        if line.standing is not None
    ]
    assert len(close) > 20
    by_system = rows_of(page, "Cost, mass and own work of each system")
    assert by_system[-1][1] == exact_money(plan.objective.value or 0, plan.currency)
    checks = rows_of(page, "Checks")
    assert len(checks) == len(plan.checks)
    shown = {(row[0], row[2], row[5]) for row in checks}
    for check in plan.checks:
        judged = show.judged(check.value, check.unit, check.sense)
        value = "" if check.unit == "yes/no" else judged
        assert (" ".join(check.words.split()), value, check.source) in shown
    axles = rows_of(page, "Axle loads")
    assert plan.mass is not None
    assert [row[2] for row in axles] == [show.mass(axle.load_kg) for axle in plan.mass.axles]
    ranges = rows_of(page, "Ranges, worst first")
    assert plan.performance is not None
    assert [row[4] for row in ranges] == [
        show.distance(one.range_km)
        for one in sorted(plan.performance.ranges, key=lambda one: one.range_km)
    ]
    assert plan.driving is not None
    assert len(rows_of(page, "Steady speeds")) == len(plan.driving.steady)
    assert len(rows_of(page, "Every mass and where it sits")) == len(plan.mass.weights.items)  # type: ignore[union-attr]


def test_report_and_workbook_tell_the_same_figures() -> None:
    """What the cells of the workbook hold, rounded as the page shows it, stands on the page."""
    plan, page, show = quick_plan(), tree(quick_page()), Show()
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan)), data_only=True)
    checks = {(row[0], row[2]) for row in rows_of(page, "Checks")}
    count = 0
    for row in book["Checks"].iter_rows(min_row=4, max_col=6, values_only=True):
        if row[1] is None or row[5] == "yes/no":
            continue
        figure = show.judged(float(row[2]), str(row[5]), str(row[3]))
        assert (" ".join(str(row[1]).split()), figure) in checks
        count += 1
    assert count > 80
    ranges = {row[0]: row for row in rows_of(page, "Ranges, worst first")}
    for row in book["Range and energy"].iter_rows(min_row=4, max_col=15, values_only=True):
        if row[0] not in ranges:
            break
        shown = ranges.pop(row[0])
        assert shown[4:6] == [show.distance(row[4]), show.nearest_distance(row[5])]
        assert shown[7:9] == [show.consumption(row[9]), show.consumption(row[10])]
        assert shown[9:] == [f"{row[12]:.0f} V", f"{row[13]:.0f} A", row[14]]
    assert ranges == {}
    bill = [(row[0], row[5]) for row in rows_of(page, "The whole bill")]
    heads: dict[object, int] = {}
    for line in book["Bill"].iter_rows(values_only=True):
        if "Part" in line:
            heads = {name: place for place, name in enumerate(line)}
        elif heads and line[heads["Part"]] and line[heads["Family"]]:
            price = line[heads[f"Price {plan.currency}"]]
            bill.remove((str(line[heads["Part"]]), f"{price:.2f} {plan.currency}"))
    assert bill == []


def test_the_page_has_every_order_to_the_cent() -> None:
    plan, page = quick_plan(), plain_text(quick_page())
    assert plan.invoices
    for invoice in plan.invoices:
        total = exact_money(invoice.total, plan.currency)
        assert f"Order at {invoice.supplier}: {total}" in page


def test_report_and_terminal_tell_the_same_figures() -> None:
    """Every figure with its unit that the summary shows stands on the page, too."""
    text = plain_text(quick_page()).replace("\N{NO-BREAK SPACE}", " ")
    figure = re.compile(
        r"(?<!\d)(?:\d{1,3}(?: \d{3})+|\d+)(?:\.\d+)? (?:km|kg|V|A|kWh|%|EUR|mm)(?![\w/])"
    )
    found = figure.findall(summary(quick_plan()))
    assert len(found) > 60
    assert {one for one in found if one not in text} == set()


def test_other_units_and_the_decimal_comma_change_nothing_else() -> None:
    plan = quick_plan()
    comma = plain_text(api.report(plan, Show(decimal_comma=True)))
    point = plain_text(quick_page())
    assert comma != point
    assert comma.replace(",", ".") == point.replace(",", ".")
    assert re.findall(r"(?<![\w.-])\d+\.\d+ (?:km|V|A|kWh|Wh|kg|%|h|EUR)\b", comma) == []
    # The names of checks and what the project says keep the units in which they were written.
    us = tree(api.report(plan, Show("us")))
    for name in ("answer", "far", "drives"):
        assert not re.search(r"\d (?:km/h|Wh/km|kg)\b", us.by_id(name).text())
    assert " mph" in us.by_id("drives").text()
    assert " lb" in us.by_id("mass").text()


def test_without_being_told_it_shows_figures_as_the_project_wishes(make_plan: MakePlan) -> None:
    wished = {**make_plan().project_used, "show": {"units": "us", "decimal_comma": True}}
    plan = make_plan(project_used=wished)
    assert api.report(plan) == api.report(plan, Show("us", True)) != api.report(plan, Show())


def test_a_failed_check_comes_first(make_plan: MakePlan) -> None:
    plan = make_plan()
    wrong = plan.checks[0].model_copy(update={"passed": False, "value": 999.0})
    page = tree(api.report(plan.model_copy(update={"checks": (*plan.checks[1:], wrong)})))
    first = page.by_id("answer")
    assert "bad" in first.attributes["class"]
    assert "No. It fails checks; do not buy" in first.text()
    assert rows_of(page, "Checks")[0][:3] == [wrong.words, "NO", "999 kg"]


@pytest.mark.parametrize("status", ["none", "unknown"])
def test_without_a_plan_it_says_why(status: str, make_no_plan: MakePlan) -> None:
    plan = make_no_plan(status)
    text = plain_text(api.report(plan))
    assert all(reason in text for reason in plan.reasons)
    assert ("No. Nothing in this catalogue" in text) == (status == "none")
    assert "<figure" not in api.report(plan)


def test_without_a_plan_no_plot_library_is_loaded() -> None:
    code = (
        "import sys; sys.path.insert(0, 'tests/unit')\n"
        "from conftest import without_plan\n"
        "from bomplan import api\n"
        "api.report(without_plan())\n"
        "assert 'matplotlib' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)


def test_the_plan_of_a_released_version_has_a_report() -> None:
    for path in sorted((ROOT / "tests" / "golden" / "released").glob("*/plan.json")):
        plan = api.read_plan(path)
        page = tree(api.report(plan))
        assert plan.project in page.one("h1").text()
        assert len(rows_of(page, "Checks")) == len(plan.checks)


def test_an_older_plan_without_weighing_and_driving_has_a_report(make_plan: MakePlan) -> None:
    page = tree(api.report(make_plan()))
    ids = [node.attributes["id"] for node in page.every("section")]
    assert ids == ["answer", "mind", "choice", "cost", "mass", "far", "drives", "binds", "others",
                   "checks", "origin"]  # fmt: skip


def test_a_plan_of_parts_at_hand_and_one_that_cannot_move_have_a_report() -> None:
    plan = quick_plan()
    assert plan.driving is not None
    curves = plan.driving.curves
    assert curves is not None
    free = tuple(one.model_copy(update={"price": 0, "unit_price": 0}) for one in plan.lines)
    nought = (0.0,) * len(curves.road[0].speed_kmh)
    still = curves.model_copy(
        update={
            "energy": (),
            "traces": (),
            "road": tuple(one.model_copy(update={"speed_kmh": nought}) for one in curves.road),
            "thrust": tuple(
                one.model_copy(update={"minute_n": nought, "half_hour_n": nought})
                for one in curves.thrust
            ),
        }
    )
    driving = plan.driving.model_copy(update={"curves": still, "steady": (), "ranges": ()})
    page = tree(api.report(plan.model_copy(update={"lines": free, "driving": driving})))
    assert "chart-cost-title" in {node.attributes.get("id") for node in page.every("title")}


def test_every_share_of_the_energy_differs_from_the_next_in_grey() -> None:
    """In lightness by half at least, as a grey print shows it."""
    for (_, one, colour, _), (_, other, beside, _) in pairwise(SHARES):
        assert contrast(colour, beside) >= 1.5, (one, other)
    dark = [(contrast(colour, "#ffffff") > 4.5, hatch) for _, _, colour, hatch in SHARES]
    assert len(set(dark)) == len(SHARES)


# -- markup --------------------------------------------------------------------------------

EVIL = '"><script>x()</script>{{7*7}}$'
WORSE = "</title></style></svg><img src=x onerror=x(2)>&lt;]]>'\u202e\x07-->"


WRITTEN = frozenset(
    ("project", "description", "why", "words", "source", "caution", "name", "bay", "target",
     "condition", "load_case", "note", "what", "profile", "system", "spread")
)  # fmt: skip


def poisoned(data: Any) -> Any:
    """Every text of a plan that a person may write, with markup behind it, references alike."""
    if isinstance(data, list):
        return [poisoned(one) for one in data]
    if not isinstance(data, dict):
        return data
    # The names of axles are ours.
    ours = {"name"} if "allowed_kg" in data else set()
    return {
        key: f"{value}{EVIL}"
        if value and isinstance(value, str) and key in WRITTEN - ours
        else poisoned(value)
        for key, value in data.items()
    }


@pytest.mark.parametrize("which", ["sample", "whole"])
def test_markup_in_any_text_does_nothing(which: str, make_plan: MakePlan) -> None:
    sound = make_plan() if which == "sample" else quick_plan()
    data = poisoned(sound.model_dump(mode="json"))
    data["cautions"] = [WORSE]
    if which == "sample":  # in a whole plan suppliers are looked up by it
        data["lines"] = [{**line, "supplier": EVIL} for line in data["lines"]]
    page = api.report(Plan.model_validate_json(json.dumps(data)))
    found = tree(page)
    assert len(list(found.every("script"))) == 1
    assert list(found.every("img", "iframe", "object", "embed", "link", "form")) == []
    assert not any(name.startswith("on") for node in found.every() for name in node.attributes)
    # It stands there as text, to the letter.
    assert '"><script>x()</script>' in found.one("h1").text()
    assert "{{7*7}}" in found.one("h1").text()
    assert "49" not in found.one("h1").text()


# -- one file ------------------------------------------------------------------------------


def test_nothing_leads_out_of_the_file() -> None:
    page = tree(quick_page())
    for node in page.every():
        for name, value in node.attributes.items():
            if name in ("href", "xlink:href"):
                assert value.startswith("#"), (node.tag, value)
            assert name not in ("src", "srcset", "style", "action", "background", "data"), node.tag
            assert "url(" not in re.sub(r"url\(#[\w-]+\)", "", value)
    text = quick_page().replace("http://www.w3.org/2000/svg", "")
    assert "http:" not in text
    assert "https:" not in text
    assert "//www" not in text
    assert "@import" not in text
    assert "@font-face" not in text
    assert len(quick_page().encode()) <= MOST_BYTES


def test_the_policy_names_our_style_and_script_and_nothing_else() -> None:
    page = tree(quick_page())
    (meta,) = (m for m in page.every("meta") if m.attributes.get("http-equiv"))
    style, script = ("".join(map(str, page.one(tag).children)) for tag in ("style", "script"))
    assert meta.attributes["http-equiv"] == "Content-Security-Policy"
    assert meta.attributes["content"] == policy(style, script)
    assert meta.attributes["content"].startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in meta.attributes["content"]


def test_links_within_the_page_lead_somewhere() -> None:
    page = tree(quick_page())
    ids = [node.attributes["id"] for node in page.every() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    for node in page.every():
        if "href" in node.attributes:
            assert node.attributes["href"][1:] in ids
        for reference in re.findall(r"url\(#([\w-]+)\)", " ".join(node.attributes.values())):
            assert reference in ids


def test_same_bytes_whatever_the_reader_set_in_matplotlib(tmp_path: Path) -> None:
    (tmp_path / "matplotlibrc").write_text(
        "lines.linewidth: 9\nfont.size: 30\naxes.grid: False\nsvg.fonttype: path\n", "utf-8"
    )
    (tmp_path / "plan.json").write_bytes(plan_bytes(quick_plan()))
    code = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r}); from bomplan import api\n"
        "page = api.report(api.read_plan('plan.json'))\n"
        "sys.stdout.buffer.write(page.encode())\n"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        check=True,
        capture_output=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONHASHSEED": "4711"},
    )
    assert done.stdout.decode() == quick_page()
    assert str(tmp_path) not in done.stdout.decode()


# -- drawings ------------------------------------------------------------------------------


def test_a_drawing_keeps_its_picture_and_nothing_that_runs_or_leaks() -> None:
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        ' viewBox="0 0 4 4" onload="x()"><style>*{fill:red}</style><script>x()</script>'
        '<defs><path id="a" d="M 0 0\nL 1.23456 1"/></defs><foreignObject/>'
        '<use xlink:href="#a" style="fill: url(#a); font: 700 9px serif"/>'
        '<use href="https://example.org/#a" fill="url(https://example.org)"/></svg>'
    )
    made = inline_svg(text, "p", "A & B", "<b>")
    assert "script" not in made
    assert "style" not in made
    assert "example" not in made
    assert "foreign" not in made
    assert "onload" not in made
    assert '<title id="p-title">A &amp; B</title>' in made
    assert 'aria-labelledby="p-title p-desc"' in made
    assert 'd="M 0 0 L 1.23 1"' in made
    assert '<use fill="url(#p-0)" font-size="9" font-weight="700" href="#p-0"' in made or (
        'href="#p-0"' in made and 'fill="url(#p-0)"' in made and 'font-weight="700"' in made
    )


def test_what_is_no_drawing_is_refused() -> None:
    with pytest.raises(ValueError, match="no drawing"):
        inline_svg("<svg", "p")
