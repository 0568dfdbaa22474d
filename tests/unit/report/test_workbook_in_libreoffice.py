"""A whole office program recalculates every formula, untouched and edited cell by cell.

The workbook is saved without its stored values first, so that whatever comes back has been
worked out there. One start of the program takes all the files of a test.
"""

from __future__ import annotations

import io
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import pytest
from money_plan import money_plan
from ordered_plan import RATES, Bought, ordered, some_purchases, some_terms, with_terms
from shipped_examples import NAMES, plan_of

from bomplan.buying.ledger import Entry, Ledger
from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Plan
from bomplan.money import currency_decimals
from bomplan.report.workbook import workbook_bytes

OFFICE = shutil.which("soffice") or shutil.which("libreoffice")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(OFFICE is None, reason="needs LibreOffice"),
]
Edit = Callable[[Any], None]
ORDER_MONEY = {"harbour": "EUR", "north": "USD", "sea": "JPY", "south": "KWD"}


def recalculated(books: dict[str, tuple[bytes, Edit]], folder: Path) -> dict[str, Any]:
    """Each workbook edited, stripped of its stored values, and worked out anew."""
    assert OFFICE is not None
    (folder / "in").mkdir()
    paths = []
    for name, (content, edit) in books.items():
        book = openpyxl.load_workbook(io.BytesIO(content))
        edit(book)
        paths.append(folder / "in" / f"{name}.xlsx")
        book.save(paths[-1])
    command = [
        OFFICE, "--headless", f"-env:UserInstallation=file://{folder}/profile",
        "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(folder / "out"),
        *map(str, paths),
    ]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True, timeout=600)
    return {
        name: openpyxl.load_workbook(folder / "out" / f"{name}.xlsx", data_only=True)
        for name in books
    }


def compared(got: Any, content: bytes, leaving: tuple[str, ...] = ()) -> int:
    """Every formula's value against the one stored in ``content``; how many there are."""
    live = openpyxl.load_workbook(io.BytesIO(content))
    stored = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    count = 0
    for sheet in live:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type != "f" or sheet.title in leaving:
                    continue
                want = stored[sheet.title].cell(cell.row, cell.column).value
                have = got[sheet.title].cell(cell.row, cell.column).value
                place = (sheet.title, cell.coordinate, cell.value)
                if isinstance(want, (int, float)):
                    assert have == pytest.approx(want, rel=1e-9, abs=1e-6), place
                else:
                    assert (have or "") == (want or ""), place
                count += 1
    return count


def at(book: Any, sheet: str, column: int, text: str) -> int:
    for (cell,) in book[sheet].iter_rows(min_col=column, max_col=column):
        if cell.value == text:
            return int(cell.row)
    raise AssertionError(f"{text!r} is not on {sheet}")


def with_line(plan: Plan, family: str, **values: Any) -> Plan:
    """The plan with other figures of one line, weighed and summed by the program."""
    lines = []
    for line in plan.lines:
        if line.family == family:
            old_g = line.quantity * round(line.unit_mass_kg * 1000)
            line = line.model_copy(update=values)
            grams = line.quantity * round(line.unit_mass_kg * 1000)
            line = line.model_copy(
                update={
                    "price": line.bought * line.unit_price,
                    "mass_kg": grams / 1000,
                    "moment_gmm": round(line.moment_gmm * grams / old_g),
                }
            )
        lines.append(line)
    return weighed(plan.model_copy(update={"lines": tuple(lines)}))


