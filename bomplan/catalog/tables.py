"""One CSV file as rows of text, whatever spreadsheet program wrote it.

Accepted: UTF-8 with or without a byte order mark; comma, semicolon or tab between cells;
any line ends, mixed ones too; decimal commas where the cells are not divided by commas.
Everything else is refused in words.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bomplan.errors import Fault

LARGEST_FILE_BYTES: Final = 20_000_000
_DELIMITERS: Final = (",", ";", "\t")
_SEPARATOR_LINE = re.compile(r"sep=(.)", re.IGNORECASE)
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?", re.ASCII)


@dataclass(frozen=True)
class Table:
    """The header and the non-blank rows of one file; ``line`` is where a row starts.

    ``decimal_comma`` says that numbers in this file are written with a decimal comma;
    ``delimiter`` and ``told`` (a first line such as ``sep=;``) how its text is laid out.
    """

    file: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    decimal_comma: bool
    delimiter: str = ","
    told: bool = False


def read_table(path: Path, file: str) -> Table | Fault:
    """The table in ``path``; ``file`` is how messages call it. A Fault if it is not one."""
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            return Fault(
                code="catalog.file-too-large",
                message="the file is too large for a parts table",
                file=file,
                allowed=f"at most {LARGEST_FILE_BYTES // 1_000_000} MB",
            )
        data = path.read_bytes()
    except OSError as error:
        return Fault(
            code="catalog.unreadable",
            message=f"the file cannot be read ({error.strerror})",
            file=file,
        )
    text = decode(data, file)
    return text if isinstance(text, Fault) else parse_table(text, file)


def decode(data: bytes, file: str) -> str | Fault:
    """UTF-8 bytes as text with plain line ends, or the Fault that says what they are."""
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        return Fault(
            code="catalog.empty-file",
            message="the file is empty",
            file=file,
            allowed="a header row and one row per part",
        )
    if data[:4] == b"PK\x03\x04":
        return Fault(
            code="catalog.not-csv",
            message="the file is a workbook or an archive, not CSV",
            file=file,
            hint="save the sheet as CSV UTF-8",
        )
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or _looks_like_utf16(data):
        return _not_utf8(file, "the file is UTF-16 text")
    if b"\x00" in data:
        return Fault(
            code="catalog.binary-file", message="the file is binary data, not text", file=file
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return _not_utf8(file, f"the file is not UTF-8 text (first at line {line})")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def parse_table(text: str, file: str) -> Table | Fault:
    """The rows of CSV ``text`` whose line ends are plain; see the module for what is read."""
    first, _, rest = text.partition("\n")
    skipped = 0
    told = _SEPARATOR_LINE.fullmatch(first.strip())
    if told and told[1] in _DELIMITERS:
        text, skipped, delimiter = rest, 1, told[1]
    else:
        delimiter = _sniff(text)
    try:
        lines = list(_numbered(text, delimiter, skipped))
    except csv.Error as error:
        long = "field limit" in str(error)
        what = "a cell is far too long" if long else str(error)
        return Fault(
            code="catalog.broken-csv",
            message=f"the file cannot be read as CSV ({what})",
            file=file,
            hint="look for a quotation mark that is not closed" + (" before it" if long else ""),
        )
    if not lines:
        return Fault(code="catalog.empty-file", message="the file has no header row", file=file)
    header = tuple(cell.strip() for cell in lines[0][1])
    while header and not header[-1]:
        header = header[:-1]
    rows = tuple(lines[1:])
    comma = delimiter != "," and any(
        _COMMA_NUMBER.fullmatch(cell.strip()) for _, cells in rows for cell in cells
    )
    return Table(file, header, rows, comma, delimiter, told=skipped > 0)


def _numbered(text: str, delimiter: str, skipped: int) -> Iterator[tuple[int, tuple[str, ...]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = skipped + 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield line, tuple(cells)
        line = skipped + reader.line_num + 1


def _sniff(text: str) -> str:
    """The delimiter that the first non-blank line holds most of outside quotation marks."""
    head = next((line for line in text.split("\n") if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", head)
    return max(_DELIMITERS, key=bare.count)


def _looks_like_utf16(data: bytes) -> bool:
    """Latin text in UTF-16 without a mark: every other byte of the start is zero."""
    start = data[:200]
    zeros = (start[0::2].count(0), start[1::2].count(0))
    return len(start) >= 8 and max(zeros) * 2.2 >= len(start) and min(zeros) == 0


def _not_utf8(file: str, message: str) -> Fault:
    return Fault(
        code="catalog.encoding",
        message=message,
        file=file,
        allowed="UTF-8",
        hint="save it again as CSV UTF-8",
    )
