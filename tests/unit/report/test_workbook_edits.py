"""A cell edited in the workbook gives what the program gives for the same change."""

from __future__ import annotations

import io
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ironcalc
import openpyxl
import pytest

from bomplan.design.records import AxleLoad, Line, LoadCaseMass, Plan
from bomplan.report.workbook import workbook_bytes

MakePlan = Callable[..., Plan]
WHEELBASE_MM = 2_400


class Live:
    """The workbook in an independent engine, with cells to find and to edit by their names."""

    def __init__(self, plan: Plan, folder: Path) -> None:
        content = workbook_bytes(plan)
        path = folder / "live.xlsx"
        path.write_bytes(content)
        self.book = openpyxl.load_workbook(io.BytesIO(content))
        self.model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")

    def row(self, sheet: str, column: int, text: str) -> int:
        for row in self.book[sheet].iter_rows(min_col=column, max_col=column):
            if row[0].value == text:
                return int(row[0].row)
        raise AssertionError(f"{text!r} is not on {sheet}")

    def edit(self, sheet: str, row: int, column: int, value: float) -> None:
        self.model.set_user_input(self.book.sheetnames.index(sheet), row, column, repr(value))

    def agrees_with(self, plan: Plan) -> None:
        """Every formula of this workbook now gives what is stored in the workbook of ``plan``."""
        self.model.evaluate()
        stored = openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan)), data_only=True)
        checked = 0
        # The summary sorts by price, so its cells move; its first figures are looked at below.
        for number, sheet in enumerate(self.book):
            if sheet.title == "Summary":
                continue
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.data_type != "f":
                        continue
                    want = stored[sheet.title].cell(cell.row, cell.column).value
                    got = self.model.get_cell_value(number, cell.row, cell.column)
                    place = (sheet.title, cell.coordinate, cell.value)
                    if isinstance(want, (int, float)):
                        assert got == pytest.approx(want, rel=1e-9, abs=1e-6), place
                    else:
                        assert (got or "") == (want or ""), place
                    checked += 1
        assert checked > 150
        for cell in ("A6", "B6", "A7", "B7"):
            want = stored["Summary"][cell].value
            place = self.book["Summary"][cell]
            got = self.model.get_cell_value(0, place.row, place.column)
            assert got == pytest.approx(want, abs=1e-6), cell


def changed(plan: Plan, index: int, x_mm: int | None = None, **values: Any) -> Plan:
    """The plan with one line's figures replaced, its sums and loads worked out anew."""
    old = plan.lines[index]
    line = old.model_copy(update=values)
    grams = line.quantity * round(line.unit_mass_kg * 1000)
    place = old.moment_gmm / (old.mass_kg * 1000) if x_mm is None else x_mm
    line = line.model_copy(
        update={
            "price": line.bought * line.unit_price,
            "mass_kg": grams / 1000,
            "moment_gmm": round(grams * place),
        }
    )
    lines = (*plan.lines[:index], line, *plan.lines[index + 1 :])
    mass = plan.mass
    assert mass is not None
    more_g = grams - round(old.mass_kg * 1000)
    more_moment = line.moment_gmm - old.moment_gmm
    cases = []
    for case in mass.load_cases:
        rear = case.rear_kg + more_moment / WHEELBASE_MM / 1000
        total = case.laden_kg + more_g / 1000
        cases.append(
            LoadCaseMass(name=case.name, laden_kg=total, front_kg=total - rear, rear_kg=rear)
        )
    worst = cases[-1]
    axles = tuple(
        AxleLoad(
            **{
                **axle.model_dump(),
                "load_kg": worst.front_kg if axle.name == "front" else worst.rear_kg,
            }
        )
        for axle in mass.axles
    )
    mass = mass.model_copy(
        update={
            "added_kg": mass.added_kg + more_g / 1000,
            "kerb_kg": mass.kerb_kg + more_g / 1000,
            "laden_kg": worst.laden_kg,
            "load_cases": tuple(cases),
            "axles": axles,
        }
    )
    return plan.model_copy(update={"lines": lines, "mass": mass})


