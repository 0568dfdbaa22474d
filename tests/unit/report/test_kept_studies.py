"""Studies kept beside a plan: read where they are whole, and shown on a sheet of their own."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from html_tree import tree
from live_workbook import Live

from bomplan import api
from bomplan.cli.keeping import keep_answer
from bomplan.cli.study import json_of
from bomplan.design.chances import Chance, Chances, Influence, InputRange
from bomplan.design.comparison import Compared, Comparison, LifeCost, MostThatFits, YearsOfUse
from bomplan.design.records import Plan
from bomplan.design.studies import (
    Alternative,
    Alternatives,
    Binding,
    Bindings,
    Headline,
    Step,
)
from bomplan.report.kept_studies import (
    ALTERNATIVES_FILE,
    BINDINGS_FILE,
    CHANCES_FILE,
    COMPARISON_FILE,
    Studies,
    kept_studies,
)
from bomplan.report.units import Show
from bomplan.report.workbook import workbook_bytes

MakePlan = Callable[..., Plan]


def headline(plan: Plan, **changes: Any) -> Headline:
    core = plan.core
    assert core is not None
    told = {
        "motor": core.motor,
        "controller": core.controller,
        "final_ratio": core.final_ratio,
        "module": core.module,
        "chemistry": "lfp",
        "series": core.series,
        "parallel": core.parallel,
        "topology": core.topology,
        "price": plan.objective.value,
        "kerb_kg": 1100.0,
        "laden_kg": 1500.0,
        "front_left_kg": 50.0,
        "rear_left_kg": 30.0,
        "rear_axle_kg": 800.0,
        "range_target": "the round",
        "range_km": 61.5,
        "wanted_km": 60.0,
        "energy_wh_per_km": 190.0,
        "usable_kwh": 10.0,
        "nominal_v": 115.0,
        "top_speed_kmh": 96.0,
        "gradeability": 0.23,
        "charge_hours": 6.0,
        "own_hours": 150.0,
    }
    return Headline(**(told | changes))


def alternatives(plan: Plan, **changes: Any) -> Alternatives:
    chosen = headline(plan)
    other = headline(plan, motor="=1+1", price=chosen.price + 12_345, chemistry="nmc")
    told = {
        "currency": plan.currency,
        "chosen": chosen,
        "others": (
            Alternative(plan=other, price_change=12_345, better=("worst range +4.0 km",),
                        worse=("laden mass +10 kg",), overtakes=True),
        ),
        "complete": False,
        "prices_move": 0.15,
    }  # fmt: skip
    return Alternatives(**(told | changes))


def comparison(plan: Plan) -> Comparison:
    use = YearsOfUse(distance_a_year_km=8000, years=10, between_charges_km=40, target="the round",
                     asked_km=60, electricity="0.3 EUR")  # fmt: skip
    rows = (
        Compared(label="lfp", outcome="plan", plan=headline(plan), adopt="choices.chemistries"),
        Compared(label="nmc", outcome="plan", plan=headline(plan, price=700_000)),
        Compared(label="flooded", outcome="none", reasons=("too heavy for the rear axle",)),
    )
    return Comparison(
        currency=plan.currency, by="chemistry", words="the best plan of each chemistry",
        rows=rows, use=use,
    )  # fmt: skip


def bindings(plan: Plan, **changes: Any) -> Bindings:
    told = {
        "currency": plan.currency,
        "chosen": headline(plan),
        "bindings": (
            Binding(lever="range.day", words="range, {{day}}", unit="km", amount=60.0,
                    easier=Step(amount=50.0, outcome="plan", price_change=-12_345),
                    harder=Step(amount=70.5, outcome="none")),
            Binding(lever="axle.rear", words="rear axle", unit="kg", amount=900.0,
                    easier=Step(amount=920.0, outcome="plan", price_change=0),
                    harder=Step(amount=880.0, outcome="plan", price_change=0)),
        ),
    }  # fmt: skip
    return Bindings(**(told | changes))


def chances(plan: Plan, **changes: Any) -> Chances:
    inputs = (
        InputRange(name="drag_area", words="drag area", half=0.1, unit="", known="class",
                   to_know="let it <b>roll</b>"),
        InputRange(name="temperature", words="temperature", half=5.0, unit="K", known="class",
                   to_know="ask"),
    )  # fmt: skip
    likely = Chance(
        id="range.day", words="range, <b>day</b>", unit="km", sense="at least", limit=50.0,
        at=61.5, chance=0.4925, low=0.47, high=0.514, worst_tenth=36.1, middle=47.75,
        best_tenth=70.9, influences=(Influence(name="drag_area", share=0.502, error=0.04),),
    )  # fmt: skip
    told = {
        "project": plan.project, "currency": plan.currency, "draws": 2000, "seed": 1,
        "inputs": inputs, "all_kept": 0.4925, "all_low": 0.47, "all_high": 0.514,
        "chances": (likely, likely.model_copy(update={"id": "climb.hill", "chance": 1.0,
                                                      "words": "a hill", "unit": "N"})),
        "measure_first": "drag_area", "chosen": headline(plan),
    }  # fmt: skip
    return Chances(**(told | changes))


def test_what_is_kept_is_read_again(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    assert kept_studies(tmp_path, plan) == Studies()
    keep_answer(tmp_path, ALTERNATIVES_FILE, json_of(alternatives(plan)))
    keep_answer(tmp_path, COMPARISON_FILE, json_of(comparison(plan)))
    keep_answer(tmp_path, BINDINGS_FILE, json_of(bindings(plan)))
    keep_answer(tmp_path, CHANCES_FILE, json_of(chances(plan)))
    keep_answer(None, "nothing.json", "{}")
    found = kept_studies(tmp_path, plan)
    assert found == Studies(alternatives(plan), comparison(plan), (), bindings(plan), chances(plan))
    assert not (tmp_path / "nothing.json").exists()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"currency": 7}', "\x00"])
def test_what_is_no_answer_is_said_and_left_out(
    text: str, make_plan: MakePlan, tmp_path: Path
) -> None:
    (tmp_path / ALTERNATIVES_FILE).write_text(text, "utf-8")
    found = kept_studies(tmp_path, make_plan())
    assert found.alternatives is None
    assert found.notes == ("alternatives.json cannot be read: left out",)
    sheet = openpyxl.load_workbook(io.BytesIO(workbook_bytes(make_plan(), None, found)))
    assert sheet["Alternatives"]["A2"].value == "alternatives.json cannot be read: left out"


def test_of_another_plan_or_currency_is_said(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    stale = alternatives(plan, chosen=headline(plan, price=1))
    keep_answer(tmp_path, ALTERNATIVES_FILE, json_of(stale))
    found = kept_studies(tmp_path, plan)
    assert found.alternatives == stale
    assert "beside another plan" in found.notes[0]
    keep_answer(tmp_path, ALTERNATIVES_FILE, json_of(alternatives(plan, currency="USD")))
    found = kept_studies(tmp_path, plan)
    assert found.alternatives is None
    assert "counts in USD" in found.notes[0]


def test_the_sheet_shows_them(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    content = workbook_bytes(plan, None, Studies(alternatives(plan), comparison(plan)))
    book = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    assert book.sheetnames.index("Alternatives") == book.sheetnames.index("Sources") - 1
    rows = {row[0].value: row for row in book["Alternatives"].iter_rows() if row[0].value}
    other = rows["number 2 (get both quoted)"]
    assert other[2].value == 123.45
    assert (other[3].value, other[3].data_type) == ("=1+1", "s")
    assert other[12].value == "worst range +4.0 km"
    assert rows["nmc"][1].value == 7000
    assert rows["flooded"][3].value == "no plan (proven)"
    assert rows["flooded"][13].value == "too heavy for the rear axle"
    assert Live(content, tmp_path).agrees_with(content) > 80
    assert "Alternatives" not in openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan))).sheetnames


def test_the_sheet_says_what_fits_and_what_the_years_cost(make_plan: MakePlan) -> None:
    plan = make_plan()
    life = LifeCost(
        depth=0.51, cycles_depth=0.6, cycles=4709, cycle_years=16, calendar_years=15,
        pack_years=15, ended_by="calendar", packs=1, pack_price=90_000, purchase=500_000,
        energy=None, replacements=90_000, total=590_000, per_100_km=540, wall_wh_per_km=60,
    )  # fmt: skip
    most = MostThatFits(
        module="lead-12v", modules=2, nominal_v=24, pack_kwh=0.9, mass_kg=47, spare_kg=174
    )
    told = comparison(plan)
    rows = (
        told.rows[0].model_copy(update={"life": life, "pack_kwh": 5.1, "range_new_km": 105.9}),
        told.rows[1],
        told.rows[2].model_copy(update={"most": most}),
    )
    told = told.model_copy(update={"rows": rows})
    content = workbook_bytes(plan, None, Studies(None, told))
    sheet = openpyxl.load_workbook(io.BytesIO(content), data_only=True)["Alternatives"]
    cells = list(sheet.iter_rows(values_only=True))
    why = next(row[13] for row in cells if row[0] == "flooded")
    assert why.startswith("at most 2 lead-12v fit the bays and the 174 kg left for all parts")
    head = next(n for n, row in enumerate(cells) if row[0] == "Packs over the years") + 1
    assert cells[head][11] == "Over all years EUR"
    assert cells[head + 1][:9] == ("lfp", 5.1, 105.9, None, None, 0.51, 4709, 15, 1)
    assert cells[head + 1][9:13] == (None, 900, 5900, 5.4)
    assert cells[head + 2][0] == "nmc"


def test_the_report_shows_them(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    keep_answer(tmp_path, ALTERNATIVES_FILE, json_of(alternatives(plan)))
    keep_answer(tmp_path, COMPARISON_FILE, json_of(comparison(plan)))
    api.write_outputs(plan, tmp_path)
    page = (tmp_path / "report.html").read_text("utf-8")
    api.write_report(plan, tmp_path / "again.html")
    assert (tmp_path / "again.html").read_text("utf-8") == page
    section = tree(page).by_id("others")
    rows = {row.one("th").text(): row for row in section.every("tr")
            if len(list(row.every("th"))) == 1}  # fmt: skip
    other = [cell.text() for cell in rows["number 2 (get both quoted)"].every("td")]
    assert other[1] == "123.45 EUR"
    assert other[2] == "=1+1, controller-a"
    assert other[-2:] == ["worst range +4.0 km", "laden mass +10 kg"]
    assert rows["nmc"].text().startswith("nmc 7000.00 EUR")
    assert "no plan (proven)" in rows["flooded"].text()
    assert "too heavy for the rear axle" in rows["flooded"].text()
    assert "bomplan alternatives" not in section.text()
    assert "bomplan alternatives" in tree(api.report(plan)).by_id("others").text()


def cells_under(section: Any, caption: str) -> list[list[str]]:
    (table,) = (one for one in section.every("table") if one.one("caption").text() == caption)
    return [
        [cell.text() for cell in row.every("th", "td")] for row in table.one("tbody").every("tr")
    ]


def test_the_report_says_what_relaxing_costs(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    keep_answer(tmp_path, BINDINGS_FILE, json_of(bindings(plan)))
    api.write_outputs(plan, tmp_path)
    page = tree((tmp_path / "report.html").read_text("utf-8"))
    section = page.by_id("binds")
    assert cells_under(section, "What relaxing costs and saves") == [
        ["range, {{day}}", "60 km", "50 km", "\N{MINUS SIGN}123.45 EUR", "70.5 km",
         "no plan (proven)"]
    ]  # fmt: skip
    assert "changes nothing: rear axle (900 kg)." in section.text()
    assert "bomplan binds" not in page.by_id("others").text()
    # It is of no other plan, so the workbook gets no sheet for it.
    assert "Alternatives" not in openpyxl.load_workbook(tmp_path / "bom.xlsx").sheetnames
    assert "What relaxing costs" not in tree(api.report(plan)).by_id("binds").text()


def test_the_report_says_how_sure_it_is(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    keep_answer(tmp_path, CHANCES_FILE, json_of(chances(plan)))
    api.write_report(plan, tmp_path / "report.html", Show(decimal_comma=True))
    page = tree((tmp_path / "report.html").read_text("utf-8"))
    section = page.by_id("sure")
    assert "hold in 49,2 % of 2000 draws (47,0 % to 51,4 % with 95 % certainty)" in section.text()
    assert "Before buying, find out: drag area. Let it <b>roll</b>." in section.text()
    assert cells_under(section, "Chances, and what decides them") == [
        ["range, <b>day</b>", "49,2 %", "47,0 % to 51,4 %", "drag area 50,2 %"]
    ]
    first, second = cells_under(section, "What each target comes to over all draws")
    assert first == ["range, <b>day</b>", "49,2 %", "50 km", "61,5 km", "36,1 km", "47,7 km",
                     "70,9 km"]  # fmt: skip
    assert second[:3] == ["a hill", "100 %", "50 N"]
    assert cells_under(section, "What may be off, and how to find out")[0] == [
        "drag area", "± 10 %", "typical", "let it <b>roll</b>"
    ]  # fmt: skip
    # One bar for what is not certain, named for ears.
    assert next(iter(section.every("title"))).text() == "Chance of keeping each target or limit"
    assert not list(section.every("b"))
    assert "bomplan chances" not in page.by_id("others").text()


def test_what_is_certain_needs_no_chart(make_plan: MakePlan, tmp_path: Path) -> None:
    plan = make_plan()
    sure = chances(plan).chances[1].model_copy(update={"low": 0.998, "high": 1.0})
    whole = chances(plan, chances=(sure,), all_kept=1.0, measure_first=None)
    keep_answer(tmp_path, CHANCES_FILE, json_of(whole))
    api.write_report(plan, tmp_path / "report.html")
    section = tree((tmp_path / "report.html").read_text("utf-8")).by_id("sure")
    assert not list(section.every("svg"))
    assert "Before buying" not in section.text()
    assert "hold in 100 % of 2000 draws" in section.text()


@pytest.mark.parametrize("stated", [True, False])
def test_chances_of_another_plan_are_left_out(
    stated: bool, make_plan: MakePlan, tmp_path: Path
) -> None:
    """Another price, or the same parts driven to another figure."""
    plan = make_plan()
    stale = chances(plan)
    if stated:
        check = next(one for one in plan.checks if one.id.startswith("range."))
        odd = stale.chances[0].model_copy(update={"id": check.id, "at": float(check.value) + 1})
        stale = chances(plan, chances=(odd,))
    else:
        stale = chances(plan, chosen=headline(plan, price=1))
    keep_answer(tmp_path, CHANCES_FILE, json_of(stale))
    keep_answer(tmp_path, BINDINGS_FILE, json_of(bindings(plan, chosen=headline(plan, price=1))))
    found = kept_studies(tmp_path, plan)
    assert (found.chances, found.bindings) == (None, None)
    assert len(found.notes) == 2
    assert all("another plan" in note and "left out" in note for note in found.notes)
    api.write_report(plan, tmp_path / "report.html")
    page = tree((tmp_path / "report.html").read_text("utf-8"))
    assert found.notes[0] in page.by_id("others").text()
