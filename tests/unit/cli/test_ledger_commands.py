"""The ledger through the commands: entries come back, faults are told, nothing is lost."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from golden_files import compare

from bomplan import api
from bomplan.cli import main
from bomplan.cli.entries import take_before_writing
from bomplan.design.records import Plan
from bomplan.project import write_template

MakePlan = Callable[..., Plan]
Edit = Callable[[Any], None]
MODULE, MOTOR = "module/lfp-100", "motor/motor-a"
HEADS = ["Line", "State", "What", "Supplier", "To buy", "Unit", "Planned EUR", "Ordered",
         "Paid EUR", "Received", "Date", "Note"]  # fmt: skip
AT = {name.split()[0]: number for number, name in enumerate(HEADS, start=1)}
LEDGER = "line,what,supplier,planned,expected,ordered,paid,received,date,note,currency\n"


@pytest.fixture
def book(tmp_path: Path, make_plan: MakePlan, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A workbook in an output folder beside which a project stands."""
    monkeypatch.chdir(tmp_path)
    Path("project.toml").write_text("", encoding="utf-8")
    api.write_outputs(make_plan(), "out", ledger="ledger.csv")
    return Path("out/bom.xlsx")


def row_of(sheet: Any, line: str) -> int:
    return next(int(row[0].row) for row in sheet.iter_rows(max_col=1) if row[0].value == line)


def enter(book: Path, line: str = MODULE, **values: Any) -> None:
    """Write into the row of this line, by the names of the heads."""

    def change(workbook: Any) -> None:
        sheet = workbook["Budget"]
        row = row_of(sheet, line)
        for name, value in values.items():
            sheet.cell(row, AT[name.capitalize()]).value = value
            if isinstance(value, str) and name != "formula" and not value.startswith("=:"):
                sheet.cell(row, AT[name.capitalize()]).data_type = "s"

    edit(book, change)


def edit(book: Path, change: Edit) -> None:
    workbook = openpyxl.load_workbook(book)
    change(workbook)
    workbook.save(book)


def ledger() -> dict[str, dict[str, str]]:
    text = Path("ledger.csv").read_text("utf-8")
    return {row["line"]: row for row in csv.DictReader(io.StringIO(text))}


def read(book: Path) -> int:
    return main(["ledger", "read", str(book)])


def test_entries_come_back_and_show_in_the_next_workbook(
    book: Path, make_plan: MakePlan, capsys: pytest.CaptureFixture[str]
) -> None:
    enter(book, ordered=40, paid=3998.5, date=dt.date(2026, 11, 5), note="two crates\n=1+1")
    enter(book, "own/1", what="=cmd|' /C calc'!A0", planned=120, paid=-5)
    assert read(book) == 0
    told = capsys.readouterr().err
    assert f"ledger: {MODULE}, paid: (blank) -> 3998.50" in told
    rows = ledger()
    assert rows[MODULE]["ordered"] == "40"
    assert rows[MODULE]["date"] == "2026-11-05"
    assert rows[MODULE]["note"] == "two crates\n=1+1"
    assert rows["own/1"]["what"] == "'=cmd|' /C calc'!A0"
    assert rows["own/1"]["expected"] == "120.00"
    assert rows["own/1"]["paid"] == "-5.00"
    # Read again, nothing is new, and the next workbook shows it all.
    assert read(book) == 0
    assert "nothing new" in capsys.readouterr().err
    assert ledger() == rows
    api.write_outputs(make_plan(), "out", ledger="ledger.csv")
    sheet = openpyxl.load_workbook(book, data_only=True)["Budget"]
    row = row_of(sheet, MODULE)
    assert sheet.cell(row, AT["State"]).value == "ordered"
    assert sheet.cell(row, AT["Paid"]).value == 3998.5
    assert sheet.cell(row, AT["Note"]).value == "two crates\n=1+1"
    own = sheet.cell(row_of(sheet, "own/1"), AT["What"])
    assert (own.value, own.data_type) == ("=cmd|' /C calc'!A0", "s")
    # The edited workbook was kept.
    kept = openpyxl.load_workbook(book.with_name("bom.kept-1.xlsx"))["Budget"]
    assert kept.cell(row_of(kept, MODULE), AT["Ordered"]).value == 40


def test_reading_after_each_of_two_edits_of_one_workbook(book: Path) -> None:
    enter(book, paid=100)
    assert read(book) == 0
    enter(book, paid=150, received=12.5)
    assert read(book) == 0
    assert ledger()[MODULE]["paid"] == "150.00"
    assert ledger()[MODULE]["received"] == "12.5"
    assert not Path("ledger.kept-1.csv").exists()
    enter(book, paid=None)
    assert read(book) == 0
    assert ledger()[MODULE]["paid"] == ""