def weighed(plan: Plan) -> Plan:
    """The plan's masses by the program's own weighing, of the lines as they stand."""
    context = Context(project_of(plan), catalog_of(plan))
    assert plan.mass is not None
    added = sum(round(line.mass_kg * 1000) for line in plan.lines)
    moment = sum(line.moment_gmm for line in plan.lines)
    cases, axles = [], []
    base, wheelbase = context.base, context.wheelbase_mm
    for case, load in zip(plan.mass.load_cases, context.loads, strict=True):
        total = base.mass_g + load.mass_g + added
        rear = (base.moment_gmm + load.moment_gmm + moment) / wheelbase
        cases.append(
            case.model_copy(
                update={
                    "laden_kg": total / 1000,
                    "rear_kg": rear / 1000,
                    "front_kg": (total - rear) / 1000,
                }
            )
        )
    named = {case.name: case for case in cases}
    for axle in plan.mass.axles:
        case = named[axle.load_case]
        load_kg = case.front_kg if axle.name == "front" else case.rear_kg
        axles.append(axle.model_copy(update={"load_kg": load_kg}))
    mass = plan.mass.model_copy(
        update={
            "added_kg": added / 1000,
            "kerb_kg": (base.mass_g + added) / 1000,
            "base_kg": base.mass_g / 1000,
            "laden_kg": max(case.laden_kg for case in cases),
            "load_cases": tuple(cases),
            "axles": tuple(axles),
        }
    )
    return plan.model_copy(update={"mass": mass})


def test_the_weighing_of_this_test_is_the_programs() -> None:
    plan = money_plan()
    assert plan.mass is not None
    again = weighed(plan).mass
    assert again is not None
    for one, other in zip(again.load_cases, plan.mass.load_cases, strict=True):
        assert one.rear_kg == pytest.approx(other.rear_kg, abs=0.0011)
    assert again.kerb_kg == plan.mass.kerb_kg


def test_every_stored_value_and_every_edit(tmp_path: Path) -> None:
    plan = weighed(money_plan())
    ledger = Ledger("EUR", (Entry("own/1", what="paint", expected=12_345, paid=4_000),))
    content = workbook_bytes(plan, ledger)

    def untouched(book: Any) -> None:
        del book

    def price(book: Any) -> None:
        line = next(one for one in plan.lines if one.family == "controller")
        book["Bill"].cell(at(book, "Bill", 3, line.part), 8).value = 1234.56

    def quantity(book: Any) -> None:
        line = next(one for one in plan.lines if one.family == "lug")
        row = at(book, "Bill", 3, line.part)
        book["Bill"].cell(row, 5).value = 24
        book["Bill"].cell(row, 7).value = 30

    def mass(book: Any) -> None:
        line = next(one for one in plan.lines if one.family == "motor")
        book["Bill"].cell(at(book, "Bill", 3, line.part), 10).value = 91.234

    def tax(book: Any) -> None:
        book["Summary"].cell(at(book, "Summary", 1, "Tax on top"), 3).value = 0.21

    def position(book: Any) -> None:
        sheet = book["Axles"]
        row = next(
            n for n in range(12, 120)
            if (sheet.cell(n, 1).value, sheet.cell(n, 5).value) == ("driver", "project")
        )  # fmt: skip
        sheet.cell(row, 3).value = 1500

    edits: dict[str, Edit] = {
        "untouched": untouched, "price": price, "quantity": quantity, "mass": mass, "tax": tax,
        "position": position,
    }  # fmt: skip
    got = recalculated({name: (content, edit) for name, edit in edits.items()}, tmp_path)
    assert compared(got["untouched"], content) > 1000

    def again(changed: Plan) -> bytes:
        return workbook_bytes(money_plan(changed), ledger)

    # The summary sorts systems by price, so only its first figures are compared.
    for name, changed in (
        ("price", with_line(plan, "controller", unit_price=123_456)),
        ("quantity", with_line(plan, "lug", quantity=24, bought=30)),
        ("mass", with_line(plan, "motor", unit_mass_kg=91.234)),
    ):
        content_now = again(changed)
        assert compared(got[name], content_now, leaving=("Summary",)) > 900, name
        wanted = openpyxl.load_workbook(io.BytesIO(content_now), data_only=True)["Summary"]
        for cell in ("A6", "B6", "A7", "B7", "E6", "F6"):
            shown = got[name]["Summary"][cell].value
            assert shown == pytest.approx(wanted[cell].value, abs=1e-6), (name, cell)
    bill = sum(line.price for line in plan.lines) / 100
    summed = plan.whole_sum
    assert summed is not None
    total = got["tax"]["Summary"].cell(at(got["tax"], "Summary", 1, "All in all"), 2).value
    assert total == pytest.approx(summed.typical / 100 + 123.45 + round(bill * 0.21, 2), abs=0.011)
    _position_moves_the_axles(plan, got["position"])


