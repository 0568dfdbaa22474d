"""Orders by formula: whatever is edited, the workbook says what the program counts, to the cent."""

from __future__ import annotations

import io
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import pytest
from live_workbook import Live
from ordered_plan import (
    DUTY_BASES,
    RATES,
    TAX_BASES,
    Bought,
    ordered,
    some_purchases,
    some_terms,
    terms_of,
    with_one,
    with_terms,
)
from shipped_examples import generic, quick_plan

from bomplan.buying.terms import CHARGES
from bomplan.design.records import Plan
from bomplan.money import currency_decimals
from bomplan.report.workbook import workbook_bytes

MakePlan = Callable[..., Plan]
SELLERS = {"harbour": "EUR", "north": "USD", "sea": "JPY", "south": "KWD"}
SHEET = "Invoices"
# Columns of Bill and of the terms on Invoices, counted from 1.
FITTED, BUY, UNIT_PRICE, UNIT_MASS, SUPPLIER = 5, 7, 8, 10, 13
TERMS = {
    "rate": 3, "shipping_flat": 4, "shipping_per_kg": 5, "free_above": 6, "minimum_order": 7,
    "duty_percent": 8, "duty_on": 9, "tax_percent": 10, "tax_on": 11,
}  # fmt: skip
SEEDS = [seed if seed < 8 else pytest.param(seed, marks=pytest.mark.slow) for seed in range(60)]


def random_plan(make_plan: MakePlan, random: Random) -> tuple[Plan, dict[str, Bought]]:
    rows = [some_terms(random, name, currency) for name, currency in SELLERS.items()]
    plan = with_terms(make_plan(mass=None), rows, dict(RATES))
    bought = some_purchases(random, plan, list(SELLERS))
    return ordered(plan, bought), bought


def bill_row(live: Live, part: str) -> int:
    return live.row("Bill", 3, part)


def terms_row(live: Live, name: str) -> int:
    head = live.row(SHEET, 1, "What each supplier asks") + 1
    return head + 1 + sorted(SELLERS).index(name)


def same_orders(live: Live, plan: Plan) -> int:
    """Every figure of the orders, the bill's total and all in all; how many were compared."""
    content = workbook_bytes(plan)
    stored = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    others = tuple(name for name in stored.sheetnames if name != SHEET)
    checked = live.agrees_with(content, leaving=others)
    for sheet, row, column in (("Bill", 3, 9), ("Summary", 6, 1), ("Summary", 6, 2)):
        want = stored[sheet].cell(row, column).value
        assert live.value(sheet, row, column) == pytest.approx(want, abs=1e-6), (sheet, row, column)
    total = sum(line.price for line in plan.lines) / 10 ** currency_decimals(plan.currency)
    assert live.value("Bill", 3, 9) == pytest.approx(total, abs=1e-6)
    return checked + 3


@pytest.mark.parametrize("seed", range(6))
def test_stored_values_are_what_an_engine_gives(
    make_plan: MakePlan, tmp_path: Path, seed: int
) -> None:
    plan, _ = random_plan(make_plan, Random(seed))
    content = workbook_bytes(plan)
    assert Live(content, tmp_path).agrees_with(content) > 150


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_edited_on_the_bill(make_plan: MakePlan, tmp_path: Path, seed: int) -> None:
    """Price, quantity, mass and supplier of two lines, one after another."""
    random = Random(f"bill {seed}")
    plan, bought = random_plan(make_plan, random)
    live = Live(workbook_bytes(plan), tmp_path)
    for part in random.sample(sorted(bought), 2):
        row = bill_row(live, part)
        supplier = random.choice(sorted(SELLERS))
        money = 10 ** currency_decimals(SELLERS[supplier])
        after = Bought(
            supplier, random.randrange(0, 120), random.randrange(0, 200_000),
            random.randrange(0, 60_000),
        )  # fmt: skip
        live.edit("Bill", row, SUPPLIER, supplier)
        live.edit("Bill", row, UNIT_PRICE, after.asked / money)
        live.edit("Bill", row, BUY, after.bought)
        live.edit("Bill", row, UNIT_MASS, after.mass_g / 1000)
        bought = {**bought, part: after}
        assert same_orders(live, ordered(plan, bought)) > 60


