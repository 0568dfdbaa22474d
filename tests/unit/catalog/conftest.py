"""A small catalogue as CSV text, to spoil one cell at a time."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from bomplan.catalog import Catalog, load_catalog
from bomplan.catalog.sources import shipped_catalogs

Folder = Path
Edit = Callable[[str, str, str, str], Folder]


@pytest.fixture(scope="module")
def generic() -> Catalog:
    return load_catalog(["generic"])


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """The generic tables in a folder that a test may spoil."""
    copy = tmp_path / "parts"
    shutil.copytree(shipped_catalogs()["generic"], copy)
    return copy


@pytest.fixture
def edit(folder: Folder) -> Edit:
    """Set one cell: table, first cell of the row, column, text; hand back the folder."""

    def change(table: str, row_id: str, column: str, text: str) -> Folder:
        path = folder / f"{table}.csv"
        with path.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.reader(stream))
        header = rows[0]
        if column not in header:
            header.append(column)
            rows[1:] = [[*row, ""] for row in rows[1:]]
        place = header.index(column)
        hits = [row for row in rows[1:] if row[0] == row_id]
        assert hits, f"no row {row_id} in {table}"
        hits[0][place] = text
        with path.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream, lineterminator="\n").writerows(rows)
        return folder

    return change