def _position_moves_the_axles(plan: Plan, got: Any) -> None:
    """The first load case's driver, seated at 1,500 mm, as the program weighs it."""
    used = plan.project_used
    case = used["load_cases"][0]
    moved = {**case, "items": [{**case["items"][0], "x_mm": 1500}, *case["items"][1:]]}
    project_used = {**used, "load_cases": [moved, *used["load_cases"][1:]]}
    after = weighed(plan.model_copy(update={"project_used": project_used})).mass
    assert after is not None
    sheet = got["Axles"]
    for row in range(6, 12):
        name, axle, load = (sheet.cell(row, column).value for column in (1, 2, 3))
        state = next((one for one in after.load_cases if one.name == name), None)
        if state is not None and axle in ("front", "rear"):
            want = state.front_kg if axle == "front" else state.rear_kg
            assert load == pytest.approx(want, abs=0.001), (name, axle)


def test_the_workbook_of_each_example(tmp_path: Path) -> None:
    contents = {name: workbook_bytes(plan_of(name)) for name in NAMES}
    got = recalculated({name: (content, lambda _: None) for name, content in contents.items()},
                       tmp_path)  # fmt: skip
    for name, content in contents.items():
        assert compared(got[name], content) > 1000, name


def test_orders_edited_as_the_program_counts_them(
    make_plan: Callable[..., Plan], tmp_path: Path
) -> None:
    """Freight, duty, tax, exchange and rounding after random edits of lines and of terms."""
    books: dict[str, tuple[bytes, Edit]] = {}
    wanted: dict[str, bytes] = {}
    for seed in range(24):
        plan, bought = random_orders(make_plan, seed)
        content, after, edit = edited_orders(plan, bought, seed)
        books[f"orders-{seed}"] = (content, edit)
        wanted[f"orders-{seed}"] = workbook_bytes(after)
    got = recalculated(books, tmp_path)
    for name, content in wanted.items():
        stored = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
        others = tuple(sheet for sheet in stored.sheetnames if sheet != "Invoices")
        assert compared(got[name], content, leaving=others) > 60, name
        for sheet, cell in (("Bill", "I3"), ("Summary", "A6"), ("Summary", "B6")):
            want = stored[sheet][cell].value
            assert got[name][sheet][cell].value == pytest.approx(want, abs=1e-6), (name, cell)


def random_orders(make_plan: Callable[..., Plan], seed: int) -> tuple[Plan, dict[str, Bought]]:
    random = Random(f"office {seed}")
    rows = [some_terms(random, name, money) for name, money in ORDER_MONEY.items()]
    plan = with_terms(make_plan(mass=None), rows, dict(RATES))
    bought = some_purchases(random, plan, list(ORDER_MONEY))
    return ordered(plan, bought), bought


def edited_orders(plan: Plan, bought: dict[str, Bought], seed: int) -> tuple[bytes, Plan, Edit]:
    """The workbook, the plan that the edit comes to by the program, and the edit."""
    random = Random(f"edits {seed}")
    part = random.choice(sorted(bought))
    supplier = random.choice(sorted(ORDER_MONEY))
    line = Bought(supplier, random.randrange(1, 90), random.randrange(1, 99_999),
                  random.randrange(1, 60_000))  # fmt: skip
    freight, rate = random.randrange(0, 900), round(random.uniform(0.4, 1.6), 4)

    def edit(book: Any) -> None:
        row = at(book, "Bill", 3, part)
        money = 10 ** currency_decimals(ORDER_MONEY[supplier])
        for column, value in (
            (7, line.bought), (8, line.asked / money), (10, line.mass_g / 1000), (13, supplier),
        ):  # fmt: skip
            book["Bill"].cell(row, column).value = value
        row = at(book, "Invoices", 2, "USD")
        book["Invoices"].cell(row, 3).value = rate
        book["Invoices"].cell(row, 5).value = freight / 100

    rows = [
        {**one, "shipping_per_kg": freight} if one["currency"] == "USD" else one
        for one in plan.parts_used["suppliers"]
    ]
    changed = with_terms(plan, rows, {**RATES, "USD": rate})
    return workbook_bytes(plan), ordered(changed, {**bought, part: line}), edit