def test_cells_that_nobody_touched_leave_the_ledger_alone(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    enter(book, ordered=40)
    Path("ledger.csv").write_text(
        f"{LEDGER}{MODULE},,,,,7,20,,,by hand,EUR\n{MOTOR},,,,,,,,,other,\n", encoding="utf-8"
    )
    assert read(book) == 0
    rows = ledger()
    assert rows[MODULE]["ordered"] == "40"
    assert rows[MODULE]["paid"] == "20.00"
    assert rows[MODULE]["note"] == "by hand"
    assert rows[MOTOR]["note"] == "other"
    # The 7 was somebody's word: the earlier ledger is kept.
    assert "the earlier one is kept as ledger.kept-1.csv" in capsys.readouterr().err
    assert ",7,20," in Path("ledger.kept-1.csv").read_text("utf-8")


def test_a_copied_row_is_a_further_order(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def copy(workbook: Any) -> None:
        sheet = workbook["Budget"]
        row = row_of(sheet, MODULE)
        sheet.cell(row, AT["Ordered"]).value = 30
        last = sheet.max_row + 1
        for number in range(1, 13):
            sheet.cell(last, number).value = sheet.cell(row, number).value
        sheet.cell(last, AT["Ordered"]).value = 10
        # The same once more: counted once.
        for number in range(1, 13):
            sheet.cell(last + 1, number).value = sheet.cell(row, number).value

    edit(book, copy)
    for _ in range(2):
        assert read(book) == 0
        told = capsys.readouterr().err
        assert "taken as a further order, module/lfp-100#2" in told
        assert "counted once" in told
        assert ledger()[MODULE]["ordered"] == "30"
        assert ledger()[f"{MODULE}#2"]["ordered"] == "10"


def test_deleted_rows_and_columns_and_own_sheets(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    enter(book, ordered=40, note="keep me")
    enter(book, MOTOR, ordered=1)
    assert read(book) == 0
    before = ledger()

    def cut(workbook: Any) -> None:
        sheet = workbook["Budget"]
        sheet.delete_rows(row_of(sheet, MOTOR))
        sheet.delete_cols(AT["Note"])
        sheet.cell(7, 20).value = "Mood"
        workbook.create_sheet("Photos")

    edit(book, cut)
    capsys.readouterr()
    assert read(book) == 0
    told = capsys.readouterr().err
    assert "the column Note is not on the sheet Budget" in told
    assert "columns of your own are not read: Mood" in told
    assert "sheets of your own are not read: Photos" in told
    assert f"{MOTOR} is no longer in the workbook" in told
    assert ledger() == before


@pytest.mark.usefixtures("book")
def test_a_formula_counts_with_its_value(capsys: pytest.CaptureFixture[str]) -> None:
    """A spreadsheet program stores the value beside the formula; so does this writer."""
    import xlsxwriter

    target = Path("mine.xlsx")
    with xlsxwriter.Workbook(target) as workbook:
        sheet = workbook.add_worksheet("Budget")
        sheet.write_row(0, 0, ["Line", "Ordered", "Paid EUR", "Date"])
        sheet.write_string(1, 0, MODULE)
        sheet.write_formula(1, 1, "=10*4", None, 40)
        sheet.write_formula(1, 2, "=100/3", None, 100 / 3)
        sheet.write_string(1, 3, "2026-11-02")
    assert read(target) == 0
    told = capsys.readouterr().err
    assert "row 2, column Ordered: a formula stands there; its value counts: 40" in told
    assert "no longer says what stood in it" in told
    assert ledger()[MODULE]["paid"] == "33.33"


def test_a_new_plan_over_an_old_ledger(book: Path, make_plan: MakePlan, make_line: Any) -> None:
    enter(book, ordered=40, paid=3998)
    enter(book, MOTOR, received=1, paid=1800)
    assert read(book) == 0
    plan = make_plan()
    lines = tuple(line for line in plan.lines if line.family != "motor")
    fewer = lines[1].model_copy(update={"bought": 44, "price": 44 * lines[1].unit_price})
    new = make_line("gauge", "gauge-b", "instruments", 1, 5_000, 200)
    lines = (lines[0], fewer, *lines[2:], new)
    api.write_outputs(plan.model_copy(update={"lines": lines, "mass": None}), "out",
                      ledger="ledger.csv")  # fmt: skip
    sheet = openpyxl.load_workbook(book, data_only=True)["Budget"]
    cells = {
        row[0].value: (row[1].value, row[4].value, row[8].value, row[12].value, row[14].value)
        for row in sheet.iter_rows(min_row=8)
    }
    assert cells[MODULE] == ("in part", 44, 3998, 4, "was 40")
    assert cells["gauge/gauge-b"] == ("TO BUY", 1, None, 1, "new")
    assert cells[MOTOR] == ("NOT PLANNED", 0, 1800, 0, "no longer planned")
    assert not cells["controller/controller-a"][4]


def test_plan_takes_entries_before_it_writes_and_says_what_it_cannot(
    book: Path, make_plan: MakePlan, capsys: pytest.CaptureFixture[str]
) -> None:
    def write() -> str:
        take_before_writing(book.parent, Path("ledger.csv"), "EUR", quiet=False)
        api.write_outputs(make_plan(), "out", ledger="ledger.csv")
        return capsys.readouterr().err

    assert write() == ""
    assert not Path("ledger.csv").exists()
    enter(book, ordered=12)
    assert "ordered: (blank) -> 12" in write()
    content = book.read_bytes()
    book.write_bytes(content[: len(content) // 2])
    told = write()
    assert "nothing was taken from" in told
    assert "workbook.not-a-workbook" in told
    assert book.with_name("bom.kept-2.xlsx").read_bytes() == content[: len(content) // 2]
    assert ledger()[MODULE]["ordered"] == "12"
    enter(book, ordered="a dozen")
    Path("out/.~lock.bom.xlsx#").write_text("", encoding="utf-8")
    told = write()
    assert "seems to be open" in told
    assert "ledger.not-a-quantity" in told
    assert ledger()[MODULE]["ordered"] == "12"


def test_plan_says_what_of_the_bill_is_in_no_catalogue(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    opened = openpyxl.load_workbook(book)
    sheet = opened["Bill"]
    row = next(n for n in range(5, 40) if sheet.cell(n, 3).value == "lfp-100")
    sheet.cell(row, 8).value = 88.5
    opened.save(book)
    take_before_writing(book.parent, Path("ledger.csv"), "EUR", quiet=False)
    assert "in no catalogue yet: lfp-100; 'bomplan catalog update" in capsys.readouterr().err


def test_where_the_ledger_lies(book: Path) -> None:
    from bomplan.report.spending import ledger_of_workbook

    assert ledger_of_workbook(book).resolve() == Path("ledger.csv").resolve()
    # The run record says so; a shipped example's lies beside its workbook.
    Path("out/run.json").write_text(json.dumps({"ledger": "ledger.csv"}), "utf-8")
    assert ledger_of_workbook(book) == Path("out/ledger.csv")
    for told in ("../../nowhere/ledger.csv", "/etc/passwd", 7):
        Path("out/run.json").write_text(json.dumps({"ledger": told}), "utf-8")
        assert ledger_of_workbook(book).resolve() == Path("ledger.csv").resolve()
    Path("project.toml").unlink()
    assert ledger_of_workbook(book) == Path("out/ledger.csv")


@pytest.mark.usefixtures("book")
def test_show(capsys: pytest.CaptureFixture[str]) -> None:
    project, *_ = write_template("garden-pickup", Path("mine"))
    assert main(["ledger", "show", "mine"]) == 0
    assert "nothing is recorded yet" in capsys.readouterr().err
    project.with_name("ledger.csv").write_text(
        f"{LEDGER}{MODULE},cells,north,40,,40,3998,,2026-11-02,,EUR\nown/1,hose,,,20,,,,,,EUR\n"
        "motor/motor-a,,,1,,,,,,,\n",
        encoding="utf-8",
    )
    assert main(["ledger", "show", "mine"]) == 0
    out = capsys.readouterr().out
    assert "module/lfp-100  cells       40             3998.00  2026-11-02" in out
    assert out.splitlines()[-1] == "paid: 3998.00 EUR; lines without an entry: 1"


def rename(workbook: Any) -> None:
    workbook["Budget"].title = "Money"


def headless(workbook: Any) -> None:
    workbook["Budget"].delete_rows(7)


def two_heads(workbook: Any) -> None:
    workbook["Budget"].cell(7, 18).value = "Paid"


def dollars(workbook: Any) -> None:
    workbook["Budget"].cell(7, AT["Paid"]).value = "Paid USD"


def no_currency(workbook: Any) -> None:
    del workbook["bomplan"]
    for name in ("Paid", "Planned"):
        workbook["Budget"].cell(7, AT[name]).value = name


def newer(workbook: Any) -> None:
    workbook["bomplan"].cell(1, 2).value = "99"


def error_value(workbook: Any) -> None:
    cell = workbook["Budget"].cell(row_of(workbook["Budget"], MODULE), AT["Paid"])
    cell.value = "#REF!"
    cell.data_type = "e"


def no_value(workbook: Any) -> None:
    workbook["Budget"].cell(row_of(workbook["Budget"], MODULE), AT["Paid"]).value = "=2*60"


def many_wrong(workbook: Any) -> None:
    sheet = workbook["Budget"]
    row = row_of(sheet, MODULE)
    for name, value in (
        ("Ordered", "a dozen"), ("Paid", 12.345), ("Received", -3), ("Date", "last week"),
        ("Note", "x" * 3000),
    ):  # fmt: skip
        sheet.cell(row, AT[name]).value = value


def far_too_long(workbook: Any) -> None:
    for _ in range(20_010):  # beyond what is read
        workbook["Budget"].append(["x", 1])


WORKBOOKS: dict[str, Edit] = {
    "no-budget": rename,
    "no-head": headless,
    "column-twice": two_heads,
    "currency": dollars,
    "no-currency": no_currency,
    "newer": newer,
    "cell-error": error_value,
    "formula-without-value": no_value,
    "wrong-types": many_wrong,
    "too-many-rows": far_too_long,
}


@pytest.mark.parametrize("name", WORKBOOKS)
def test_message_of_a_workbook(name: str, book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("ledger.csv").write_text(f"{LEDGER}{MODULE},,,,,7,,,,,\n", encoding="utf-8")
    edit(book, WORKBOOKS[name])
    held = (book.read_bytes(), Path("ledger.csv").read_bytes())
    assert read(book) == 2
    compare("workbook", name, capsys.readouterr().err)
    assert (book.read_bytes(), Path("ledger.csv").read_bytes()) == held


def packed(book: Path, *names: str, content: bytes = b"x") -> None:
    with zipfile.ZipFile(book, "a", zipfile.ZIP_DEFLATED) as archive:
        for name in names:
            archive.writestr(name, content)


@pytest.mark.parametrize("name", ["macros", "external-links", "bomb", "half", "not-there", "empty"])
def test_workbooks_that_are_not_opened(
    name: str, book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if name == "macros":
        packed(book, "xl/vbaProject.bin")
    elif name == "external-links":
        packed(book, "xl/externalLinks/externalLink1.xml")
    elif name == "bomb":
        packed(book, "xl/media/x.bin", content=bytes(210_000_000))
    elif name == "half":
        book.write_bytes(book.read_bytes()[:3000])
    elif name == "not-there":
        book.unlink()
    else:
        book.write_bytes(b"")
    assert read(book) == 2
    compare("workbook", f"refused-{name}", capsys.readouterr().err)
    assert not Path("ledger.csv").exists()


LEDGERS: dict[str, str | bytes] = {
    "line-twice": f"{LEDGER}a/b,,,,,1,,,,,\na/b,,,,,2,,,,,\n",
    "no-line-column": "what,paid\nhose,3\n",
    "column-twice": "line,paid,paid\na/b,1,2\n",
    "extra-cell": f"{LEDGER}a/b,,,,,1,,,,,,more\n",
    "currency": f"{LEDGER}a/b,,,,,,12,,,,USD\n",
    "everything-at-once": f"{LEDGER},no line,,-1,x,many,\"1,5\",two,2026-02-30,,EUR\n",
    "text-too-long": f"{LEDGER}a/b,{'x' * 3000},,,,,,,,,\n",
    "empty": b"",
    "utf-16": LEDGER.encode("utf-16"),
    "too-long": LEDGER + "".join(f"a/{n},,,,,1,,,,,\n" for n in range(5001)),
    "open-quotation": f'{LEDGER}a/b,"unclosed,,,,,,,,,\n',
}  # fmt: skip


@pytest.mark.parametrize("name", LEDGERS)
def test_message_of_a_ledger(name: str, book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    content = LEDGERS[name]
    held = content if isinstance(content, bytes) else content.encode()
    Path("ledger.csv").write_bytes(held)
    enter(book, ordered=1)
    assert read(book) == 2
    compare("ledger", name, capsys.readouterr().err)
    assert Path("ledger.csv").read_bytes() == held
