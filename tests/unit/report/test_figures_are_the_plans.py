"""Every figure with a unit in report, terminal and driver's card stands in the plan file.

Read out of what a person sees, and looked for among all numbers of the file as JSON, each under
the unit that its key says. What is left must be one of the sums and differences written out
here. Ranges are rounded down in every output, speeds too.
"""

from __future__ import annotations

import io
import json
import math
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any, Final

import openpyxl
import pytest
from html_tree import tree
from shipped_examples import NAMES, plan_of

from bomplan import api
from bomplan.design.planfile import plan_bytes
from bomplan.design.records import Plan
from bomplan.project.countries import countries
from bomplan.report.terminal import summary
from bomplan.report.units import Show
from bomplan.report.workbook import workbook_bytes
from bomplan.sizing.wiring_12v import BLADES_A

UNITS: Final = ("km/h", "km", "Wh/km", "kWh", "kg", "V", "A", "EUR", "USD")
# How a key ends: the unit that it is told in, and what it is multiplied by for that.
KEYS: Final = {
    "_kmh": ("km/h", 1.0), "_m_s": ("km/h", 3.6), "_km": ("km", 1.0), "_m": ("km", 1e-3),
    "_wh_per_km": ("Wh/km", 1.0), "_kwh": ("kWh", 1.0), "_wh": ("kWh", 1e-3),
    "_kg": ("kg", 1.0), "_g": ("kg", 1e-3), "_v": ("V", 1.0), "_a": ("A", 1.0),
}  # fmt: skip
FIGURE: Final = re.compile(
    r"(?<![\w.,])(\d{1,3}(?:[ \u2009]\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?) "
    rf"({'|'.join(UNITS)})(?![\w/…])"
)
SEEN: Final = ("td", "th", "li", "p", "dd", "figcaption", "text", "title", "desc", "span")
Numbers = dict[str, set[float]]
FAST: Final = "courier-motorcycle"
EXAMPLES: Final = [
    pytest.param(name, marks=() if name == FAST else pytest.mark.slow) for name in NAMES
]


@cache
def report_of(name: str) -> str:
    return api.report(plan_of(name), Show())


def numbers_of(plan: Plan) -> Numbers:
    """Every number of the plan file by the unit that it is told in."""
    found: Numbers = defaultdict(set)
    money = plan.currency

    def walk(value: Any, key: str = "") -> None:
        if isinstance(value, bool) or value is None:
            return
        if isinstance(value, int | float):
            for end in sorted(KEYS, key=len, reverse=True):
                if key.endswith(end):
                    unit, times = KEYS[end]
                    found[unit].add(abs(value * times))
                    break
            if isinstance(value, int):
                found[money].add(abs(value) / 100)
        elif isinstance(value, str):
            for match in FIGURE.finditer(value):
                found[match[2]].add(number(match[1]))
        elif isinstance(value, dict):
            unit = value.get("unit")
            for name, inner in value.items():
                if name in ("value", "limit") and isinstance(inner, int | float):
                    found[str(unit)].add(abs(inner))
                if name.startswith("v_") and isinstance(inner, int | float):
                    found["V"].add(abs(inner))
                walk(inner, name)
        elif isinstance(value, list):
            for inner in value:
                walk(inner, key)

    walk(json.loads(plan_bytes(plan)))
    return found


def derived(plan: Plan) -> Numbers:
    """The sums and differences that the outputs make of it."""
    found: Numbers = defaultdict(set)
    assert plan.mass is not None
    assert plan.core is not None
    data = json.loads(plan_bytes(plan))
    for system in {line.system for line in plan.lines}:
        lines = [line for line in plan.lines if line.system == system]
        found[plan.currency].add(sum(line.price for line in lines) / 100)
        found["kg"].add(sum(round(1000 * line.mass_kg) for line in lines) / 1000)
    # What is in nobody's order.
    bought = [one for line in plan.lines for one in line.purchases if not one.supplier]
    found[plan.currency].add(sum(one.price for one in bought) / 100)
    found["kg"].add(sum(round(1000 * line.mass_kg) for line in plan.lines) / 1000)
    # Sold by the kilogram of modules: pieces of the line are kilograms.
    found["kg"] |= {line.quantity for line in plan.lines if line.family == "hold_down"}
    for axle in plan.mass.axles:
        found["kg"].add(abs(axle.limit_kg - axle.load_kg))
    country = countries().get(str(plan.project_used.get("country", "general")))
    if country is not None:  # the empty mass by its definition, and the driver in it
        found["kg"] |= {plan.mass.kerb_kg + country.driver_kg, float(country.driver_kg)}
    donor = data["project_used"]["donor"]
    for case in plan.mass.load_cases:
        found["kg"].add(donor["gross_limit_g"] / 1000 - case.laden_kg)
    found["kg"].add(sum(item["mass_g"] for item in donor["removed"]) / 1000)
    for load in data["project_used"]["load_cases"]:
        found["kg"].add(sum(item["mass_g"] for item in load["items"]) / 1000)
    assert plan.whole_sum is not None
    for heading in {item.kind for item in plan.whole_sum.items}:
        items = [item for item in plan.whole_sum.items if item.kind == heading]
        for end in ("low", "typical", "high"):
            found[plan.currency].add(sum(getattr(item, end) for item in items) / 100)
    # Each box and each section of it: so many modules in series, at rest and full.
    parts = {part["id"]: part["figures"] for part in data["parts_used"]["parts"]}
    module = parts[plan.core.module]
    for places in range(1, plan.core.series + 1):
        cells = places * module["cells_series"]
        found["V"] |= {cells * module["cell_v_nominal"], cells * module["cell_v_charge"]}
    assert plan.performance is not None
    ohms = {one["ohm"] for one in parts.values() if "ohm" in one}
    found["A"] |= {plan.performance.charge_v / ohm for ohm in ohms}
    # A circuit of the 12 V side has the next size of blade fuse.
    found["A"] |= set(BLADES_A)
    return found


