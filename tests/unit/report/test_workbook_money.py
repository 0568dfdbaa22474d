"""The sheets of money, days, driving and wheels: live, right, and the same as the program's."""

from __future__ import annotations

import io
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from live_workbook import Live
from money_plan import NASTY, money_plan
from shipped_examples import quick_plan

from bomplan.buying.ledger import Entry, Ledger
from bomplan.design.buying_order import GATE_IDS
from bomplan.design.records import Plan
from bomplan.report.workbook import workbook_bytes
from bomplan.report.workbook.sheet import paper_of

MakePlan = Callable[..., Plan]
NEW = {"Whole sum", "Wheels", "Driving", "Buying order"}


def sheets(plan: Plan, ledger: Ledger | None = None) -> Any:
    return openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan, ledger)), data_only=True)


def find(sheet: Any, text: str) -> Any:
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value == text:
                return cell
    raise AssertionError(f"{text!r} is not on {sheet.title}")


def test_sheets_stand_where_the_plan_has_their_records(make_plan: MakePlan) -> None:
    assert set(sheets(money_plan()).sheetnames) >= NEW
    assert not set(sheets(make_plan()).sheetnames) & NEW


def test_stored_values_are_what_an_engine_gives(tmp_path: Path) -> None:
    content = workbook_bytes(money_plan())
    assert Live(content, tmp_path).agrees_with(content) > 1000


def test_the_whole_sum_is_the_plans() -> None:
    plan = money_plan()
    assert plan.whole_sum is not None
    book = sheets(plan)
    row = find(book["Whole sum"], "All in all").row
    got = [book["Whole sum"].cell(row, column).value for column in (4, 5, 6)]
    told = plan.whole_sum
    assert got == [told.low / 100, told.typical / 100, told.high / 100]
    summary = book["Summary"]
    row = find(summary, "All in all").row
    assert summary.cell(row, 2).value == told.typical / 100
    assert summary["A7"].value == told.typical / 100
    assert summary.cell(find(summary, "if all goes well").row, 2).value == told.low / 100
    left = summary.cell(find(summary, "Limit of all of it").row + 1, 2).value
    assert left == pytest.approx((told.limit - told.typical) / 100 if told.limit else None)


def test_own_lines_of_the_ledger_count_in_the_summary() -> None:
    plan = money_plan()
    assert plan.whole_sum is not None
    entries = (
        Entry("own/1", what="paint", expected=12_345),
        Entry("own/2", what="seats", expected=20_000, paid=5_000),
    )
    summary = sheets(plan, Ledger("EUR", entries))["Summary"]
    more = summary.cell(find(summary, "Lines of your own (Budget)").row, 2).value
    assert more == 323.45
    total = summary.cell(find(summary, "All in all").row, 2).value
    assert total == pytest.approx(plan.whole_sum.typical / 100 + 323.45)
    assert summary["B5"].value == "Still to pay (50 paid)"
    bill = sum(line.price for line in plan.lines) / 100
    # What is paid on a line of one's own is no longer to be paid; the rest of it is.
    assert summary["B6"].value == pytest.approx(bill + 323.45 - 50)


def test_edited_shares_and_price_give_what_the_program_gives(tmp_path: Path) -> None:
    plan = money_plan()
    live = Live(workbook_bytes(plan), tmp_path)
    shares = live.row("Whole sum", 1, "Set in the project")
    for column, value in ((4, 0.05), (5, 0.15), (6, 0.4), (7, 0.1), (8, 0.5)):
        live.edit("Whole sum", shares, column, value)
    live.edit("Whole sum", shares, 2, 61.25)
    live.edit("Whole sum", shares, 3, 0.5)
    line = plan.lines[0]
    live.edit("Bill", live.row("Bill", 3, line.part), 8, 700.0)
    cheaper = line.model_copy(update={"unit_price": 70_000, "price": 70_000 * line.bought})
    after = money_plan(
        plan.model_copy(update={"lines": (cheaper, *plan.lines[1:])}),
        rate=6_125,
        prices_fall=0.05,
        prices_rise=0.4,
        contingency=0.15,
        hours_fall=0.1,
        hours_rise=0.5,
        workshop_share=0.5,
    )
    assert live.agrees_with(workbook_bytes(after), leaving=("Summary",)) > 1000
    assert after.whole_sum is not None
    shown = live.value("Summary", 7, 1)
    assert shown == pytest.approx(after.whole_sum.typical / 100)


