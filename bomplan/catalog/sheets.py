"""The sheets of a workbook as tables of text, read without running anything in it.

Values alone count: formulas are taken by the value stored beside them, and one without a
stored value is a fault, not a blank. Workbooks with macros or with links to other files are
refused, and so is anything of a size that no parts list has.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, Final, TypeVar, cast
from xml.etree import ElementTree

from bomplan.catalog.tables import LARGEST_FILE_BYTES, Table
from bomplan.errors import Fault

LARGEST_UNPACKED_BYTES: Final = 200_000_000
MOST_ROWS: Final = 100_000
# Sheets pack ten to thirty times smaller; a part beyond both of these holds nothing to read.
_MOST_PACKED: Final = 200
_LARGE_ENTRY_BYTES: Final = 5_000_000
_MOST_ENTRIES: Final = 5_000
_MACRO_TYPES: Final = ("macroenabled", "vbaproject", "macrosheet")
MOST_COLUMNS: Final = 400
_OLD_WORKBOOK: Final = b"\xd0\xcf\x11\xe0"
_MAIN: Final = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
Found = TypeVar("Found")
_ESCAPE: Final = re.compile(r"_x([0-9A-Fa-f]{4})_")


def is_workbook(path: Path) -> bool:
    """Whether the file's name says that it is a workbook."""
    return path.suffix.lower() in (".xlsx", ".xlsm", ".xls", ".ods")


def read_sheets(path: Path, file: str) -> dict[str, Table | Fault] | Fault:
    """Every sheet of the workbook at ``path`` by name, or the Fault that says why not.

    ``file`` is how messages call it. A sheet that is empty is left out.
    """
    refused = refusal(path, file)
    if refused is not None:
        return refused
    return guarded(lambda: _read(path, file), file)


def guarded(read: Callable[[], Found], file: str) -> Found | Fault:
    """What ``read`` finds in the workbook, or why it cannot be read."""
    try:
        return read()
    except OSError as error:
        return _unreadable(file, error)
    except Exception as error:
        # The file is whatever somebody made: the reader fails on broken ones in many ways.
        return _broken(file, error)


def refusal(path: Path, file: str) -> Fault | None:
    """Why this file is not opened at all (no workbook, macros, links, too large), or None."""
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            start = stream.read(4)
    except OSError as error:
        return _unreadable(file, error)
    if size == 0:
        return Fault(code="catalog.empty-file", message="the file is empty", file=file)
    if size > LARGEST_FILE_BYTES:
        return _too_large(file)
    if start == _OLD_WORKBOOK or not zipfile.is_zipfile(path):
        return Fault(
            code="catalog.not-a-workbook",
            message="this is no .xlsx workbook: an older format, one with a password, or no"
            " workbook at all",
            file=file,
            hint="save it as .xlsx without a password, or each sheet as CSV UTF-8",
        )
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
            if _is_bomb(entries):
                return _too_large(file)
            types = _content_types(archive)
    except OSError as error:
        return _unreadable(file, error)
    except Exception as error:
        # A directory that somebody has forged or a copy cut short fails in many ways.
        return _broken(file, error)
    names = [entry.filename.lower() for entry in entries]
    if any("vbaproject" in name or "/macrosheets/" in name for name in names) or any(
        word in types for word in _MACRO_TYPES
    ):
        return Fault(
            code="catalog.macros",
            message="the workbook carries macros",
            file=file,
            hint="save it as .xlsx, which holds none",
        )
    if any("/externallinks/" in f"/{name}" for name in names):
        return Fault(
            code="catalog.external-links",
            message="cells of the workbook take their values from other files",
            file=file,
            hint="copy those cells, paste them as values and save",
        )
    return None


def _is_bomb(entries: list[zipfile.ZipInfo]) -> bool:
    """Whether what is packed is too much, or packed as no sheet with anything on it is."""
    if len(entries) > _MOST_ENTRIES:
        return True
    if sum(entry.file_size for entry in entries) > LARGEST_UNPACKED_BYTES:
        return True
    return any(
        entry.file_size > _LARGE_ENTRY_BYTES
        and entry.file_size > _MOST_PACKED * max(entry.compress_size, 1)
        for entry in entries
    )


def _content_types(archive: zipfile.ZipFile) -> str:
    """What the package says its parts are (ECMA-376 part 2, 10.1.2), in small letters."""
    try:
        with archive.open("[Content_Types].xml") as stream:
            return stream.read(_LARGE_ENTRY_BYTES).decode("utf-8", "replace").lower()
    except KeyError:
        return ""


def _unreadable(file: str, error: OSError) -> Fault:
    message = f"the file cannot be read ({error.strerror or error})"
    return Fault(code="catalog.unreadable", message=message, file=file)


def _broken(file: str, error: Exception) -> Fault:
    return Fault(
        code="catalog.broken-workbook",
        message=f"the workbook cannot be read ({type(error).__name__})",
        file=file,
        hint="open it in a spreadsheet program and save it again as .xlsx",
    )


def _too_large(file: str) -> Fault:
    return Fault(
        code="catalog.file-too-large",
        message="the file is too large for a parts table",
        file=file,
        allowed=f"at most {LARGEST_FILE_BYTES // 1_000_000} MB, "
        f"{LARGEST_UNPACKED_BYTES // 1_000_000} MB unpacked",
    )


