"""Tables to and from other programs: export, import with a remembered mapping, update."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from lanes import first_fast

from bomplan.catalog import Catalog, load_catalog
from bomplan.catalog.exchange import (
    Imported,
    Wishes,
    export_files,
    import_files,
    update_files,
)
from bomplan.catalog.sources import shipped_catalogs
from bomplan.errors import InputError
from bomplan.report.files import replace_files

SHOP = """\
Article;Name;Weight (lb);Length [in];Unit price;Colour
TP-1;pedal with two sensors;2,2;7 1/2;€ 85,50;black
TP-2;pedal "light";1,1;6;92;
"""
WISHES = Wishes(
    family="throttle",
    columns={"Unit price": "price"},
    values={
        "currency": "EUR",
        "price_date": "2026-10-01",
        "source": "data sheet",
        "channels": "2",
        "vehicle": "car",
    },
)


def faults_of(error: pytest.ExceptionInfo[InputError]) -> list[str]:
    return [fault.code for fault in error.value.faults]


def bring(source: Path, folder: Path, wishes: Wishes) -> Imported:
    found = import_files(source, folder, wishes)
    replace_files(found.merged.files)
    return found


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "shop.csv"
    path.write_text(SHOP, "utf-8")
    return path


def test_folder_and_workbook_say_what_the_catalogue_says(generic: Catalog, tmp_path: Path) -> None:
    for target in (tmp_path / "copy", tmp_path / "copy.xlsx"):
        replace_files(export_files(["generic"], target))
        assert load_catalog([target]).digest == generic.digest


def test_the_same_catalogue_gives_the_same_workbook(tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    assert export_files(["generic"], target) == export_files(["generic"], target)


def test_a_workbook_is_for_people(tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    replace_files(export_files(["generic"], target))
    book = openpyxl.load_workbook(target)
    sheet = book["module"]
    columns = {cell.value: cell.column for cell in sheet[1]}
    row = next(row for row in sheet.iter_rows(min_row=2) if row[0].value == "lfp-cell-100")
    assert row[columns["price"] - 1].value == 42
    assert row[columns["price_date"] - 1].is_date
    helps = {str(v.promptTitle): v for v in sheet.data_validations.dataValidation}
    assert "lfp" in helps["chemistry"].formula1
    assert "mass of one module" in helps["mass_kg"].prompt
    assert sheet.freeze_panes == "B2"


@pytest.mark.parametrize(
    "nasty",
    first_fast(['=HYPERLINK("http://example.org")', "_x0041_", "+1", "-cmd", "@SUM(A1)", "1e5"], 2),
)
def test_text_that_looks_like_something_else_stays_text(
    edit: Callable[[str, str, str, str], Path], tmp_path: Path, nasty: str
) -> None:
    folder = edit("throttle", "throttle-pedal-dual", "description", nasty)
    target = tmp_path / "nasty.xlsx"
    replace_files(export_files([folder], target))
    (cell,) = [
        row[1]
        for row in openpyxl.load_workbook(target)["throttle"].iter_rows(min_row=2)
        if row[0].value == "throttle-pedal-dual"
    ]
    assert cell.data_type == "s"
    assert cell.quotePrefix == nasty.startswith(("=", "+", "-", "@"))
    assert load_catalog([target]).part("throttle-pedal-dual").description == nasty


def test_an_export_overwrites_no_tables(tmp_path: Path) -> None:
    (tmp_path / "motor.csv").write_text("mine", "utf-8")
    with pytest.raises(InputError) as error:
        export_files(["generic"], tmp_path)
    assert faults_of(error) == ["export.exists"]
    with pytest.raises(InputError) as error:
        export_files(["generic"], tmp_path / "parts.ods")
    assert faults_of(error) == ["export.target"]


def test_import_converts_units_and_money(shop: Path, tmp_path: Path) -> None:
    found = bring(shop, tmp_path / "own", WISHES)
    assert found.left_out == ("Colour",)
    own = load_catalog([tmp_path / "own"])
    first, second = own.part("TP-1"), own.part("TP-2")
    assert first.mass_g == 998  # 2.2 lb are 997.9 g
    assert first.length_mm == 191  # 7.5 in are 190.5 mm: rounded up
    assert (first.price, first.currency) == (8550, "EUR")
    assert (second.price, second.description) == (9200, 'pedal "light"')
    assert [change.kind for change in found.merged.changes] == ["new", "new"]


def test_the_mapping_is_remembered_and_may_be_edited(shop: Path, tmp_path: Path) -> None:
    own = tmp_path / "own"
    bring(shop, own, WISHES)
    mapping = own / "import.toml"
    text = mapping.read_text("utf-8")
    assert '"Weight (lb)" = "mass_kg [lb]"' in text
    mapping.write_text("# my shop\n" + text, "utf-8")
    later = tmp_path / "october.csv"
    later.write_text(SHOP.replace("85,50", "88,00").replace("TP-2", "TP-3"), "utf-8")
    found = bring(later, own, Wishes(values={"price_date": "2026-11-01"}))
    assert found.name == "shop"
    assert [(c.kind, c.id, c.column) for c in found.merged.changes] == [
        ("dearer", "TP-1", "price"),
        ("changed", "TP-1", "price_date"),
        ("new", "TP-3", ""),
    ]
    assert mapping.read_text("utf-8").startswith("# my shop\n")
    assert set(load_catalog([own]).family("throttle")) == {"TP-1", "TP-2", "TP-3"}


def test_the_day_of_the_prices_is_asked_for_each_time(shop: Path, tmp_path: Path) -> None:
    own = tmp_path / "own"
    bring(shop, own, WISHES)
    with pytest.raises(InputError) as error:
        import_files(shop, own, Wishes())
    assert faults_of(error) == ["import.missing-column"]
    assert "price_date" in error.value.faults[0].message


def test_the_same_import_twice_changes_nothing(shop: Path, tmp_path: Path) -> None:
    own = tmp_path / "own"
    bring(shop, own, WISHES)
    assert bring(shop, own, WISHES).merged.files == {}


def test_columns_that_are_the_persons_own_are_kept(shop: Path, tmp_path: Path) -> None:
    own = tmp_path / "own"
    bring(shop, own, WISHES)
    path = own / "throttle.csv"
    lines = path.read_text("utf-8").splitlines()
    lines = [lines[0] + ",shelf", *(line + ",B4" for line in lines[1:])]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    shop.write_text(SHOP.replace("92", "93"), "utf-8")
    bring(shop, own, WISHES)
    assert [p.text("shelf") for p in load_catalog([own]).family("throttle").values()] == [
        "B4", "B4",
    ]  # fmt: skip


def test_ids_may_be_made_from_words(tmp_path: Path) -> None:
    source = tmp_path / "list.csv"
    source.write_text("Name,Weight,Price\nGroßes Pedal Nr. 5,1,85\n", "utf-8")
    wishes = Wishes(
        "throttle", columns={"Name": "id [slug]"}, values={**WISHES.values, "description": "x"}
    )
    bring(source, tmp_path / "own", wishes)
    assert list(load_catalog([tmp_path / "own"]).family("throttle")) == ["grosses-pedal-nr-5"]


def test_a_sheet_of_a_workbook(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "Notes"
    book.active.append(["hello"])
    sheet = book.create_sheet("Pedals")
    sheet.append(["Article", "Name", "Weight [g]", "Price"])
    sheet.append([4711, "pedal", 500, 85.5])
    source = tmp_path / "shop.xlsx"
    book.save(source)
    with pytest.raises(InputError) as error:
        import_files(source, tmp_path / "own", WISHES)
    assert faults_of(error) == ["import.sheet"]
    wishes = Wishes("throttle", sheet="Pedals", values=WISHES.values)
    bring(source, tmp_path / "own", wishes)
    part = load_catalog([tmp_path / "own"]).part("4711")
    assert (part.mass_g, part.price) == (500, 8550)


def test_a_catalogue_workbook_is_taken_in_whole(generic: Catalog, tmp_path: Path) -> None:
    target = tmp_path / "all.xlsx"
    replace_files(export_files(["generic"], target))
    bring(target, tmp_path / "own", Wishes())
    assert load_catalog([tmp_path / "own"]).digest == generic.digest


def test_faults_of_an_import_come_together_and_nothing_is_written(
    shop: Path, tmp_path: Path
) -> None:
    shop.write_text(
        SHOP.replace("2,2", "heavy").replace("7 1/2", "-3").replace("92", "9O"), "utf-8"
    )
    with pytest.raises(InputError) as error:
        bring(shop, tmp_path / "own", WISHES)
    places = [(f.where, f.value) for f in error.value.faults]
    assert places == [
        ("row 2, column Weight (lb)", "heavy"),
        ("row 3, column Unit price", "9O"),
    ]
    shop.write_text(SHOP.replace("7 1/2", "-3").replace("TP-2", "TP 2"), "utf-8")
    with pytest.raises(InputError) as error:
        bring(shop, tmp_path / "own", WISHES)
    assert sorted(faults_of(error)) == ["catalog.bad-id", "catalog.too-small"]
    assert not (tmp_path / "own").exists()


def test_shipped_catalogues_are_not_changed(shop: Path) -> None:
    for folder in (Path("generic"), shipped_catalogs()["generic"]):
        with pytest.raises(InputError) as error:
            import_files(shop, folder, WISHES)
        assert faults_of(error) == ["catalog.shipped"]


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    folder = tmp_path / "mine"
    replace_files(export_files(["generic"], folder))
    return folder


def edits(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "edits.csv"
    path.write_text(text, "utf-8")
    return path


def test_update_touches_only_what_it_names(mine: Path, tmp_path: Path) -> None:
    before = {path.name: path.read_bytes() for path in mine.iterdir()}
    source = edits(
        tmp_path,
        "id;price;mass_kg\nlfp-cell-100;43,50;\nthrottle-pedal-dual;;0,9\nlfp-cell-200;80,00;\n",
    )
    merged = update_files(mine, source, price_date="2026-11-02")
    assert {path.name for path in merged.files} == {"module.csv", "throttle.csv"}
    replace_files(merged.files)
    changed = {
        (name, line)
        for name, old in before.items()
        for line in set((mine / name).read_bytes().splitlines()) - set(old.splitlines())
    }
    assert {line.split(b",")[0] for _, line in changed} == {
        b"lfp-cell-100", b"throttle-pedal-dual", b"lfp-cell-200",
    }  # fmt: skip
    part = load_catalog([mine]).part("lfp-cell-100")
    assert (part.price, part.price_date) == (4350, "2026-11-02")


def test_a_new_price_needs_its_day(mine: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        update_files(mine, edits(tmp_path, "id,price\nlfp-cell-100,43.50\nlfp-cell-200,80.00\n"))
    assert [(f.code, f.where) for f in error.value.faults] == [
        ("update.no-date", "row 2 (lfp-cell-100)")
    ]


def test_a_price_that_offers_outdo_is_said(mine: Path, tmp_path: Path) -> None:
    source = edits(tmp_path, "id,price,price_date\nlfp-cell-100,43.50,2026-11-02\n")
    notes = update_files(mine, source).notes
    assert notes == [
        "lfp-cell-100 is sold at the prices in offers.csv; its own price counts for nothing"
    ]


def test_faults_of_an_update_come_together(mine: Path, tmp_path: Path) -> None:
    source = edits(
        tmp_path,
        "id,price,mass_kg,chemistry\nlfp-cel-100,1,,\nthrottle-pedal-dual,,,lfp\n"
        "lfp-cell-200,x,,\n,5,,\n",
    )
    with pytest.raises(InputError) as error:
        update_files(mine, source, price_date="2026-11-02")
    assert faults_of(error) == [
        "update.unknown-part",
        "update.unknown-column",
        "update.not-a-figure",
        "update.unknown-part",
    ]
    assert error.value.faults[0].hint is not None


def test_what_an_update_would_break_stops_it(mine: Path, tmp_path: Path) -> None:
    source = edits(tmp_path, "id,mass_kg\nlfp-cell-100,-2\n")
    with pytest.raises(InputError) as error:
        update_files(mine, source)
    (fault,) = error.value.faults
    assert fault.code == "catalog.too-small"
    assert (fault.file, fault.where) == ("edits.csv", "row 2 (lfp-cell-100), column mass_kg")


def test_a_file_keeps_its_manner(mine: Path, tmp_path: Path) -> None:
    """Semicolons, decimal commas, Windows line ends and the byte order mark stay."""
    import csv

    path = mine / "throttle.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    head = rows[0]
    for row in rows[1:]:
        for name in ("mass_kg", "price"):
            row[head.index(name)] = row[head.index(name)].replace(".", ",")
    text = "sep=;\r\n" + "".join(";".join(row) + "\r\n" for row in rows)
    path.write_bytes(b"\xef\xbb\xbf" + text.encode("utf-8"))
    source = edits(tmp_path, "id,mass_kg\nthrottle-pedal-dual,0.955\n")
    replace_files(update_files(mine, source).files)
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbfsep=;\r\n")
    assert b";0,955;" in data
    assert data.count(b"\r\n") == data.count(b"\n") == len(rows) + 1
    others = [line for line in data.splitlines() if not line.startswith(b"throttle-pedal-dual")]
    assert all(line in (b"\xef\xbb\xbf" + text.encode()).splitlines() for line in others)
