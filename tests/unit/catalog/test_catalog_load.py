"""What loading keeps, stacks and tells."""

from __future__ import annotations

import csv
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bomplan.catalog import Catalog, load_catalog
from bomplan.catalog.columns import schema

Edit = Callable[[str, str, str, str], Path]

PART_HEADER = "id,description,mass_kg,price,currency,price_date,source"


def overlay(home: Path, name: str = "mine", **tables: str) -> Path:
    folder = home / name
    folder.mkdir()
    for table, text in tables.items():
        (folder / f"{table}.csv").write_text(text, encoding="utf-8")
    return folder


def test_units_become_whole_grams_and_cents(generic: Catalog) -> None:
    cell = generic.part("lfp-cell-100")
    assert (cell.mass_g, cell.price, cell.currency) == (2100, 4200, "USD")
    assert (cell.length_mm, cell.width_mm, cell.height_mm) == (160, 50, 118)
    assert cell.number("resistance_dc_mohm") == 1.0
    assert cell.flag("built_in_protection") is False
    assert cell.text("chemistry") == "lfp"
    assert not cell.has("capacity_1h_ah")


def test_a_fraction_of_a_gram_is_rounded_up(edit: Edit) -> None:
    catalog = load_catalog([edit("lug", "lug-10mm2-m6", "mass_kg", "0.0121")])
    assert catalog.part("lug-10mm2-m6").mass_g == 13


def test_an_offer_is_in_the_currency_of_its_supplier(edit: Edit) -> None:
    edit("suppliers", "harbour-parts", "currency", "JPY")
    edit("suppliers", "harbour-parts", "shipping_flat", "1500")
    folder = edit("suppliers", "harbour-parts", "free_above", "60000")
    path = folder / "offers.csv"
    lines = path.read_text().splitlines()
    kept = [line for line in lines if ",harbour-parts," not in line]
    path.write_text("\n".join([*kept, "lfp-cell-100,harbour-parts,1,1,6100"]))
    catalog = load_catalog([folder])
    assert catalog.suppliers["harbour-parts"].shipping_flat == 1500
    offers = [offer for offer in catalog.offers if offer.supplier == "harbour-parts"]
    assert [offer.unit_price for offer in offers] == [6100]


def test_a_later_catalogue_overrides_by_id(tmp_path: Path, generic: Catalog) -> None:
    mine = overlay(
        tmp_path,
        shunt=f"{PART_HEADER},rated_a,resistance_uohm\n"
        "shunt-500a,my shunt,0.33,19.50,EUR,2026-10-02,measured,500,101\n"
        "shunt-750a,another,0.4,25,USD,2026-10-02,data sheet,750,66.7\n",
    )
    catalog = load_catalog(["generic", mine])
    assert catalog.part("shunt-500a").price == 1950
    assert catalog.part("shunt-500a").currency == "EUR"
    assert "shunt-750a" in catalog.family("shunt")
    assert set(catalog.family("shunt")) == {*generic.family("shunt"), "shunt-750a"}
    assert any("shunt-500a overrides generic/shunt.csv" in note for note in catalog.notes)
    assert catalog.name == f"generic + {mine.as_posix()}"
    assert catalog.digest != generic.digest


def test_a_later_curve_replaces_the_whole_curve(tmp_path: Path) -> None:
    mine = overlay(
        tmp_path,
        curves="curve,state_of_charge,open_circuit_v,resistance_factor\n"
        "lfp,0,2.6,2\nlfp,0.5,3.28,1\nlfp,1,3.45,1.1\n",
    )
    points = [point for point in load_catalog(["generic", mine]).curves if point.curve == "lfp"]
    assert [point.state_of_charge for point in points] == [0.0, 0.5, 1.0]


def test_later_offers_replace_those_of_the_same_part_and_supplier(tmp_path: Path) -> None:
    mine = overlay(
        tmp_path, offers="part,supplier,unit_price\nlfp-cell-20,northern-wholesale,9.90\n"
    )
    catalog = load_catalog(["generic", mine])
    offers = [offer for offer in catalog.offers if offer.part == "lfp-cell-20"]
    assert [(offer.quantity_from, offer.unit_price) for offer in offers] == [(1, 990)]


def test_a_later_catalogue_may_use_the_ids_of_an_earlier_one(tmp_path: Path) -> None:
    mine = overlay(
        tmp_path,
        pairs="motor,controller,v_min,v_max,source\n"
        "motor-series-232mm,chopper-120v-450a,48,146,measured\n",
    )
    pairs = load_catalog(["generic", mine]).pairs
    assert any(
        pair.motor == "motor-series-232mm" and pair.controller == "chopper-120v-450a"
        for pair in pairs
    )


