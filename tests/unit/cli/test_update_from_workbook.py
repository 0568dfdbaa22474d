"""Prices and masses edited on Bill go back into the catalogue, the difference first."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from golden_files import compare
from shipped_examples import quick_plan

from bomplan import api
from bomplan.cli import main
from bomplan.design.records import Plan
from bomplan.report.workbook import workbook_bytes

RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A copy of the shipped catalogue in ``parts`` and a workbook ``bom.xlsx``, of two plans."""
    found = {}
    for name, plan in (("released", released()), ("quick", quick_plan())):
        found[name] = tmp_path_factory.mktemp(name)
        api.export_catalog(["generic"], found[name] / "parts")
        (found[name] / "bom.xlsx").write_bytes(workbook_bytes(plan))
    return found


@cache
def released() -> Plan:
    return api.read_plan(RELEASED / "plan.json")


@pytest.fixture
def saved(written: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Plan:
    """A released plan with a folder of its own to write into, in which the test stands."""
    shutil.copytree(written["released"], tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return released()


@pytest.fixture
def quick(written: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Plan:
    """The same with a plan just found, of lines that were bought from suppliers."""
    shutil.copytree(written["quick"], tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return quick_plan()


def edit(part: str, price: object = None, mass: object = None) -> None:
    book = openpyxl.load_workbook("bom.xlsx")
    sheet = book["Bill"]
    for row in sheet.iter_rows(min_row=5):
        if row[2].value == part:
            if price is not None:
                row[7].value = price
            if mass is not None:
                row[9].value = mass
    book.save("bom.xlsx")


def update(*words: str, target: str = "parts") -> int:
    return main(["catalog", "update", target, "--from", "bom.xlsx", *words])


def first(plan: Plan, want: Callable[[Any], bool]) -> Any:
    return next(line for line in plan.lines if line.family != "shipping" and want(line))


def test_an_unedited_workbook_changes_nothing(
    saved: Plan, capsys: pytest.CaptureFixture[str]
) -> None:
    assert update() == 0
    assert capsys.readouterr().out.splitlines()[-1] == "nothing to write"
    assert saved.lines


def test_price_and_mass_of_a_part_and_of_an_offer(
    saved: Plan, capsys: pytest.CaptureFixture[str]
) -> None:
    own = first(saved, lambda line: not line.supplier)
    offered = first(saved, lambda line: line.supplier)
    edit(own.part, price=77.25, mass=1.234)
    edit(offered.part, price=99.5)
    assert update("--price-date", "2026-11-09") == 0
    told = capsys.readouterr()
    assert f"{own.part}, mass_kg" in told.out
    assert f"{offered.part}/{offered.supplier}" in told.out
    assert "nothing written yet" in told.out
    before = api.load_catalog(["parts"])
    assert update("--price-date", "2026-11-09", "--yes") == 0
    after = api.load_catalog(["parts"])
    assert after.part(own.part).mass_g == 1_234
    assert after.part(own.part).price_date == "2026-11-09"
    rates = saved.project_used["rates"]
    currency = after.part(own.part).currency
    rate = 1 if currency == saved.currency else rates[currency]
    assert after.part(own.part).price == round(7725 / rate)
    changed = set(after.offers) - set(before.offers)
    money = after.suppliers[offered.supplier].currency
    rate = 1 if money == saved.currency else rates[money]
    assert [(one.part, one.supplier, one.unit_price) for one in changed] == [
        (offered.part, offered.supplier, round(9950 / rate))
    ]
    assert before.part(offered.part).price == after.part(offered.part).price


def test_a_price_in_the_suppliers_money(quick: Plan, capsys: pytest.CaptureFixture[str]) -> None:
    """What stands on Bill in the supplier's money goes into its offer as it stands there."""
    plan = quick
    catalog = api.load_catalog(["parts"])
    line = next(
        one for one in plan.lines
        if one.supplier and one.purchases
        and catalog.suppliers[one.supplier].currency != plan.currency
    )  # fmt: skip
    assert update() == 0
    assert capsys.readouterr().out.splitlines()[-1] == "nothing to write"
    asked = line.purchases[0].asked + 123
    edit(line.part, price=asked / 100)
    assert update("--yes", "--price-date", "2026-11-09") == 0
    changed = set(api.load_catalog(["parts"]).offers) - set(catalog.offers)
    assert {(one.part, one.supplier, one.unit_price) for one in changed} == {
        (line.part, line.supplier, asked)
    }


def test_a_line_moved_to_another_supplier_keeps_both_offers(
    quick: Plan, capsys: pytest.CaptureFixture[str]
) -> None:
    line = next(one for one in quick.lines if one.supplier and one.purchases)
    edit(line.part, price=1.25)
    book = openpyxl.load_workbook("bom.xlsx")
    for row in book["Bill"].iter_rows(min_row=5):
        if row[2].value == line.part:
            row[12].value = "somewhere"
    book.save("bom.xlsx")
    assert update() == 0
    told = capsys.readouterr()
    assert told.out.splitlines()[-1] == "nothing to write"
    assert f"moved from {line.supplier} to somewhere; its price is not taken" in told.err


@pytest.mark.slow
def test_a_catalogue_kept_as_a_workbook(saved: Plan, capsys: pytest.CaptureFixture[str]) -> None:
    api.export_catalog(["parts"], "parts.xlsx")
    own = first(saved, lambda line: not line.supplier)
    edit(own.part, mass=1.5)
    assert update("--yes", target="parts.xlsx") == 0
    assert "kept as parts.kept-1.xlsx" in capsys.readouterr().err
    old, new = api.load_catalog(["parts.kept-1.xlsx"]), api.load_catalog(["parts.xlsx"])
    assert new.part(own.part).mass_g == 1_500
    assert old.part(own.part).mass_g != 1_500
    assert len(api.compare_catalogs("parts.kept-1.xlsx", "parts.xlsx")) == 1


def no_bill(_: Plan) -> None:
    book = openpyxl.load_workbook("bom.xlsx")
    del book["Bill"]
    book.save("bom.xlsx")


def no_head(_: Plan) -> None:
    book = openpyxl.load_workbook("bom.xlsx")
    book["Bill"].delete_rows(4)
    book.save("bom.xlsx")


def not_a_figure(plan: Plan) -> None:
    edit(plan.lines[0].part, price="cheap", mass=-1)


def no_rate(plan: Plan) -> None:
    project = {**plan.project_used, "rates": {}}
    api.write_outputs(plan.model_copy(update={"project_used": project}), ".")
    edit(first(plan, lambda line: not line.supplier).part, price=77)


def other_currency(plan: Plan) -> None:
    part = first(plan, lambda line: not line.supplier)
    path = Path("parts") / f"{part.family}.csv"
    path.write_text(path.read_text("utf-8").replace("USD", "SEK"), encoding="utf-8")
    edit(part.part, price=77)


def no_offer(plan: Plan) -> None:
    part = first(plan, lambda line: line.supplier)
    path = Path("parts/offers.csv")
    rows = path.read_text("utf-8").splitlines(keepends=True)
    path.write_text("".join(row for row in rows if part.part not in row), encoding="utf-8")
    edit(part.part, price=77)


@pytest.mark.parametrize(
    "prepare", [no_bill, no_head, not_a_figure, no_rate, other_currency, no_offer],
    ids=lambda one: one.__name__,
)  # fmt: skip
def test_message(
    prepare: Callable[[Plan], None], saved: Plan, capsys: pytest.CaptureFixture[str]
) -> None:
    prepare(saved)
    held = {path: path.read_bytes() for path in Path().rglob("*") if path.is_file()}
    capsys.readouterr()
    assert update("--yes", "--price-date", "2026-11-09") == 2
    compare("workbook", f"update-{prepare.__name__.replace('_', '-')}", capsys.readouterr().err)
    assert held == {path: path.read_bytes() for path in Path().rglob("*") if path.is_file()}
