"""Workbooks that somebody has prepared: refused in words or read as plain text, never run."""

from __future__ import annotations

import io
import random
import resource
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from bomplan.buying.ledger import read_ledger
from bomplan.design.records import Plan
from bomplan.errors import InputError
from bomplan.report.spending import take_entries
from bomplan.report.workbook import workbook_bytes
from bomplan.report.workbook.edited import edited_parts
from bomplan.report.workbook.reading import read_back

MakePlan = Callable[..., Plan]
LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE sst [<!ENTITY a "haha">'
    + "".join(
        f'<!ENTITY {name} "{f"&{before};" * 20}">'
        for before, name in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + ']><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    "<si><t>&i;</t></si></sst>"
)
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE sst [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    "<si><t>&x;</t></si></sst>"
)


def repacked(content: bytes, **parts: bytes | None) -> bytes:
    """The package with parts replaced, added, or left out (None); ``__`` is a stroke."""
    named = {name.replace("__", "/").replace("_DOT_", "."): part for name, part in parts.items()}
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            if name not in named:
                new.writestr(name, old.read(name))
        for name, part in named.items():
            if part is not None:
                new.writestr(name, part)
    return out.getvalue()


@pytest.fixture
def book(make_plan: MakePlan) -> bytes:
    return workbook_bytes(make_plan())


def refused(content: bytes, folder: Path, code: str, *, both: bool = True) -> None:
    """Reading entries (and prices, with ``both``) back says no; the ledger stays as it was."""
    path = folder / "bom.xlsx"
    path.write_bytes(content)
    ledger = folder / "ledger.csv"
    ledger.write_text("line,ordered\nmotor/motor-a,1\n", "utf-8")
    held = ledger.read_bytes()
    with pytest.raises(InputError) as caught:
        take_entries(path, ledger, "EUR")
    assert [fault.code for fault in caught.value.faults] == [code]
    assert len(str(caught.value)) < 600
    assert ledger.read_bytes() == held
    assert path.read_bytes() == content
    if both:
        assert edited_parts(path) is None


def test_macros_under_any_name(book: bytes, tmp_path: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(book)) as archive:
        types = archive.read("[Content_Types].xml").decode()
    plain = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    assert plain in types
    renamed = types.replace(plain, "application/vnd.ms-excel.sheet.macroEnabled.main+xml")
    harmless_name = types.replace(
        "</Types>",
        '<Override PartName="/xl/theme.bin" ContentType="application/vnd.ms-office.vbaProject"/>'
        "</Types>",
    )
    for changed in (renamed, harmless_name):
        content = repacked(book, **{"[Content_Types]_DOT_xml": changed.encode()})
        refused(content, tmp_path, "workbook.macros")
    refused(repacked(book, xl__vbaProject_DOT_bin=b"x"), tmp_path, "workbook.macros")
    refused(repacked(book, xl__macrosheets__sheet1_DOT_xml=b"<x/>"), tmp_path, "workbook.macros")


def test_external_links(book: bytes, tmp_path: Path) -> None:
    content = repacked(book, xl__externalLinks__externalLink1_DOT_xml=b"<x/>")
    refused(content, tmp_path, "workbook.external-links")


def test_bombs(book: bytes, tmp_path: Path) -> None:
    blank = b'<?xml version="1.0"?>' + b" " * 30_000_000 + b"<x/>"
    content = repacked(book, xl__worksheets__sheet7_DOT_xml=blank)
    assert len(content) < 1_000_000
    refused(content, tmp_path, "workbook.file-too-large")
    many = {f"xl__x{number}_DOT_bin": b"" for number in range(5_100)}
    refused(repacked(book, **many), tmp_path, "workbook.file-too-large")


def test_a_size_that_lies(book: bytes, tmp_path: Path) -> None:
    """The directory says 10 bytes, the part unpacks to more: no more than that is read."""
    content = bytearray(repacked(book, xl__sharedStrings_DOT_xml=b"<sst>" + b" " * 40_000_000))
    name = b"xl/sharedStrings.xml"
    place = content.rindex(name) - 46  # the central directory's record of it
    assert content[place : place + 4] == b"PK\x01\x02"
    content[place + 24 : place + 28] = (10).to_bytes(4, "little")
    refused(bytes(content), tmp_path, "workbook.broken-workbook")


@pytest.mark.parametrize("strings", [LAUGHS, OUTSIDE])
def test_entities_are_not_unfolded(strings: str, book: bytes, tmp_path: Path) -> None:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    content = repacked(book, xl__sharedStrings_DOT_xml=strings.encode())
    path = tmp_path / "bom.xlsx"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_back(path, "EUR")
    assert "root:" not in str(caught.value)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000


def rows(count: int, cells: str) -> bytes:
    """A sheet of so many rows, each with these cells."""
    head = (
        '<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="http://schemas.openxmlformats.org'
        '/spreadsheetml/2006/main"><sheetData>'
    )
    draw = random.Random(1)
    body = "".join(
        f'<row r="{number}">{cells.format(n=number, x=draw.random())}</row>'
        for number in range(1, count + 1)
    )
    return (head + body + "</sheetData></worksheet>").encode()


def part_of(book: bytes, sheet: str) -> str:
    import openpyxl

    names = openpyxl.load_workbook(io.BytesIO(book)).sheetnames
    return f"xl__worksheets__sheet{names.index(sheet) + 1}_DOT_xml"


@pytest.mark.slow
def test_a_hundred_thousand_rows(book: bytes, tmp_path: Path) -> None:
    full = rows(100_000, '<c r="A{n}"><v>{x}</v></c><c r="B{n}"><v>{x}</v></c>')
    refused(
        repacked(book, **{part_of(book, "Budget"): full}),
        tmp_path,
        "workbook.sheet-too-large",
        both=False,
    )


@pytest.mark.slow
def test_a_hundred_thousand_blank_rows_say_nothing(book: bytes, tmp_path: Path) -> None:
    """As a format dragged down a whole column leaves them."""
    with zipfile.ZipFile(io.BytesIO(book)) as archive:
        name = part_of(book, "Budget").replace("__", "/").replace("_DOT_", ".")
        text = archive.read(name).decode()
    blank = "".join(f'<row r="{n}"><c r="A{n}" s="1"/></row>' for n in range(200, 100_200))
    text = text.replace("</sheetData>", blank + "</sheetData>")
    path = tmp_path / "bom.xlsx"
    path.write_bytes(repacked(book, **{part_of(book, "Budget"): text.encode()}))
    taken = take_entries(path, tmp_path / "ledger.csv", "EUR")
    assert taken.edits == ()
    assert not (tmp_path / "ledger.csv").exists()


def test_a_file_that_another_program_holds(
    book: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bom.xlsx"
    path.write_bytes(book)

    def locked(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", "bom.xlsx")

    for name in ("refusal", "open_workbook"):
        with monkeypatch.context() as patched:
            if name == "refusal":
                patched.setattr(Path, "open", locked)
            else:
                patched.setattr("bomplan.catalog.grid.open_workbook", locked)
            with pytest.raises(InputError) as caught:
                read_back(path, "EUR")
        (fault,) = caught.value.faults
        assert fault.code == "workbook.unreadable"
        assert "close it there" in str(fault.hint)


def test_any_damage_ends_in_words(book: bytes, tmp_path: Path) -> None:
    """Bytes turned over, cut out or cut short: entries as before, or a sentence."""
    draw = random.Random(7)
    path, ledger = tmp_path / "bom.xlsx", tmp_path / "ledger.csv"
    told = 0
    for number in range(60):
        content = bytearray(book)
        if number % 3 == 0:
            del content[draw.randrange(len(content)) :]
        elif number % 3 == 1:
            start = draw.randrange(len(content))
            del content[start : start + draw.randrange(1, 2000)]
        else:
            for _ in range(draw.randrange(1, 40)):
                content[draw.randrange(len(content))] = draw.randrange(256)
        path.write_bytes(bytes(content))
        try:
            take_entries(path, ledger, "EUR")
        except InputError as error:
            told += bool(str(error)) and not ledger.exists()
            continue
        if ledger.exists():
            read_ledger(ledger, "EUR")
            ledger.unlink()
    assert told > 40


def test_formulas_as_entries_stay_words(book: bytes, tmp_path: Path) -> None:
    import openpyxl

    path, ledger = tmp_path / "bom.xlsx", tmp_path / "ledger.csv"
    path.write_bytes(book)
    workbook = openpyxl.load_workbook(path)
    sheet = workbook["Budget"]
    row = next(n for n in range(8, 200) if sheet.cell(n, 1).value == "own/1")
    nasty = ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "'=1+1"]
    for number, text in enumerate(nasty):
        cell = sheet.cell(row + number, 3)
        cell.value = text
        cell.data_type = "s"
    workbook.save(path)
    take_entries(path, ledger, "EUR")
    text = ledger.read_text("utf-8")
    cells = [line.split(",")[1] for line in text.splitlines()[1:] if line.startswith("own/")]
    assert len(cells) == len(nasty)
    # No spreadsheet program runs a cell of the ledger; read back, each is what was entered.
    assert all(not cell.startswith(("=", "+", "-", "@", "\t")) for cell in cells)
    told = [e.what for e in read_ledger(ledger, "EUR").entries if e.own]
    assert told == [text.strip() for text in nasty]
