"""The summary as a person reads it: a snapshot each, and what must come first."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from bomplan.design.records import Check, Objective, Plan
from bomplan.report.lines import WIDTH
from bomplan.report.page.answer import answer
from bomplan.report.reading import ranges_worst_first, tightest
from bomplan.report.terminal import check_rows, no_plan_text, summary, summary_rows
from bomplan.report.text import clean
from bomplan.report.units import Show, plain
from bomplan.report.workbook import workbook_bytes
from bomplan.requirements.cautions import DEFER

GOLDEN = Path(__file__).parents[2] / "golden" / "terminal"
MakePlan = Callable[..., Plan]


def same_as_golden(name: str, text: str) -> None:
    path = GOLDEN / f"{name}.txt"
    if os.environ.get("BOMPLAN_WRITE_GOLDEN"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


def with_failed_check(plan: Plan) -> Plan:
    broken = plan.checks[0].model_copy(update={"passed": False, "value": 960.0})
    return plan.model_copy(update={"checks": (*plan.checks[1:], broken)})


def test_optimal(make_plan: MakePlan) -> None:
    same_as_golden("optimal", summary(make_plan()))


def test_optimal_in_us_units(make_plan: MakePlan) -> None:
    same_as_golden("optimal-us", summary(make_plan(), "us"))


def test_failed(make_plan: MakePlan) -> None:
    same_as_golden("failed-check", summary(with_failed_check(make_plan())))


def test_feasible(make_plan: MakePlan) -> None:
    plan = make_plan(
        status="feasible",
        objective=Objective(minimise="price of the whole bill", value=754_555, bound=700_000),
    )
    same_as_golden("feasible", summary(plan))


@pytest.mark.parametrize("status", ["none", "unknown"])
def test_no_plan(make_no_plan: MakePlan, status: str) -> None:
    plan = make_no_plan(status)
    same_as_golden(f"no-plan-{status}", no_plan_text(plan))
    assert summary(plan) == no_plan_text(plan)


def test_checks(make_plan: MakePlan) -> None:
    rows = check_rows(with_failed_check(make_plan()).checks)
    same_as_golden("checks", "\n".join(row.text for row in rows) + "\n")
    assert rows[0].text.lstrip().startswith("NO")
    assert rows[0].tone == "bad"


def test_a_source_that_all_checks_share_is_told_once(make_plan: MakePlan) -> None:
    """As those of the limits that a weighing was held against."""
    same = [one.model_copy(update={"source": "weighing: done"}) for one in make_plan().checks]
    assert len(same) > 1
    told = [row.text for row in check_rows(same) if "source" in row.text]
    assert told == ["  source of all of them: weighing: done"]
    others = [*same[1:], same[0].model_copy(update={"source": "plate"})]
    told = [row.text.strip() for row in check_rows(others) if "source" in row.text]
    assert len(told) == len(others)
    assert "source: plate" in told
    unnamed = [one.model_copy(update={"source": ""}) for one in same]
    assert not any("source" in row.text for row in check_rows(unnamed))


@pytest.mark.parametrize("units", ["metric", "us"])
def test_fits_eighty_columns(make_plan: MakePlan, units: str) -> None:
    plan = with_failed_check(make_plan(cautions=("a long caution " * 20,), project="名" * 70))
    for row in summary_rows(plan, "us" if units == "us" else "metric"):
        assert len(row.text) <= WIDTH, row.text


def test_a_failure_and_the_worst_range_stand_before_the_choice(make_plan: MakePlan) -> None:
    text = summary(with_failed_check(make_plan()))
    assert text.index("NOT SOUND") < text.index("Failed checks") < text.index("Mind")
    assert text.index("Mind") < text.index("What to build")
    assert text.index("52.7 km") < text.index("84.2 km")
    assert "PROVEN CHEAPEST" not in text
    assert " ".join(DEFER.split()) in " ".join(text.split())


def test_unproven_is_never_called_proven(make_plan: MakePlan) -> None:
    for bound in (None, 700_000):
        plan = make_plan(
            status="feasible",
            objective=Objective(minimise="price of the whole bill", value=754_555, bound=bound),
        )
        assert "BEST FOUND, NOT PROVEN" in summary(plan)
        assert "PROVEN CHEAPEST" not in summary(plan)


def test_gap_is_rounded_up(make_plan: MakePlan) -> None:
    plan = make_plan(
        status="feasible",
        objective=Objective(minimise="price of the whole bill", value=100_000, bound=99_999),
    )
    assert "at most 0.1 % lower" in summary(plan)


def test_zero_margins_are_labelled(make_plan: MakePlan) -> None:
    used = {**make_plan().project_used, "margins": {"range": 0.0, "axle": 0.03}}
    assert "Made with zero margin on request (range)" in summary(make_plan(project_used=used))
    assert "zero margin" not in summary(make_plan())


def test_axle_bar(make_plan: MakePlan) -> None:
    plan = make_plan()
    assert plan.mass is not None
    rear = plan.mass.axles[1]
    loads = {940.0: "40 kg left (", 960.0: "20 kg left, within the margin", 999.6: "20 kg TOO MUCH"}
    for load, words in loads.items():
        axle = rear.model_copy(update={"load_kg": load})
        mass = plan.mass.model_copy(update={"axles": (axle,)})
        rows = summary_rows(plan.model_copy(update={"mass": mass}))
        (row,) = [row for row in rows if row.text.startswith("  rear")]
        assert words in row.text
        assert (row.tone == "bad") == (load > 950.6)
        assert row.text.count("#") + row.text.count(".") >= 18


def test_escape_sequences_do_not_reach_the_terminal(make_plan: MakePlan) -> None:
    plan = make_plan(cautions=("\x1b[2J\x1b]0;owned\x07 wiped", "two\nlines"))
    text = summary(plan)
    assert "\x1b" not in text
    assert "\x07" not in text
    assert "! two lines" in text


def test_clean() -> None:
    assert clean("a\x00b\u202ec\r\n d") == "abc d"
    assert clean("x" * 600) == "x" * 499 + "…"


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (1180.4, "1180"),
        (143.62, "143.6"),
        (51.75, "51.8"),
        (4.1, "4.10"),
        (138.0, "138"),
        (0.0225, "0.0225"),
        (0.00001, "0.0000100"),
        (0.0, "0"),
    ],
)
def test_plain(value: float, shown: str) -> None:
    assert plain(value) == shown


def test_us_units_round_trip_by_definition() -> None:
    show = Show("us")
    assert show.distance(160.9344) == "100.0 mi"
    assert show.mass(45.359237) == "100 lb"
    assert show.consumption(100 / 1.609344) == "100 Wh/mi"
    assert show.speed(88.51392) == "55.0 mph"
    assert show.figure(45.359237, "kg") == "100 lb"
    assert show.figure(131.4, "V") == "131.4 V"
    assert Show().distance(79.99) == "79.9 km"


def test_a_drive_without_end_is_told_in_words(make_plan: MakePlan) -> None:
    """A route that gives back what it takes: no million kilometres, no percentage over."""
    plan = make_plan()
    assert plan.performance is not None
    first, *others = plan.performance.ranges
    endless = first.model_copy(update={"end_cause": "endless", "range_km": 1_000_000.0})
    does = plan.performance.model_copy(update={"ranges": (endless, *others)})
    text = summary(plan.model_copy(update={"performance": does}))
    assert "endless" in text
    assert "1000000" not in text
    (line,) = (line for line in text.splitlines() if line.lstrip().startswith("endless  "))
    assert first.target in line


def test_what_the_plan_fills_or_sets_itself_is_not_the_least_room(make_plan: MakePlan) -> None:
    """A setting at its own limit leaves no room by design; a full bay comes after figures."""
    plan = make_plan()
    figures = [check.id for check in tightest(plan, 9)]
    full = Check(
        id="bay.room.bed", words="modules in bay bed against what fits", value=18, limit=18,
        unit="modules", sense="at most", passed=True, source="layout",
    )  # fmt: skip
    setting = full.model_copy(update={"id": "current.setting-controller", "unit": "A"})
    filled = plan.model_copy(update={"checks": (setting, full, *plan.checks)})
    assert figures
    assert [check.id for check in tightest(filled, 9)] == [*figures, full.id]


def test_a_budget_that_is_nearly_spent_binds_and_is_told_in_money(make_plan: MakePlan) -> None:
    plan = make_plan()
    spent = Check(
        id="money.budget", words="price of the whole bill against the budget", value=899_950,
        limit=900_000, unit="smallest units of EUR", sense="at most", passed=True,
        source="project",
    )  # fmt: skip
    near = plan.model_copy(update={"checks": (*plan.checks, spent)})
    assert tightest(near, 1) == (spent,)
    text = " ".join(summary(near).split())
    assert "8999.50 EUR, at most 9000.00 EUR" in text
    assert "smallest units" not in text
    yen = Show().figure(1200, "smallest units of JPY")
    assert (yen, Show(decimal_comma=True).figure(5, "smallest units of EUR")) == (
        "1200 JPY",
        "0,05 EUR",
    )
    row = next(one for one in summary_sheet(near) if spent.words in one)
    assert tuple(row[5:7]) == (8999.5, "at most 9000.00 EUR")


def test_the_workbook_rounds_what_to_count_on_down_as_the_summary_does(make_plan: MakePlan) -> None:
    plan = make_plan()
    assert plan.performance is not None
    ranges = [one.model_copy(update={"range_km": 52.79}) for one in plan.performance.ranges]
    driven = plan.performance.model_copy(update={"ranges": tuple(ranges)})
    flattered = plan.model_copy(update={"performance": driven})
    assert "Count on 52.7 km" in summary(flattered)
    assert 52.7 in [row[6] for row in summary_sheet(flattered)]


def test_a_range_that_hangs_at_a_hill_is_not_counted_on(make_plan: MakePlan) -> None:
    plan = make_plan()
    shortest, *_ = ranges_worst_first(plan)
    told = f"Do not lean on the 52.7 km of {shortest.target}: with a tenth more resistance in it"
    hangs = plan.model_copy(update={"cautions": (*plan.cautions, told)})
    labels = [row[6] for row in summary_sheet(plan)]
    assert "Count on" in summary(plan)
    assert "Count on" in labels
    assert "Count on" in [card.label for card in answer(plan, Show()).cards]
    assert "Do not lean on the 52.7 km" in summary(hangs)
    assert "Count on" not in summary(hangs)
    assert "Count on" not in [row[6] for row in summary_sheet(hangs)]
    assert "Count on" not in [card.label for card in answer(hangs, Show()).cards]


def test_of_which_limit_the_room_on_an_axle_is_told(make_plan: MakePlan) -> None:
    plan = make_plan()
    assert plan.mass is not None
    assert "left on an axle: up to its limit, margin not taken off" in summary(plan)
    limits = {f"{one.limit_kg:,.0f} kg" for one in plan.mass.axles}
    cells = [str(cell) for row in summary_sheet(plan) for cell in row[4:6]]
    told = [words.split(", to its ")[1] for words in cells if ", to its " in words]
    assert set(told) == limits


def summary_sheet(plan: Plan) -> list[list[object]]:
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan)))
    return [[cell.value for cell in row] for row in book["Summary"].iter_rows()]