def written(values: Iterable[float]) -> set[str]:
    """The ways in which a figure may be written: to the nearest (halves either way), or down."""
    found = set()
    for value in values:
        for digits in (0, 1, 2, 4, 7):
            scale = 10**digits
            down = math.floor(value * scale + 1e-6) / scale
            up_from_half = math.floor(value * scale + 0.5) / scale
            for text in (f"{one:.{digits}f}" for one in (value, down, up_from_half)):
                found |= {text, text.rstrip("0").rstrip(".") if digits > 2 else text}
    return found


def number(text: str) -> float:
    return float(text.replace(" ", "").replace("\u2009", ""))


def shown(page: str) -> Iterator[str]:
    for node in tree(page).one("body").every(*SEEN):
        yield node.text()


def unknown(texts: Iterable[str], plan: Plan) -> tuple[int, list[tuple[str, str]]]:
    """How many figures there are, and those that the plan does not hold."""
    plain = {unit: written(values) for unit, values in numbers_of(plan).items()}
    sums = {unit: written(values) for unit, values in derived(plan).items()}
    count, lost = 0, []
    for text in texts:
        for match in FIGURE.finditer(text.replace("\N{NO-BREAK SPACE}", " ")):
            count += 1
            figure, unit = re.sub("[ \u2009]", "", match[1]), match[2]
            if figure not in plain.get(unit, set()) | sums.get(unit, set()):
                around = text[max(0, match.start() - 60) : match.end()]
                lost.append((f"{figure} {unit}", around))
    return count, lost


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_figure_of_the_report(name: str) -> None:
    count, lost = unknown(shown(report_of(name)), plan_of(name))
    assert count > 1500
    assert lost == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_figure_of_the_terminal(name: str) -> None:
    count, lost = unknown([summary(plan_of(name))], plan_of(name))
    assert count > 50
    assert lost == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_figure_of_the_drivers_card(name: str) -> None:
    card = api.sheets(plan_of(name), Show())["drivers-card.html"]
    count, lost = unknown(shown(card), plan_of(name))
    assert count > 10
    assert lost == []


def test_a_figure_of_another_plan_is_seen() -> None:
    plan, page = plan_of(FAST), report_of(FAST)
    assert plan.performance is not None
    worst = Show().distance(min(one.range_km for one in plan.performance.ranges))
    wrong = page.replace(worst, "987.6 km")
    assert wrong != page
    _, lost = unknown(shown(wrong), plan)
    assert {figure for figure, _ in lost} == {"987.6 km"}


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_number_of_the_workbooks_ranges_and_checks(name: str) -> None:
    plan = plan_of(name)
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan)), data_only=True)
    checks = {
        row[-1]: row for row in book["Checks"].iter_rows(min_row=4, values_only=True) if row[-1]
    }
    told = 0
    for check in plan.checks:
        row = checks[check.id]
        if check.unit != "yes/no" and "money" not in check.id:
            # A spreadsheet file holds sixteen digits of the seventeen.
            assert row[2] == pytest.approx(check.value, rel=1e-15, abs=0), check.id
            told += 1
    assert told > 60
    assert plan.performance is not None
    ranges = {row[0]: row for row in book["Range and energy"].iter_rows(values_only=True)}
    for one in plan.performance.ranges:
        assert ranges[one.target][4] == one.range_km


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", EXAMPLES)
def test_a_range_reads_the_same_everywhere(name: str, units: Any) -> None:
    """Terminal, first screen, table, check and card: one rounding, never up."""
    plan, show = plan_of(name), Show(units)
    page, card = api.report(plan, show), api.sheets(plan, show)["drivers-card.html"]
    text = summary(plan, units).replace("\N{NO-BREAK SPACE}", " ")
    assert plan.performance is not None
    stated = {check.id: check for check in plan.checks}
    for one in plan.performance.ranges:
        far = show.distance(one.range_km)
        value = float(far.split()[0]) * (1.609344 if show.us else 1.0)
        assert value <= one.range_km + 1e-9
        check = stated[f"range.{one.target}"]
        assert show.judged(check.value, check.unit, check.sense) == far
        for place in (tree(page).one("body").text(), tree(card).one("body").text(), text):
            assert far in place.replace("\N{NO-BREAK SPACE}", " ")
