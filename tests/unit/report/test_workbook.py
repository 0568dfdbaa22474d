"""The workbook: live formulas with true values, the same bytes every time, nothing that runs."""

from __future__ import annotations

import io
import re
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ironcalc
import openpyxl
import pytest

from bomplan.design.records import Line, Plan
from bomplan.errors import InternalError
from bomplan.report.workbook import workbook_bytes

MakePlan = Callable[..., Plan]
MakeLine = Callable[..., Line]

SHEETS = [
    "Summary",
    "Bill",
    "Why",
    "Axles",
    "Range and energy",
    "Checks",
    "Buying",
    "Invoices",
    "Budget",
    "Sources",
    "bomplan",
]


def read(content: bytes, *, values: bool) -> Any:
    return openpyxl.load_workbook(io.BytesIO(content), data_only=values)


def find(sheet: Any, text: str) -> Any:
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value == text:
                return cell
    raise AssertionError(f"{text!r} is not on {sheet.title}")


def formulas(content: bytes) -> list[tuple[str, int, int, str]]:
    """(sheet, row, column, formula) of every formula, in order."""
    return [
        (sheet.title, cell.row, cell.column, cell.value)
        for sheet in read(content, values=False)
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str) and cell.data_type == "f"
    ]


def recalculated(content: bytes, folder: Path) -> tuple[Any, dict[str, int]]:
    """A model of an independent spreadsheet engine, evaluated, and its sheets by name."""
    path = folder / "bom.xlsx"
    path.write_bytes(content)
    model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
    model.evaluate()
    return model, {name: index for index, name in enumerate(SHEETS)}


def test_sheets_and_same_bytes(make_plan: MakePlan) -> None:
    first = workbook_bytes(make_plan())
    time.sleep(2.1)  # a zip archive notes time in steps of two seconds
    assert workbook_bytes(make_plan()) == first
    assert read(first, values=False).sheetnames == SHEETS
    core = zipfile.ZipFile(io.BytesIO(first)).read("docProps/core.xml").decode()
    assert "2025-05-01T00:00:00Z" in core


def test_bill_carries_formula_and_value(make_plan: MakePlan) -> None:
    plan = make_plan()
    content = workbook_bytes(plan)
    live, stored = read(content, values=False)["Bill"], read(content, values=True)["Bill"]
    assert live["I3"].value.startswith("=SUM(")
    assert stored["I3"].value == pytest.approx(plan.objective.value / 100)
    row = find(stored, "lfp-100").row
    assert live.cell(row, 9).value == f"=ROUND(G{row}*H{row},2)"
    assert stored.cell(row, 9).value == 40 * 99.95
    assert stored.cell(row, 5).value == 36
    assert stored.cell(row, 11).value == pytest.approx(36 * 1.98)
    assert stored["K3"].value == pytest.approx(plan.mass.added_kg if plan.mass else 0)
    battery = find(stored, "Battery").row
    prices = [line.price for line in plan.lines if line.system == "battery"]
    assert stored.cell(battery, 9).value == sum(prices) / 100


def test_axles_agree_with_the_plan(make_plan: MakePlan) -> None:
    plan = make_plan()
    assert plan.mass is not None
    sheet = read(workbook_bytes(plan), values=True)["Axles"]
    got = {
        (row[0].value, row[1].value): row[2].value for row in sheet.iter_rows(min_row=6, max_row=11)
    }
    for case in plan.mass.load_cases:
        assert got[case.name, "front"] == pytest.approx(case.front_kg, abs=0.002)
        assert got[case.name, "rear"] == pytest.approx(case.rear_kg, abs=0.002)
        assert got[case.name, "gross"] == pytest.approx(case.laden_kg, abs=0.001)
    for row in sheet.iter_rows(min_row=6, max_row=11):
        left, shown = row[5].value, row[9].value
        # What the charts show is never more than there is.
        assert shown <= left + 0.0005 < shown + 1.001


def test_every_formula_recalculates_to_its_stored_value(
    make_plan: MakePlan, tmp_path: Path
) -> None:
    content = workbook_bytes(make_plan())
    stored = read(content, values=True)
    model, sheets = recalculated(content, tmp_path)
    found = formulas(content)
    assert len(found) > 80
    for sheet, row, column, formula in found:
        value = stored[sheet].cell(row, column).value
        cell = model.get_cell_value(sheets[sheet], row, column)
        if isinstance(value, (int, float)):
            assert cell == pytest.approx(value, rel=1e-9, abs=1e-6), (sheet, formula)
        else:
            assert (cell or "") == (value or ""), (sheet, formula)


