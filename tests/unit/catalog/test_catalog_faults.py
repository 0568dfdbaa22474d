"""Every way in which a catalogue folder can be unusable ends in faults, all at once."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from bomplan.catalog import load_catalog
from bomplan.errors import Fault, InputError

Edit = Callable[[str, str, str, str], Path]


def faults_of(*folders: Path | str) -> tuple[Fault, ...]:
    with pytest.raises(InputError) as caught:
        load_catalog(list(folders))
    return caught.value.faults


def only(*folders: Path | str) -> Fault:
    faults = faults_of(*folders)
    assert len(faults) == 1, [fault.text() for fault in faults]
    return faults[0]


@pytest.mark.parametrize(
    ("table", "row", "column", "text", "code"),
    [
        ("module", "lfp-cell-100", "mass_kg", "-2.1", "too-small"),
        ("module", "lfp-cell-100", "mass_kg", "nan", "not-a-number"),
        ("module", "lfp-cell-100", "mass_kg", "inf", "not-a-number"),
        ("module", "lfp-cell-100", "capacity_ah", "1e309", "not-finite"),
        ("module", "lfp-cell-100", "capacity_ah", "1,5", "not-a-number"),
        ("module", "lfp-cell-100", "capacity_ah", "100 Ah", "not-a-number"),
        ("module", "lfp-cell-100", "capacity_ah", "0x64", "not-a-number"),
        ("module", "lfp-cell-100", "capacity_ah", "٣", "not-a-number"),
        ("module", "lfp-cell-100", "state_of_health", "85", "too-large"),
        ("module", "lfp-cell-100", "length_mm", "160.5", "not-whole"),
        ("module", "lfp-cell-100", "built_in_protection", "perhaps", "not-yes-or-no"),
        ("module", "lfp-cell-100", "chemistry", "lpf", "not-a-choice"),
        ("module", "lfp-cell-100", "chemistry", "", "missing-value"),
        ("module", "lead-agm-6v-200", "capacity_1h_ah", "", "missing-value"),
        ("module", "lfp-cell-100", "price", "-42.00", "too-small"),
        ("module", "lfp-cell-100", "price", "42.005", "money"),
        ("module", "lfp-cell-100", "price", "1e3", "money"),
        ("module", "lfp-cell-100", "currency", "USX", "money"),
        ("module", "lfp-cell-100", "price_date", "15.09.2026", "not-a-date"),
        ("module", "lfp-cell-100", "price_date", "2026-02-30", "not-a-date"),
        ("module", "lfp-cell-100", "source", "", "missing-value"),
        ("module", "lfp-cell-100", "description", "x" * 501, "text-too-long"),
        ("module", "lfp-cell-100", "description", "bell \x07", "control-character"),
        ("module", "lfp-cell-100", "note", "x" * 1_000, "text-too-long"),
        ("module", "lfp-cell-100", "curve", "lfpp", "unknown-curve"),
        ("module", "lfp-cell-100", "replaced_by", "lfp-cell-101", "unknown-replaced-by"),
        ("motor", "motor-series-205mm", "resistance_hot_mohm", "", "missing-value"),
        ("motor", "motor-mid-72v-14kw", "emf_v_per_krpm", "", "missing-value"),
        ("motor", "drive-unit-front-80kw", "unit_ratio", "", "missing-value"),
        ("pairs", "motor-mid-72v-14kw", "peak_kw", "", "missing-value"),
        ("pairs", "motor-mid-72v-14kw", "controller", "inverter-73v-400a", "unknown-controller"),
        ("pairs", "motor-mid-72v-14kw", "controller", "chopper-72v-400a", "pair-kind"),
        ("offers", "lfp-cell-20", "supplier", "northern-wholesail", "unknown-supplier"),
        ("offers", "lfp-cell-20", "part", "lfp-cell-21", "unknown-part"),
        ("offers", "lfp-cell-20", "quantity_from", "0", "too-small"),
        ("suppliers", "harbour-parts", "shipping_flat", "95.001", "money"),
        ("curves", "nmc", "state_of_charge", "0.01", "curve-span"),
    ],
)
def test_one_bad_cell(edit: Edit, table: str, row: str, column: str, text: str, code: str) -> None:
    fault = only(edit(table, row, column, text))
    assert fault.code == f"catalog.{code}"
    assert fault.file is not None
    assert fault.file.endswith(f"parts/{table}.csv")
    assert fault.where is not None
    assert fault.where.startswith("row ")
    assert "Traceback" not in fault.text()


def test_a_fault_says_where_what_and_what_is_allowed(edit: Edit) -> None:
    fault = only(edit("module", "lfp-cell-100", "mass_kg", "-2.1"))
    assert fault.where == "row 28 (lfp-cell-100), column mass_kg"
    assert fault.value == "-2.1"
    assert fault.allowed == "a number from 0.02 to 1000 (kg)"
    assert fault.message == "less than 0.02"


def test_a_misspelt_word_gets_the_nearest(edit: Edit) -> None:
    assert only(edit("module", "lfp-cell-100", "chemistry", "lpf")).hint == "did you mean lfp?"


def test_a_dangling_id_gets_the_nearest(edit: Edit) -> None:
    fault = only(edit("offers", "lfp-cell-20", "supplier", "northern-wholesail"))
    assert fault.hint == "did you mean northern-wholesale?"


def test_a_unit_in_a_cell_is_explained(edit: Edit) -> None:
    hint = only(edit("module", "lfp-cell-100", "capacity_ah", "100 Ah")).hint
    assert hint == "the unit stands in the header (Ah), the cell holds the number alone"


def test_all_faults_come_together(edit: Edit) -> None:
    edit("module", "lfp-cell-100", "mass_kg", "-2.1")
    edit("module", "lfp-cell-200", "price", "eighty")
    edit("pairs", "motor-mid-72v-14kw", "v_min", "")
    folder = edit("motor", "motor-series-205mm", "kind", "diesel")
    (folder / "heater.csv").write_bytes(b"")
    codes = sorted(fault.code for fault in faults_of(folder))
    assert codes == [
        "catalog.empty-file",
        "catalog.missing-value",
        "catalog.not-a-choice",
        "catalog.not-a-number",
        "catalog.too-small",
    ]


def test_a_missing_column_names_the_slip(folder: Path) -> None:
    path = folder / "shunt.csv"
    path.write_text(path.read_text().replace("rated_a", "ratd_a"))
    fault = only(folder)
    assert fault.code == "catalog.missing-column"
    assert fault.hint == "rename ratd_a to rated_a?"


def test_a_column_twice(folder: Path) -> None:
    path = folder / "shunt.csv"
    path.write_text(path.read_text().replace("hours_to_fit", "lead_days"))
    assert "catalog.duplicate-column" in {fault.code for fault in faults_of(folder)}


def test_an_id_twice_in_one_file(folder: Path) -> None:
    path = folder / "shunt.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([*lines, lines[1]]))
    fault = only(folder)
    assert fault.code == "catalog.duplicate-id"
    assert fault.message == "shunt-200a stands already in row 2"


def test_an_id_in_two_families(edit: Edit) -> None:
    fault = only(edit("shunt", "shunt-1000a", "id", "throttle-box-dual"))
    assert fault.code == "catalog.duplicate-id"
    assert "shunt.csv row" in fault.message


def test_a_price_step_twice(folder: Path) -> None:
    path = folder / "offers.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([*lines, lines[1]]))
    assert only(folder).code == "catalog.duplicate-row"


def test_a_cell_beyond_the_header(folder: Path) -> None:
    path = folder / "shunt.csv"
    lines = path.read_text().splitlines()
    lines[1] += ",stray"
    path.write_text("\n".join(lines))
    assert only(folder).code == "catalog.extra-cell"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "empty-file"),
        (b"\xef\xbb\xbf \r\n\r\n", "empty-file"),
        ("id,price\nx,1\n".encode("utf-16"), "encoding"),
        ("id,price\nx,1\n".encode("utf-16-le"), "encoding"),
        ("id,price\nx,1\n".encode("utf-16-be"), "encoding"),
        ("id,description\nx,Kühlung\n".encode("cp1252"), "encoding"),
        (b"PK\x03\x04" + b"\x14\x00" * 40, "not-csv"),
        (bytes(range(256)) * 3, "binary-file"),
        (b'id,description\nx,"never closed\n', "broken-csv"),
        (b"id,description\nx," + b"y" * 1_000_000, "broken-csv"),
    ],
)
def test_a_file_that_is_no_table(folder: Path, data: bytes, code: str) -> None:
    (folder / "shunt.csv").write_bytes(data)
    fault = only(folder)
    assert fault.code == f"catalog.{code}"
    assert fault.file is not None
    assert fault.file.endswith("parts/shunt.csv")


def test_a_misspelt_file_name(folder: Path) -> None:
    (folder / "shunt.csv").rename(folder / "shunts.csv")
    fault = only(folder)
    assert fault.code == "catalog.unknown-file"
    assert fault.hint == "did you mean shunt.csv?"


def test_no_such_catalogue() -> None:
    fault = only("generik")
    assert fault.code == "catalog.not-found"
    assert fault.hint == "did you mean generic?"


def test_a_file_instead_of_a_folder(folder: Path) -> None:
    assert only(folder / "shunt.csv").code == "catalog.not-a-folder"


def test_a_folder_without_tables(tmp_path: Path) -> None:
    (tmp_path / "readme.txt").write_text("nothing here")
    assert only(tmp_path).code == "catalog.no-tables"


def test_nothing_named() -> None:
    with pytest.raises(InputError, match=r"catalog\.none-named"):
        load_catalog([])


def test_one_name_is_not_a_sequence_of_names() -> None:
    with pytest.raises(TypeError, match="sequence"):
        load_catalog("generic")


def test_grouped_numbers_in_a_decimal_comma_file_are_ambiguous(folder: Path) -> None:
    path = folder / "shunt.csv"
    with path.open(newline="") as stream:
        rows = list(csv.reader(stream))
    place = rows[0].index("rated_a")
    for row in rows[1:]:
        row[:] = [cell.replace(".", ",") if cell[:1].isdigit() else cell for cell in row]
    rows[4][place] = "1.000"
    with path.open("w", newline="") as stream:
        csv.writer(stream, delimiter=";").writerows(rows)
    fault = only(folder)
    assert fault.code == "catalog.ambiguous-number"
    assert fault.value == "1.000"