@pytest.mark.parametrize("seed", SEEDS)
def test_what_suppliers_ask_is_edited(make_plan: MakePlan, tmp_path: Path, seed: int) -> None:
    random = Random(f"terms {seed}")
    plan, bought = random_plan(make_plan, random)
    live = Live(workbook_bytes(plan), tmp_path)
    name = random.choice(sorted(SELLERS))
    money = 10 ** currency_decimals(SELLERS[name])
    row = terms_row(live, name)
    changed: dict[str, Any] = {
        "shipping_flat": random.randrange(0, 20_000),
        "shipping_per_kg": random.randrange(0, 700),
        "free_above": random.randrange(1, 900_000),
        "minimum_order": random.randrange(0, 900_000),
        "duty_percent": f"{random.randrange(0, 2_000) / 100:g}",
        "tax_percent": f"{random.randrange(0, 2_500) / 100:g}",
        "duty_on": random.choice(DUTY_BASES),
        "tax_on": random.choice(TAX_BASES),
    }
    for key, value in changed.items():
        if key.endswith("_percent"):
            live.edit(SHEET, row, TERMS[key], float(Fraction(value) / 100))
        else:
            live.edit(SHEET, row, TERMS[key], value if isinstance(value, str) else value / money)
    rows = [{**one, **changed} if one["id"] == name else one
            for one in plan.parts_used["suppliers"]]  # fmt: skip
    rates = dict(RATES)
    if SELLERS[name] != "EUR":
        rates[SELLERS[name]] = round(RATES[SELLERS[name]] * random.uniform(0.5, 1.5), 5)
        live.edit(SHEET, row, TERMS["rate"], rates[SELLERS[name]])
    assert same_orders(live, ordered(with_terms(plan, rows, rates), bought)) > 60


def at_the_limit(make_plan: MakePlan, **terms: Any) -> tuple[Plan, dict[str, Bought]]:
    """One order abroad of 100.00 USD, at terms that are given."""
    rows = [{"id": name, "currency": money} for name, money in SELLERS.items()]
    rows[1] |= terms
    plan = with_terms(make_plan(mass=None), rows, {**RATES, "USD": 0.92})
    bought = {
        line.part: Bought("harbour", 1, 5_000, 1_000)
        for line in plan.lines
        if line.family not in CHARGES
    }
    bought["lfp-100"] = Bought("north", 10, 1_000, 1_000)
    return ordered(plan, bought), bought


@pytest.mark.parametrize(
    ("price", "total"),
    [
        # 0.92 EUR to the dollar, duty 2.7 %, tax 19 %: 1.1243396 EUR to a dollar of goods. By
        # hand: 100.00 USD = 112.43396, 100.30 = 112.7712618..., 250.00 = 281.0849 EUR.
        (10.00, 112.44),
        (10.03, 112.78),
        (25.00, 281.09),
    ],
)
def test_an_invoice_by_hand(
    make_plan: MakePlan, tmp_path: Path, price: float, total: float
) -> None:
    plan, _ = at_the_limit(make_plan, duty_percent="2.7", tax_percent="19")
    live = Live(workbook_bytes(plan), tmp_path)
    live.edit("Bill", bill_row(live, "lfp-100"), UNIT_PRICE, price)
    live.model.evaluate()
    assert live.value(SHEET, live.row(SHEET, 1, "north"), 11) == total


def test_a_whole_cent_is_not_rounded_up_and_the_least_above_it_is(
    make_plan: MakePlan, tmp_path: Path
) -> None:
    """Nine decimals: the least that an invoice can be above a cent is a thousand millionth."""
    # 1.1 x 1.1 = 1.21 to the dollar: 100.00 USD are 121.00 EUR, and no binary number is.
    plan, bought = at_the_limit(make_plan, duty_percent="10", tax_percent="10")
    plan = ordered(with_terms(plan, plan.parts_used["suppliers"], {**RATES, "USD": 1.0}), bought)
    live = Live(workbook_bytes(plan), tmp_path)
    row = live.row(SHEET, 1, "north")
    live.model.evaluate()
    assert live.value(SHEET, row, 11) == 121.0
    # 1.000000001 to the dollar: 100.00 USD are 100.0000001 EUR, an invoice of 100.01.
    live.edit(SHEET, terms_row(live, "north"), TERMS["rate"], 1.000000001)
    for key in ("duty_percent", "tax_percent"):
        live.edit(SHEET, terms_row(live, "north"), TERMS[key], 0)
    live.model.evaluate()
    assert live.value(SHEET, row, 11) == 100.01
    live.edit(SHEET, terms_row(live, "north"), TERMS["rate"], 1)
    live.model.evaluate()
    assert live.value(SHEET, row, 11) == 100.0


