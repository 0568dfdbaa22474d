"""Bars to spare: report, check sheets, circuit and workbook tell the number that is fitted."""

from __future__ import annotations

from functools import cache
from io import BytesIO

from openpyxl import load_workbook
from shipped_examples import plan_of

from bomplan import api
from bomplan.design.circuit import circuit
from bomplan.design.records import Line, Plan
from bomplan.report.drawings.circuit_key import key_rows
from bomplan.report.workbook import workbook_bytes


@cache
def plan() -> Plan:
    return plan_of("camper-van")


def bars() -> Line:
    line = next(one for one in plan().lines if one.family == "link")
    assert line.to_spare > 0
    assert line.in_place > line.to_spare
    return line


def test_the_circuit_and_its_key() -> None:
    line = bars()
    (beside,) = [one for one in circuit(plan()).beside if one.line.family == "link"]
    assert beside.pieces == line.in_place
    told = [row for row in key_rows(circuit(plan())) if row[1] == line.part]
    assert told == [(f"{line.in_place} x", line.part, f"link, {line.to_spare} more to spare")]


def test_the_check_sheet() -> None:
    line = bars()
    pages = api.sheets(plan())
    told = f"Bars between modules ({line.in_place}; {line.to_spare} more are to spare)"
    assert any(told in page for page in pages.values())
    assert not any(f"Bars between modules ({line.quantity})" in page for page in pages.values())


def test_the_report() -> None:
    line = bars()
    assert f"{line.in_place}, {line.to_spare} to spare" in api.report(plan())


def test_the_workbook() -> None:
    line = bars()
    sheet = load_workbook(BytesIO(workbook_bytes(plan())))["Bill"]
    (row,) = [one for one in sheet.iter_rows(values_only=True) if line.part in one]
    assert f"{line.description}; {line.in_place} fitted, {line.to_spare} to spare" in row
    assert line.quantity in row  # it weighs
    assert line.hours in row