def test_a_quote_typed_over_an_estimate_moves_the_sum(tmp_path: Path) -> None:
    plan = money_plan(rate=None)
    live = Live(workbook_bytes(plan), tmp_path)
    row = live.row("Whole sum", 2, "inspection and approval")
    for column, value in ((4, 400), (5, 420), (6, 450)):
        live.edit("Whole sum", row, column, value)
    live.edit("Whole sum", row, 7, 9.5)
    live.model.evaluate()
    quoted = {"name": "inspection", "amount": 42_000, "low": 40_000, "high": 45_000, "hours": 9.5}
    after = money_plan(rate=None, items=[quoted]).whole_sum
    assert after is not None
    total = live.row("Whole sum", 1, "All in all")
    got = [live.value("Whole sum", total, column) for column in (4, 5, 6)]
    assert got == pytest.approx([after.low / 100, after.typical / 100, after.high / 100])
    assert live.value("Whole sum", total, 7) == after.hours.typical


@pytest.mark.parametrize(
    ("days", "passed"),
    [({"approval": 60}, ()), ({"places-fixed": 3, "stripped": 70}, ()), ({}, GATE_IDS)],
)
def test_edited_gates_move_the_days_as_the_program_does(
    days: dict[str, int], passed: tuple[str, ...], tmp_path: Path
) -> None:
    plan = money_plan()
    live = Live(workbook_bytes(plan), tmp_path)
    sheet = "Buying order"
    for name, value in days.items():
        live.edit(sheet, live.row(sheet, 6, f"{name}: "), 4, value)
    for name in passed:
        live.edit(sheet, live.row(sheet, 6, f"{name}: "), 3, "yes")
    live.model.evaluate()
    after = money_plan(gate_days=days, passed=passed).buying_order
    assert after is not None
    for gate in after.gates:
        assert live.value(sheet, live.row(sheet, 6, f"{gate.id}: "), 1) == gate.day, gate.id
    first = live.row(sheet, 1, "Order on day") + 1
    families = {
        (live.value(sheet, row, 8), live.value(sheet, row, 6)): row
        for row in range(first, first + len(after.orders))
    }
    for one in after.orders:
        row = families[one.part, one.supplier or "not named"]
        assert live.value(sheet, row, 13) == one.earliest_day, one.family
    end = live.row(sheet, 1, "All is here on day")
    assert live.value(sheet, end, 5) == after.all_here_day


def test_a_day_to_begin_on_gives_dates(tmp_path: Path) -> None:
    live = Live(workbook_bytes(money_plan()), tmp_path)
    sheet = "Buying order"
    row = live.row(sheet, 1, "Order on day") + 1
    assert (live.value(sheet, row, 2) or "") == ""
    live.edit(sheet, live.row(sheet, 1, "You begin on"), 4, 46_000)
    live.model.evaluate()
    assert live.value(sheet, row, 2) == 46_000 + live.value(sheet, row, 1)


def test_state_on_the_order_is_that_of_the_budget() -> None:
    plan = money_plan()
    line = next(one for one in plan.lines if one.family == "controller")
    entries = (Entry(f"controller/{line.part}", ordered=Decimal(1)),)
    sheet = sheets(plan, Ledger("EUR", entries))["Buying order"]
    row = find(sheet, line.part).row
    assert sheet.cell(row, 11).value == "ordered"
    others = {sheet.cell(n, 11).value for n in range(row + 1, row + 12)}
    assert "TO BUY" in others
    assert sheet.cell(find(sheet, "crimp-tool").row, 11).value == "Whole sum"