def test_unknown_columns_are_kept_and_told(edit: Edit) -> None:
    catalog = load_catalog([edit("shunt", "shunt-500a", "colur", "=1+1")])
    assert catalog.part("shunt-500a").figures["colur"] == "=1+1"
    assert len(catalog.notes) == 1
    assert catalog.notes[0].endswith("shunt.csv: column colur is not known, kept as it stands")


def test_a_note_names_the_column_that_was_meant(edit: Edit) -> None:
    notes = load_catalog([edit("shunt", "shunt-500a", "replacd_by", "shunt-300a")]).notes
    assert notes[0].endswith("did you mean replaced_by?")


def test_a_foreign_csv_is_left_alone_and_told(folder: Path) -> None:
    (folder / "shopping-diary.csv").write_text("a,b\n1,2\n")
    assert "left alone" in load_catalog([folder]).notes[0]


def test_points_and_steps_come_in_order_of_their_numbers(generic: Catalog) -> None:
    for name in {point.curve for point in generic.curves}:
        levels = [point.state_of_charge for point in generic.curves if point.curve == name]
        assert levels == sorted(levels)
    steps = [
        offer.quantity_from
        for offer in generic.offers
        if offer.part == "lfp-cell-100" and offer.supplier == "northern-wholesale"
    ]
    assert steps == [4, 16, 100]


def test_parts_come_in_order_of_their_ids(generic: Catalog) -> None:
    for rows in generic.families.values():
        assert list(rows) == sorted(rows)
        assert all(part_id == part.id for part_id, part in rows.items())


def test_semicolons_decimal_commas_and_odd_line_ends(folder: Path, generic: Catalog) -> None:
    for position, path in enumerate(sorted(folder.glob("*.csv"))):
        with path.open(newline="", encoding="utf-8") as stream:
            rows = list(csv.reader(stream))
        delimiter = (";", "\t")[position % 2]
        decimals = {
            name
            for name, column in schema()[path.stem].columns.items()
            if column.type in ("number", "money")
        }
        header = rows[0]
        rows[1:] = [
            [
                cell.replace(".", ",") if name in decimals else cell
                for name, cell in zip(header, row, strict=True)
            ]
            for row in rows[1:]
        ]
        ends = ("\r\n", "\n", "\r")
        with path.open("w", newline="", encoding="utf-8-sig") as stream:
            for line, row in enumerate(rows):
                end = ends[(position + line) % 3]
                csv.writer(stream, delimiter=delimiter, lineterminator=end).writerow(row)
    assert load_catalog([folder]).digest == generic.digest


def test_a_separator_line_of_a_spreadsheet_is_obeyed(folder: Path, generic: Catalog) -> None:
    path = folder / "suppliers.csv"
    path.write_text("sep=,\n" + path.read_text())
    assert load_catalog([folder]).digest == generic.digest


def test_names_in_capitals_and_spare_cells_are_read(folder: Path, generic: Catalog) -> None:
    path = folder / "shunt.csv"
    lines = path.read_text().splitlines()
    lines[0] = lines[0].upper()
    path.write_text("\n".join(f"{line},," for line in lines) + "\n,,,,\n")
    assert load_catalog([folder]).digest == generic.digest


def test_the_digest_tells_one_cent(edit: Edit, generic: Catalog) -> None:
    assert load_catalog([edit("shunt", "shunt-500a", "price", "21.01")]).digest != generic.digest


def test_the_digest_ignores_how_a_number_is_written(edit: Edit, generic: Catalog) -> None:
    edit("shunt", "shunt-500a", "price", "21.0")
    edit("module", "lfp-cell-100", "capacity_ah", "1.0e2")
    assert load_catalog([edit("shunt", "shunt-500a", "rated_a", "500.0")]).digest == generic.digest


@pytest.mark.parametrize("text", ["=HYPERLINK(1)", "<b>x</b>", 'a "quoted", b', "ſ̈ ünïcode 電池"])
def test_nasty_text_is_carried_unharmed(edit: Edit, text: str) -> None:
    catalog = load_catalog([edit("shunt", "shunt-500a", "description", text)])
    assert catalog.part("shunt-500a").description == text


def test_loading_is_quick() -> None:
    best = min(_seconds() for _ in range(5))
    assert best < 0.15


def _seconds() -> float:
    start = time.process_time()
    load_catalog(["generic"])
    return time.process_time() - start
