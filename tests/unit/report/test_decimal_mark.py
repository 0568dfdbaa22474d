"""The decimal comma: in what is shown, on figures alone, and nowhere in files."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

import pytest

from bomplan import api
from bomplan.design.planfile import plan_bytes
from bomplan.design.records import Plan
from bomplan.report.terminal import check_rows, summary
from bomplan.report.units import Show

COMMA = Show(decimal_comma=True)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("87.6 V against 4.5 kWh", "87,6 V against 4,5 kWh"),
        ("12.5 % more", "12,5 % more"),
        ("bolt m8.1 and id cell-3.2", "bolt m8.1 and id cell-3.2"),
        ("IEC 60364-5-52, table B.52.2", "IEC 60364-5-52, table B.52.2"),
        ("section 6.2 of the standard", "section 6.2 of the standard"),
        ("version 1.2.3 V", "version 1.2.3 V"),
        ("(24 cells at 3.65 V = 87.6 V)", "(24 cells at 3,65 V = 87,6 V)"),
    ],
)
def test_figures_in_words(text: str, shown: str) -> None:
    assert COMMA.words(text) == shown
    assert Show().words(text) == text


def test_figures_with_their_unit() -> None:
    assert COMMA.distance(12.34) == "12,3 km"
    assert COMMA.figure(0.25, "m") == "0,25 m"
    assert Show("us", decimal_comma=True).speed(100) == "62,1 mph"
    assert COMMA.figure(1234.0, "kg") == "1234 kg"


def test_a_summary_says_the_same_with_another_mark(make_plan: Callable[..., Plan]) -> None:
    plan = make_plan()
    point, comma = summary(plan), summary(plan, COMMA)
    assert point != comma
    assert point == summary(plan, "metric")
    assert comma.replace(",", ".") == point.replace(",", ".")
    # What is left with a point is no figure with a unit.
    left = re.findall(r"(?<![\w.-])\d+\.\d+ (?:km|V|A|kWh|Wh|kg|%|h)\b", comma)
    assert left == []


def test_checks_follow(make_plan: Callable[..., Plan]) -> None:
    plan = make_plan()
    rows = "\n".join(row.text for row in check_rows(plan.checks, COMMA))
    same = "\n".join(row.text for row in check_rows(plan.checks))
    assert rows.replace(",", ".") == same.replace(",", ".")


def test_files_know_nothing_of_it(make_plan: Callable[..., Plan]) -> None:
    plan = make_plan()
    before = plan_bytes(plan)
    assert api.summary(plan, "us") != api.summary(plan, Show("us", decimal_comma=True))
    assert plan_bytes(plan) == before
    assert json.loads(before)["objective"]["value"] == plan.objective.value


@pytest.mark.parametrize(
    ("value", "unit", "sense", "shown"),
    [
        (59.279, "km", "at least", "59.2 km"),
        (59.3, "km", "at least", "59.3 km"),
        (93.99, "km/h", "at least", "93.9 km/h"),
        (93.91, "km/h", "at most", "94.0 km/h"),
        (106.0, "km", "at least", "106.0 km"),
        (115.26, "kg", "at most", "115.3 kg"),
        (float("inf"), "km", "at least", "inf km"),
    ],
)
def test_a_judged_distance_or_speed_is_never_flattered(
    value: float, unit: str, sense: str, shown: str
) -> None:
    assert Show().judged(value, unit, sense) == shown


def test_a_judged_distance_is_the_same_as_any_other_in_every_unit() -> None:
    """59.279 km are 36.834 mi: the nearest tenth is the lower one; 59.35 km are 36.878."""
    for show in (Show(), Show("us"), Show(decimal_comma=True)):
        assert show.judged(59.35, "km", "at least") == show.distance(59.35)
    assert Show("us").judged(59.35, "km", "at least") == "36.8 mi"
    assert Show("us").judged(59.35, "km", "at most") == "36.9 mi"