def test_an_edited_price_and_mass_reach_every_total(make_plan: MakePlan, tmp_path: Path) -> None:
    content = workbook_bytes(make_plan())
    bill = read(content, values=True)["Bill"]
    row = find(bill, "lfp-100").row
    model, sheets = recalculated(content, tmp_path)
    before = model.get_cell_value(sheets["Summary"], 6, 1)
    axle_before = model.get_cell_value(sheets["Axles"], 10, 3)
    model.set_user_input(sheets["Bill"], row, 8, "109.95")  # ten more for each of forty
    model.set_user_input(sheets["Bill"], row, 10, "2.98")  # one kilogram more on thirty-six
    model.evaluate()
    assert model.get_cell_value(sheets["Summary"], 6, 1) == pytest.approx(before + 400)
    assert model.get_cell_value(sheets["Axles"], 10, 3) == pytest.approx(
        axle_before + 36 * 1_700 / 2_400
    )


NASTY = [
    "=1+1",
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "=cmd|' /C calc'!A0",
    '=HYPERLINK("http://example.org","x")',
    "\t=1+1",
    "\r\n=1+1",
    "http://example.org/x",
    "mailto:a@example.org",
    "internal:Bill!A1",
    "<script>alert(1)</script> & \"quotes\" 'single'",
    "nul\x00bell\x07esc\x1b[31m",
    "\u202egnp.exe",
    "x" * 40_000,
    "naïve Ω 電池 🔋",
    "{=1+1}",
]


def test_nothing_from_a_file_runs(make_plan: MakePlan, make_line: MakeLine) -> None:
    lines = tuple(
        make_line(
            text, text, text, 1, 100, 1000, description=text, why=text, supplier=text, unit=text
        )
        for text in NASTY
    )
    plan = make_plan(lines=lines, project="=1+1&A", cautions=tuple(NASTY), mass=None)
    content = workbook_bytes(plan)
    archive = zipfile.ZipFile(io.BytesIO(content))
    for name in archive.namelist():
        text = archive.read(name).decode("utf-8", "replace")
        assert "<hyperlink" not in text
        assert 'TargetMode="External"' not in text
    assert not [name for name in archive.namelist() if "vba" in name or "externalLink" in name]
    harmless = re.compile(
        r"=(ROUND|SUM|SUMIFS|SUMPRODUCT|COUNTIFS?|IF|IFERROR)\(|='(Bill|Axles|Budget)'!|=MAX\(0,"
        r"|=[A-Z]+\d+"
        r"|=\"Still to pay \(\"&ROUND\('Budget'!\$G\$5,0\)&\" paid\)\"$"
    )
    for sheet, _, _, formula in formulas(content):
        assert harmless.match(formula), (sheet, formula)
        assert "cmd" not in formula
        assert "HYPERLINK" not in formula
    bill = read(content, values=False)["Bill"]
    assert find(bill, "=1+1").data_type == "s"


def test_no_functions_that_other_programs_lack(make_plan: MakePlan) -> None:
    for _, _, _, formula in formulas(workbook_bytes(make_plan())):
        assert not re.search(r"XLOOKUP|LET\(|FILTER\(|\bTEXT\(|_xlfn|\[@", formula)


def test_failed_check_reads_without_colour(make_plan: MakePlan) -> None:
    plan = make_plan()
    broken = plan.checks[0].model_copy(update={"passed": False, "value": 1000.0})
    content = workbook_bytes(plan.model_copy(update={"checks": (plan.checks[1], broken)}))
    book = read(content, values=True)
    assert book["Summary"]["A2"].value == "NOT SOUND"
    assert book["Checks"]["A4"].value == "NO"
    assert book["Checks"]["A4"].font.bold
    assert book["Checks"]["B4"].value == broken.words
    assert book["Checks"]["A5"].value == "yes"


def test_no_choice_still_gives_a_readable_file(make_no_plan: MakePlan) -> None:
    book = read(workbook_bytes(make_no_plan()), values=True)
    assert book["Summary"]["A2"].value == "NO PLAN (PROVEN)"
    assert book["Bill"]["I3"].value == 0


def test_set_up_for_printing_and_reading(make_plan: MakePlan) -> None:
    book = read(workbook_bytes(make_plan()), values=False)
    for sheet in (one for one in book if one.sheet_state == "visible"):
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.page_setup.paperSize == 9
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert book["Bill"].freeze_panes == "D5"
    assert book["Bill"].auto_filter.ref.startswith("A4:M")
    assert book["Bill"].print_title_rows == "$4:$4"
    assert book["Checks"].auto_filter.ref


def test_a_bill_that_does_not_add_up_is_our_bug(make_plan: MakePlan) -> None:
    plan = make_plan()
    wrong = plan.lines[0].model_copy(update={"price": 1})
    with pytest.raises(InternalError, match="quantity times its unit price"):
        workbook_bytes(plan.model_copy(update={"lines": (wrong, *plan.lines[1:])}))


def test_a_donor_that_does_not_add_up_is_our_bug(make_plan: MakePlan) -> None:
    plan = make_plan()
    assert plan.mass is not None
    mass = plan.mass.model_copy(update={"base_kg": 1.0})
    with pytest.raises(InternalError, match="stripped donor"):
        workbook_bytes(plan.model_copy(update={"mass": mass}))