def _read(path: Path, file: str) -> dict[str, Table | Fault]:
    values = open_workbook(path, data_only=True)
    formulas: Any = None
    found: dict[str, Table | Fault] = {}
    for sheet in values.worksheets:
        name = str(sheet.title)
        label = f"{file}, sheet {name}"
        rows: list[tuple[int, tuple[str, ...]]] = []
        problem: Fault | None = None
        blank_formula = False
        sheet.reset_dimensions()
        for number, cells in enumerate(sheet.iter_rows(), start=1):
            texts: list[str] = []
            for cell in cells:
                if cell.value is not None and cell.data_type == "e":
                    problem = problem or _error_value(label, number, cell)
                texts.append(cell_text(cell.value))
            while texts and not texts[-1].strip():
                texts.pop()
            if not texts:
                continue
            if len(rows) >= MOST_ROWS or len(texts) > MOST_COLUMNS:
                problem = Fault(
                    code="catalog.sheet-too-large",
                    message="the sheet has more rows or columns than any parts table",
                    file=label,
                    allowed=f"at most {MOST_ROWS} rows and {MOST_COLUMNS} columns",
                )
                break
            rows.append((number, tuple(texts)))
        if problem is None and _holds_formulas(path, values, name):
            formulas = formulas or open_workbook(path, data_only=False)
            problem = _unstored(formulas[name], label, dict(rows))
            blank_formula = problem is not None
        if problem is not None:
            found[name] = problem
        elif rows and not blank_formula:
            header = tuple(text.strip() for text in rows[0][1])
            found[name] = Table(label, header, tuple(rows[1:]), decimal_comma=False)
    values.close()
    if formulas is not None:
        formulas.close()
    return found


def open_workbook(path: Path, *, data_only: bool) -> Any:
    """The workbook for reading: stored values with ``data_only``, else formulas."""
    from openpyxl.reader.excel import SHARED_STRINGS, ExcelReader

    class Reader(ExcelReader):  # type: ignore[misc]
        """Reads shared strings by the standard; the package's own way drops some text."""

        def read_strings(self) -> None:
            part = self.package.find(SHARED_STRINGS)
            if part is not None:
                with self.archive.open(part.PartName[1:]) as stream:
                    self.shared_strings = list(_shared_strings(stream))

    with warnings.catch_warnings():
        # Styles and extensions that the reader does not know say nothing about values.
        warnings.simplefilter("ignore")
        # From memory: a broken workbook would leave the reader's file open, and locked.
        whole = io.BytesIO(path.read_bytes())
        reader = Reader(whole, read_only=True, data_only=data_only, keep_links=False)
        reader.read()
    return reader.wb


def _shared_strings(stream: Any) -> Iterator[str]:
    """ECMA-376 part 1, 18.4 (shared strings) and 22.9.2.19 (ST_Xstring escapes)."""
    for _, node in ElementTree.iterparse(stream):
        if node.tag != f"{_MAIN}si":
            continue
        runs = [node, *node.findall(f"{_MAIN}r")]
        texts = [t.text or "" for run in runs for t in run.findall(f"{_MAIN}t")]
        node.clear()
        yield "".join(_ESCAPE.sub(lambda match: chr(int(match[1], 16)), text) for text in texts)


def _holds_formulas(path: Path, book: Any, sheet: str) -> bool:
    part = cast(str, book[sheet]._worksheet_path).lstrip("/")
    with zipfile.ZipFile(path) as archive, archive.open(part) as stream:
        seen = b""
        while block := stream.read(1 << 20):
            if b"<f" in seen + block:
                return True
            seen = block[-1:]
    return False


def _unstored(sheet: Any, label: str, known: dict[int, tuple[str, ...]]) -> Fault | None:
    sheet.reset_dimensions()
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        texts = known.get(number, ())
        for place, cell in enumerate(cells):
            if cell.data_type == "f" and (place >= len(texts) or not texts[place]):
                return Fault(
                    code="catalog.formula-without-value",
                    message="the cell holds a formula and no value beside it",
                    file=label,
                    where=f"row {number}, cell {cell.coordinate}",
                    value=str(cell.value),
                    hint="open the workbook in a spreadsheet program, let it calculate, save it",
                )
    return None


def _error_value(label: str, number: int, cell: Any) -> Fault:
    return Fault(
        code="catalog.cell-error",
        message="the cell holds an error of the spreadsheet program",
        file=label,
        where=f"row {number}, cell {cell.coordinate}",
        value=str(cell.value),
    )


def cell_text(value: object) -> str:
    """A cell's value as the text that a CSV file would hold."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else plain_number(value)
    if isinstance(value, dt.datetime):
        midnight = value.time() == dt.time()
        return value.date().isoformat() if midnight else value.isoformat(sep=" ")
    if isinstance(value, dt.date):
        return value.isoformat()
    return str(value)


def plain_number(value: float) -> str:
    """The shortest decimal text that reads back as ``value``, without an exponent."""
    return format(Decimal(repr(value)), "f")
