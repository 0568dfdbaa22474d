"""A workbook in an independent spreadsheet engine, to be edited and compared."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ironcalc
import openpyxl
import pytest


class Live:
    """A workbook in an independent engine, its cells found by the text beside them."""

    def __init__(self, content: bytes, folder: Path) -> None:
        path = folder / "live.xlsx"
        path.write_bytes(content)
        self.book = openpyxl.load_workbook(io.BytesIO(content))
        self.model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")

    def row(self, sheet: str, column: int, text: str) -> int:
        for (cell,) in self.book[sheet].iter_rows(min_col=column, max_col=column):
            if isinstance(cell.value, str) and cell.value.startswith(text):
                return int(cell.row)
        raise AssertionError(f"{text!r} is not on {sheet}")

    def edit(self, sheet: str, row: int, column: int, value: float | str) -> None:
        text = value if isinstance(value, str) else repr(value)
        self.model.set_user_input(self.book.sheetnames.index(sheet), row, column, text)

    def value(self, sheet: str, row: int, column: int) -> Any:
        return self.model.get_cell_value(self.book.sheetnames.index(sheet), row, column)

    def agrees_with(self, content: bytes, *, leaving: tuple[str, ...] = ()) -> int:
        """Every formula gives what is stored in the other workbook; how many were compared."""
        self.model.evaluate()
        stored = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
        checked = 0
        for sheet in self.book:
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.data_type != "f" or sheet.title in leaving:
                        continue
                    want = stored[sheet.title].cell(cell.row, cell.column).value
                    got = self.value(sheet.title, cell.row, cell.column)
                    place = (sheet.title, cell.coordinate, cell.value)
                    if isinstance(want, (int, float)):
                        assert got == pytest.approx(want, rel=1e-9, abs=1e-6), place
                    else:
                        assert (got or "") == (want or ""), place
                    checked += 1
        return checked