@pytest.mark.parametrize("seed", range(200))
def test_the_columns_of_whole_numbers_are_the_exact_invoice(seed: int) -> None:
    """Amounts up to a million euros, factors of nine decimals: the rest is split exactly."""
    from bomplan.report.workbook.invoices import _factors, _split

    random = Random(f"split {seed}")
    rows = [some_terms(random, "north", "USD")]
    base = with_terms(
        Plan.model_construct(parts_used={}, project_used={}, currency="EUR", lines=()), rows,
        {"USD": round(random.uniform(0.05, 3), 4)},
    )  # fmt: skip
    terms = terms_of(base)["north"]
    goods, mass_g = random.randrange(1, 10**8), random.randrange(1, 10**7)
    whole, rest = _split(_factors(terms), (goods, terms.shipping(goods, mass_g)))
    assert whole - (-rest.numerator // rest.denominator) == terms.total(goods, mass_g)


def test_thresholds_by_formula(make_plan: MakePlan, tmp_path: Path) -> None:
    plan, bought = at_the_limit(
        make_plan, shipping_flat=1_500, free_above=10_100, minimum_order=9_000
    )
    live = Live(workbook_bytes(plan), tmp_path)
    row, bill = live.row(SHEET, 1, "north"), bill_row(live, "lfp-100")
    for price, freight, reading in (
        (10.0, 15.0, ""),
        (10.1, 0.0, "sent free"),
        (8.99, 15.0, "BELOW LEAST ORDER"),
        (9.0, 15.0, ""),
    ):
        live.edit("Bill", bill, UNIT_PRICE, price)
        after = with_one(bought, "lfp-100", asked=round(price * 100))
        same_orders(live, ordered(plan, after))
        assert live.value(SHEET, row, 5) == freight
        assert (live.value(SHEET, row, 12) or "") == reading
        below = live.value("Summary", 4, 1) or ""
        assert below.startswith("Orders below") == (reading == "BELOW LEAST ORDER")
    live.edit("Bill", bill, BUY, 0)
    live.model.evaluate()
    assert live.value(SHEET, row, 12) == "nothing ordered"
    assert live.value(SHEET, row, 11) == 0


def test_a_deleted_row_leaves_the_sums_right(make_plan: MakePlan, tmp_path: Path) -> None:
    """The row of a line taken out of Bill: its order, the total and the other sheets follow."""
    plan, bought = random_plan(make_plan, Random("deleted"))
    live = Live(workbook_bytes(plan), tmp_path)
    gone = "link-90"
    live.model.delete_rows(live.book.sheetnames.index("Bill"), bill_row(live, gone), 1)
    same_orders(live, ordered(plan, with_one(bought, gone, bought=0)))
    # No sheet shows a reference that is lost.
    for number, sheet in enumerate(live.book):
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    value = live.model.get_cell_value(number, cell.row, cell.column)
                    assert not str(value).startswith("#"), (sheet.title, cell.coordinate)


def test_a_line_of_ones_own_joins_an_order(make_plan: MakePlan, tmp_path: Path) -> None:
    plan, _ = at_the_limit(make_plan, shipping_flat=1_500, free_above=12_000)
    live = Live(workbook_bytes(plan), tmp_path)
    row = bill_row(live, "link-90") + 1
    for column, value in ((BUY, 3), (UNIT_PRICE, 10), (SUPPLIER, "north")):
        live.edit("Bill", row, column, value)
    live.model.evaluate()
    # 130.00 USD and sent free: 119.60 EUR.
    assert live.value(SHEET, live.row(SHEET, 1, "north"), 11) == 119.6
    assert live.value("Bill", 3, 9) == pytest.approx(4 * 50 + 119.6)


def test_other_currencies_of_the_plan(make_plan: MakePlan, tmp_path: Path) -> None:
    for currency, rates in (
        ("JPY", {"EUR": 171.35, "USD": 156.2, "KWD": 478.13}),
        ("KWD", {"EUR": 0.3581, "USD": 0.3274, "JPY": 0.00209}),
    ):
        random = Random(currency)
        rows = [some_terms(random, name, money) for name, money in SELLERS.items()]
        plan = with_terms(make_plan(mass=None, currency=currency), rows, rates)
        used = {**plan.project_used, "currency": currency}
        plan = plan.model_copy(update={"project_used": used})
        bought = some_purchases(random, plan, list(SELLERS))
        live = Live(workbook_bytes(ordered(plan, bought)), tmp_path)
        for part in sorted(bought):
            bought = with_one(bought, part, bought=random.randrange(1, 70))
            live.edit("Bill", bill_row(live, part), BUY, bought[part].bought)
            same_orders(live, ordered(plan, bought))


def test_charges_that_the_plan_does_not_carry_stay_as_planned(
    make_plan: MakePlan, tmp_path: Path
) -> None:
    plan = make_plan()
    live = Live(workbook_bytes(plan), tmp_path)
    row = live.row(SHEET, 1, "north")
    live.model.evaluate()
    assert live.value(SHEET, row, 12) == "as planned"
    assert live.value(SHEET, row, 7) == 120
    total = sum(line.price for line in plan.lines) / 100
    assert live.value(SHEET, live.row(SHEET, 1, "All, as on Bill"), 11) == pytest.approx(total)


def test_orders_of_a_plan_just_found(tmp_path: Path) -> None:
    """A whole plan's orders are live; moving every line of one supplier to another agrees."""
    plan = quick_plan()
    live = Live(workbook_bytes(plan), tmp_path)
    assert all(live.book[SHEET].cell(row, 12).value != "as planned" for row in range(5, 8))
    terms = terms_of(plan)
    bought = {
        line.part: Bought(
            line.supplier, line.bought,
            line.purchases[0].asked if line.purchases else line.unit_price,
            round(line.unit_mass_kg * 1000),
        )
        for line in plan.lines
        if line.family not in CHARGES
    }  # fmt: skip
    assert sum(line.price for line in ordered(plan, bought).lines) == plan.objective.value
    names = sorted({one.supplier for one in bought.values() if one.supplier})
    for part, one in bought.items():
        if one.supplier == names[0] and one.bought:
            bought[part] = Bought(names[-1], one.bought, one.asked + 7, one.mass_g)
            money = 10 ** currency_decimals(terms[names[-1]].currency)
            row = bill_row(live, part)
            live.edit("Bill", row, SUPPLIER, names[-1])
            live.edit("Bill", row, UNIT_PRICE, (one.asked + 7) / money)
    after = ordered(plan, bought)
    live.model.evaluate()
    total = sum(line.price for line in after.lines) / 100
    assert live.value("Bill", 3, 9) == pytest.approx(total, abs=1e-6)
    assert live.value(SHEET, live.row(SHEET, 1, names[0]), 12) == "nothing ordered"
    # What each offer asks stands below the list.
    head = live.row("Buying", 1, "Everyone who sells these parts") + 2
    listed = {
        tuple(live.book["Buying"].cell(row, column).value for column in (1, 2, 4, 6))
        for row in range(head, live.book["Buying"].max_row + 1)
    }
    parts = {line.part for line in plan.lines}
    assert listed == {
        (one.supplier, one.part, one.quantity_from, one.unit_price / 100)
        for one in generic().offers
        if one.part in parts
    }
    # Buying and the order of buying name the new supplier, and its days to delivery.
    part = next(name for name, one in bought.items() if one.supplier == names[-1] and one.bought)
    assert live.value("Buying", live.row("Buying", 2, part), 1) == names[-1]
    row = live.row("Buying order", 8, part)
    assert live.value("Buying order", row, 6) == names[-1]
    assert live.value("Buying order", row, 4) == terms[names[-1]].lead_days


def test_names_of_suppliers_never_run_and_match_whole(make_plan: MakePlan, tmp_path: Path) -> None:
    """No name reaches a formula, and one that reads as a comparison or a number stays a name."""
    names = ["=1+1", ">5", "007", "@north", 'a"b', "TRUE", "north", "northern"]
    random = Random("nasty")
    rows = [some_terms(random, name, "USD") for name in names]
    plan = with_terms(make_plan(mass=None), rows, dict(RATES))
    bought = {
        line.part: Bought(name, 3, 1_234, 900)
        for name, line in zip(names, plan.lines, strict=False)
        if line.family not in CHARGES
    }
    content = workbook_bytes(ordered(plan, bought))
    live = Live(content, tmp_path)
    assert live.agrees_with(content) > 150
    for sheet in live.book:
        for cells in sheet.iter_rows():
            for cell in cells:
                if cell.data_type == "f":
                    assert not any(name in cell.value for name in names if name != "TRUE")