def test_paper_follows_the_project(make_plan: MakePlan) -> None:
    for show, number in (
        ({}, 9),
        ({"units": "us"}, 1),
        ({"units": "us", "paper": "a4"}, 9),
        ({"paper": "letter"}, 1),
    ):
        plan = make_plan()
        plan = plan.model_copy(update={"project_used": {**plan.project_used, "show": show}})
        book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan)))
        papers = {one.page_setup.paperSize for one in book if one.sheet_state == "visible"}
        assert papers == {number}, show
    # The reader's own units count where the project names no paper.
    assert paper_of(make_plan(), "us") == "letter"
    assert paper_of(plan, "metric") == "letter"


def test_names_on_the_new_sheets_stay_text() -> None:
    content = workbook_bytes(money_plan())
    book = openpyxl.load_workbook(io.BytesIO(content))
    for name, text in (("Driving", NASTY), ("Wheels", NASTY), ("Whole sum", f"sold: {NASTY}")):
        assert find(book[name], text).data_type == "s"
    formulas = [c.value for s in book for row in s.iter_rows() for c in row if c.data_type == "f"]
    assert len(formulas) > 1000
    assert NASTY not in formulas


def test_driving_and_wheels_say_what_the_plan_says() -> None:
    book = sheets(money_plan())
    sheet = book["Driving"]
    row = find(sheet, "Steady km/h").row + 1
    steady = [[sheet.cell(row + n, c).value for c in (1, 2, 6, 9)] for n in range(4)]
    assert steady == [
        [50, 3, 53, "yes"],
        [50, 4, 54, "yes"],
        [80, 3, 83, "yes"],
        [80, 4, 84, "yes"],
    ]
    assert sheet.cell(find(sheet, "From rest to km/h").row + 1, 2).value is None
    wheels = book["Wheels"]
    row = find(wheels, "rear").row
    assert [wheels.cell(row, c).value for c in (2, 3, 4)] == [
        "stronger springs and dampers",
        425,
        510,
    ]
    row = find(wheels, NASTY).row
    assert [wheels.cell(row, c).value for c in (9, 10, 11, 12)] == [310, 300, 260, 250]


def test_sources_name_what_was_not_measured() -> None:
    sheet = sheets(money_plan())["Sources"]
    found = find(sheet, "donor.drag_area")
    assert sheet.cell(found.row, 2).value.startswith("typical of its class, 10 % either way")
    # The pickup's axles were weighed: no assumption.
    texts = [row[0].value for row in sheet.iter_rows(max_col=1)]
    assert "donor.weighing.front" not in texts
    assert sheet.cell(find(sheet, "axle, at least").row, 2).value == "25 kg"


def test_the_workbook_of_a_plan_just_found(tmp_path: Path) -> None:
    plan = quick_plan()
    content = workbook_bytes(plan)
    assert set(openpyxl.load_workbook(io.BytesIO(content)).sheetnames) >= NEW
    assert Live(content, tmp_path).agrees_with(content) > 1000
    assert plan.whole_sum is not None
    assert plan.buying_order is not None
    # What the rear axle gains asks for springs.
    assert any(item.kind == "chassis" for item in plan.whole_sum.items)
    assert plan.whole_sum.low < plan.whole_sum.typical < plan.whole_sum.high


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_currencies_without_and_with_three_decimals(currency: str, tmp_path: Path) -> None:
    euro = money_plan()
    used = {**euro.project_used, "currency": currency}
    plan = money_plan(euro.model_copy(update={"currency": currency, "project_used": used}))
    assert plan.whole_sum is not None
    content = workbook_bytes(plan)
    assert Live(content, tmp_path).agrees_with(content) > 1000
    sheet = sheets(plan)["Whole sum"]
    total = sheet.cell(find(sheet, "All in all").row, 5).value
    assert total == pytest.approx(plan.whole_sum.typical / {"JPY": 1, "KWD": 1000}[currency])


def test_a_broken_head_of_the_gates_has_its_second_line() -> None:
    """Not every program finds the height of a row by itself."""
    sheet = sheets(money_plan())["Buying order"]
    row = find(sheet, "Passed on day").row
    assert (sheet.row_dimensions[row].height or 0) >= 30
