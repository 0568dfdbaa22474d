"""What a person sees: no figure too wide for its cell, marks without colour, print that is read."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
from live_workbook import Live
from money_plan import money_plan
from openpyxl.utils import get_column_letter
from shipped_examples import quick_plan

from bomplan.buying.ledger import Entry, Ledger
from bomplan.design.records import Plan
from bomplan.report.workbook import workbook_bytes

MakePlan = Callable[..., Plan]
# A digit of Arial is 0.556 of its size (the font's own metrics, from memory), at 96 to the inch.
DIGIT_PX = 0.556 * 96 / 72
# Printed on A4 across, 277 mm: no smaller than what a contract's small print is (6 pt).
LEAST_POINTS = 6.0


def shown(value: float, shape: str) -> str:
    """The figure as a spreadsheet program writes it in this format, near enough to be measured."""
    part = shape.split(";")[0 if value >= 0 else min(1, shape.count(";"))]
    words = "".join(re.findall(r'"([^"]*)"', part))
    plain = re.sub(r'"[^"]*"|_\)', "", part)
    after = plain.partition(".")[2]
    decimals = len(re.match(r"[0#]*", after)[0]) if after else 0  # type: ignore[index]
    if plain == "General":
        return f"{value:.9g}"
    if "%" in plain:
        value *= 100
    text = f"{abs(value):,.{decimals}f}" if "," in plain else f"{abs(value):.{decimals}f}"
    # Decimals written as # are shown as far as they are there.
    for _ in range(after.count("#")):
        text = text.removesuffix("0")
    return text + words + ("-" if value < 0 else "") + ("%" if "%" in plain else "")


def too_wide(content: bytes) -> list[str]:
    book = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    found = []
    for sheet in (one for one in book if one.sheet_state == "visible"):
        spans = {span.start_cell.coordinate: span for span in sheet.merged_cells.ranges}
        for row in sheet.iter_rows():
            for cell in row:
                if not isinstance(cell.value, (int, float)) or "yy" in cell.number_format:
                    continue
                span = spans.get(cell.coordinate)
                columns = range(cell.column, (span.max_col if span else cell.column) + 1)
                room = sum(
                    sheet.column_dimensions[get_column_letter(n)].width * 7 + 5 for n in columns
                )
                text = shown(float(cell.value), cell.number_format)
                size = cell.font.size or 10
                if len(text) * size * DIGIT_PX > room:
                    found.append(f"{sheet.title}!{cell.coordinate}: {text}")
    return found


def test_no_figure_is_wider_than_its_cell() -> None:
    big = Ledger("EUR", (Entry("own/1", what="paint", expected=12_345_678, paid=9_876_543),))
    assert too_wide(workbook_bytes(money_plan(), big)) == []
    assert too_wide(workbook_bytes(quick_plan())) == []


def test_print_is_large_enough_to_be_read() -> None:
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(money_plan())))
    for sheet in (one for one in book if one.sheet_state == "visible"):
        area = sheet.print_area
        last = sheet.max_column
        if area:
            last = openpyxl.utils.cell.range_boundaries(area.rpartition("!")[2].replace("$", ""))[2]
        wide = sum(sheet.column_dimensions[get_column_letter(n)].width for n in range(1, last + 1))
        scale = (277 / 25.4 * 72) / (wide * 7 * 0.75)
        assert 10 * min(1.0, scale) >= LEAST_POINTS, (sheet.title, scale)


def test_the_three_answers_stand_on_top_of_the_summary() -> None:
    """What it costs, what is still to buy and pay, what the rear axle has left: in rows 5 to 7."""
    plan = quick_plan()
    content = workbook_bytes(plan)
    sheet = openpyxl.load_workbook(io.BytesIO(content), data_only=True)["Summary"]
    assert sheet["A5"].value == "The bill comes to"
    assert sheet["B5"].value.startswith("Still to pay")
    assert sheet["B7"].value == sum(bool(line.bought) for line in plan.lines)
    assert sheet["E5"].value == "The rear axle has left"
    assert plan.mass is not None
    rear = min(one.limit_kg - one.load_kg for one in plan.mass.axles if one.name == "rear")
    # Rounded down: no axle is flattered.
    assert sheet["E6"].value == math.floor(round(rear, 3))
    for cell in ("A6", "B6", "E6"):
        assert sheet[cell].font.size >= 15


def test_an_axle_over_its_limit_is_told_in_black_and_white(
    make_plan: MakePlan, tmp_path: Path
) -> None:
    live = Live(workbook_bytes(make_plan()), tmp_path)
    for part in ("motor-a", "lfp-100"):
        live.edit("Bill", live.row("Bill", 3, part), 10, 400)
    live.model.evaluate()
    readings = [live.value("Axles", row, 8) for row in range(6, 12)]
    assert "OVER" in readings
    rules = [
        (rule.formula, rule.dxf.font.b, rule.dxf.fill.bgColor.rgb)
        for span in live.book["Axles"].conditional_formatting
        for rule in span.rules
        if rule.dxf.fill is not None
    ]
    # White on black: no shade of grey is asked to tell anything.
    assert (['"OVER"'], True, "FF000000") in rules


def test_a_drive_that_never_ends_is_told_in_words(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    assert plan.performance is not None
    endless = tuple(
        one.model_copy(update={"range_km": float("inf"), "end_cause": "endless"})
        for one in plan.performance.ranges
    )
    performance = plan.performance.model_copy(update={"ranges": endless})
    content = workbook_bytes(plan.model_copy(update={"performance": performance}))
    book = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    assert book["Range and energy"]["E4"].value == "without end"
    assert book["Summary"]["G6"].value == "no end"
    assert Live(content, tmp_path).agrees_with(content) > 100


def test_every_table_explains_its_columns() -> None:
    book: Any = openpyxl.load_workbook(io.BytesIO(workbook_bytes(quick_plan())))
    lacking = [
        sheet.title
        for sheet in book
        if sheet.sheet_state == "visible"
        and not any(cell.comment for row in sheet.iter_rows() for cell in row)
    ]
    # The summary and the sources explain themselves in words.
    assert lacking == ["Summary", "Sources"]
