"""Ledger to file, to workbook and back without loss, whatever text and figures stand in it."""

from __future__ import annotations

import csv
import io
import tempfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lanes import examples

from bomplan.buying.ledger import Entry, Ledger, ledger_bytes, plain_text, read_ledger
from bomplan.buying.taking_back import FIELDS, take_back
from bomplan.design.records import Line, Objective, Plan, SearchCounts
from bomplan.report.workbook import workbook_bytes
from bomplan.report.workbook.reading import read_back

NASTY = (
    "=1+1", "'=1+1", "''=1", "+49 30", "-5", "@here", "'quoted", '"', "a,b;c\td", "a\nb",
    "_x000D_", "_x005F_x0041_", "<b>&amp;</b>", "1e5", "007", "TRUE", "2026-01-02", "#REF!",
    "\u202egnp.exe", "\U0001f50b", "\ufffe", "\uffff", "NaN", "sep=;", "http://example.org",
    "{=A1}", "own/3", "#2", "-",
)  # fmt: skip
letters = st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\t")
words = st.one_of(st.just(""), st.sampled_from(NASTY), st.text(letters, max_size=60)).map(
    plain_text
)
quantities = st.none() | st.decimals(0, 9_999, places=3).map(lambda d: d.normalize())
amounts = st.none() | st.integers(-(10**9), 10**11)
days = st.just("") | st.dates().map(lambda day: day.isoformat())
LINES = [f"gauge/part-{number}" for number in range(4)]


def plan() -> Plan:
    lines = tuple(
        Line(
            family="gauge", part=name.partition("/")[2], description="=a part", quantity=number + 1,
            bought=number + 1, unit_price=1234, price=(number + 1) * 1234, unit_mass_kg=0.1,
            mass_kg=(number + 1) / 10, system="instruments", why="asked for", supplier="north",
        )
        for number, name in enumerate(LINES)
    )  # fmt: skip
    return Plan(
        status="unknown", objective=Objective(minimise="price", value=None, bound=None),
        currency="EUR", project="p", as_of="2026-01-01", lines=lines, inputs={},
        search=SearchCounts(screened=0, solved=0, simulated=0, cut=0),
    )  # fmt: skip


@st.composite
def entries(draw: st.DrawFn, line: str) -> Entry:
    own = line.startswith("own/")
    return Entry(
        line,
        what=draw(words) or "part",
        supplier=draw(words),
        planned=None if own else draw(quantities),
        expected=draw(amounts) if own else None,
        ordered=draw(quantities),
        paid=draw(amounts),
        received=draw(quantities),
        date=draw(days),
        note=draw(words),
    )


names = st.lists(
    st.sampled_from([*LINES, *(f"{one}#2" for one in LINES), "own/1", "own/4", "gone/part"]),
    unique=True,
    max_size=6,
)
ledgers = names.flatmap(lambda lines: st.tuples(*(entries(line) for line in lines))).map(
    lambda found: Ledger("EUR", found)
)
FEW = settings(
    max_examples=12, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip


@given(ledgers)
@settings(max_examples=examples(25, 100), deadline=None, derandomize=True)
def test_a_ledger_written_is_the_ledger_read(ledger: Ledger) -> None:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "ledger.csv"
        path.write_bytes(ledger_bytes(ledger))
        again = read_ledger(path, "EUR")
        assert again == ledger
        assert ledger_bytes(again) == path.read_bytes()
        # No cell of text begins as a formula would.
        assert not any(cell.startswith(("=", "+", "@")) for row in rows_of(path) for cell in row)


def rows_of(path: Path) -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_text("utf-8"), newline="")))


@given(ledgers)
@FEW
def test_an_unedited_workbook_changes_nothing(ledger: Ledger) -> None:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "bom.xlsx"
        path.write_bytes(workbook_bytes(plan(), ledger))
        found = read_back(path, "EUR")
    taken = take_back(ledger, found.origin.entries, found.seen)
    assert found.notes == ()
    assert taken.edits == ()
    kept = taken.ledger.by_line()
    for entry in ledger.entries:
        if entry.recorded:
            mine = replace(kept[entry.line], planned=None, expected=None)
            assert mine == replace(entry, planned=None, expected=None)
            if entry.own:
                assert kept[entry.line].expected == entry.expected


@given(ledgers, ledgers)
@FEW
def test_what_is_typed_into_the_cells_is_what_the_ledger_says(
    before: Ledger, wanted: Ledger
) -> None:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "bom.xlsx"
        path.write_bytes(workbook_bytes(plan(), before))
        typed = type_into(path, wanted)
        found = read_back(path, "EUR")
    taken = take_back(before, found.origin.entries, found.seen)
    after = taken.ledger.by_line()
    for line in typed:
        entry = wanted.by_line()[line]
        if not entry.recorded:
            continue
        for name in FIELDS:
            if name != "expected" or entry.own:
                wished = getattr(entry, name)
                if isinstance(wished, str):
                    wished = wished.translate({0xFFFE: "?", 0xFFFF: "?"})
                assert getattr(after[line], name) == wished, (line, name)
    for line, entry in before.by_line().items():
        if line not in typed and entry.recorded:
            assert [getattr(after[line], name) for name in FIELDS if name != "expected"] == [
                getattr(entry, name) for name in FIELDS if name != "expected"
            ]


def type_into(path: Path, wanted: Ledger) -> set[str]:
    """Overwrite every recorded cell of the lines that stand on the sheet."""
    book = openpyxl.load_workbook(path)
    sheet: Any = book["Budget"]
    rows = {row[0].value: row[0].row for row in sheet.iter_rows(min_row=8, max_col=1)}
    done = set()
    for entry in wanted.entries:
        if entry.line not in rows:
            continue
        done.add(entry.line)
        values: dict[int, object] = {
            3: entry.what, 4: entry.supplier, 8: entry.ordered, 9: money(entry.paid),
            10: entry.received, 11: entry.date, 12: entry.note,
        }  # fmt: skip
        if entry.own:
            values[7] = money(entry.expected)
        for column, value in values.items():
            cell = sheet.cell(rows[entry.line], column)
            cell.value = float(value) if isinstance(value, Decimal) else value or None
            if value in (0, Decimal()) and value != "":
                cell.value = 0
            if isinstance(value, str) and value:
                # The package that types here writes what no such file may hold.
                cell.value = value = value.translate({0xFFFE: "?", 0xFFFF: "?"})
                cell.data_type = "s"
    book.save(path)
    return done


def money(amount: int | None) -> float | None:
    return None if amount is None else amount / 100