@pytest.mark.parametrize("index", range(5))
def test_price_quantity_mass_and_place(make_plan: MakePlan, tmp_path: Path, index: int) -> None:
    draw = random.Random(index)
    edits = {
        "unit_price": draw.randint(0, 400_000),
        "quantity": draw.randint(1, 60),
        "bought": draw.randint(1, 80),
        "unit_mass": draw.randint(1, 90_000),
        "x_mm": draw.randint(-600, 3_000),
    }
    plan = make_plan()
    line = plan.lines[index]
    live = Live(plan, tmp_path)
    row = live.row("Bill", 3, line.part)
    live.edit("Bill", row, 5, edits["quantity"])
    live.edit("Bill", row, 7, edits["bought"])
    live.edit("Bill", row, 8, edits["unit_price"] / 100)
    live.edit("Bill", row, 10, edits["unit_mass"] / 1000)
    live.edit("Axles", live.row("Axles", 5, f"Bill: {line.part}"), 3, edits["x_mm"])
    after = changed(
        plan,
        index,
        edits["x_mm"],
        unit_price=edits["unit_price"],
        quantity=edits["quantity"],
        bought=edits["bought"],
        unit_mass_kg=edits["unit_mass"] / 1000,
    )
    live.agrees_with(after)


def shipped_plan(make_plan: MakePlan, price: int) -> Plan:
    """One supplier with free shipping from 4,000.00 on, whose 40 modules cost ``price`` each."""
    terms = {
        "id": "north",
        "description": "",
        "currency": "EUR",
        "shipping_flat": 12_000,
        "free_above": 400_000,
        "lead_days": 14,
    }
    plan = make_plan(parts_used={"suppliers": [terms]})
    lines: list[Line] = []
    goods = 40 * price + 35 * 333
    for line in plan.lines:
        if line.family == "module":
            lines.append(line.model_copy(update={"unit_price": price, "price": 40 * price}))
        elif line.family != "shipping" or goods < 400_000:
            lines.append(line)
    return plan.model_copy(update={"lines": tuple(lines)})


def test_shipping_follows_the_value_of_the_order(make_plan: MakePlan, tmp_path: Path) -> None:
    below, above = shipped_plan(make_plan, 9_000), shipped_plan(make_plan, 9_995)
    live = Live(below, tmp_path)
    live.edit("Bill", live.row("Bill", 3, "lfp-100"), 8, 99.95)
    live.model.evaluate()
    bill = live.book.sheetnames.index("Bill")
    total = sum(line.price for line in above.lines) / 100
    assert live.model.get_cell_value(bill, 3, 9) == pytest.approx(total)
    live.edit("Bill", live.row("Bill", 3, "lfp-100"), 8, 90)
    live.agrees_with(below)


def test_tax_and_contingency_come_on_top(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    live = Live(plan, tmp_path)
    bill = live.row("Summary", 1, "Bill")
    for words, share in (("Tax on top", 0.19), ("Contingency", 0.1)):
        live.edit("Summary", live.row("Summary", 1, words), 3, share)
    live.model.evaluate()

    def value(words: str) -> float:
        return float(live.model.get_cell_value(0, live.row("Summary", 1, words), 2))

    price = sum(line.price for line in plan.lines) / 100
    assert live.model.get_cell_value(0, bill, 2) == pytest.approx(price)
    assert value("Tax on top") == pytest.approx(price * 0.19)
    assert value("All in all") == pytest.approx(round(price * 1.29, 2))
    # The project's budget limits the bill, not what comes on top of it.
    assert value("left of it") == pytest.approx(9_000 - price)


def test_recording_moves_state_and_sums(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    live = Live(plan, tmp_path)
    row = live.row("Budget", 1, "module/lfp-100")
    budget = live.book.sheetnames.index("Budget")
    for column, value in ((8, 25), (9, 1_000), (10, 25)):
        live.edit("Budget", row, column, value)
    live.model.evaluate()
    price = sum(line.price for line in plan.lines) / 100

    def cell(row: int, column: int) -> Any:
        return live.model.get_cell_value(budget, row, column)

    assert (cell(row, 2), cell(row, 13), cell(row, 14)) == ("in part", 15, 2_998)
    assert cell(5, 7) == 1_000
    assert cell(5, 10) == pytest.approx(price - 1_000)
    live.edit("Budget", row, 10, 40)
    live.edit("Budget", row, 9, 3_900)
    live.model.evaluate()
    assert (cell(row, 2), cell(row, 13), cell(row, 14)) == ("here", 0, 0)
    assert cell(5, 12) == len(plan.lines) - 1
