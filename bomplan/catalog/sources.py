"""Where a catalogue lies: shipped under a name, or a folder or workbook of the user's own."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bomplan.catalog.sheets import is_workbook
from bomplan.errors import Fault

_PACKAGE: Final = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Source:
    """A folder or workbook to read and the words by which messages call it."""

    label: str
    folder: Path

    @property
    def is_workbook(self) -> bool:
        return self.folder.is_file()


def shipped_catalogs() -> dict[str, Path]:
    """Folders of the shipped catalogues by name.

    In an installed package they lie in ``_catalogs``, in a source checkout beside it.
    """
    for home in (_PACKAGE / "_catalogs", _PACKAGE.parent / "catalogs"):
        if home.is_dir():
            return {path.name: path for path in sorted(home.iterdir()) if path.is_dir()}
    return {}


def find_source(name: str | Path) -> Source | Fault:
    """The catalogue called ``name``: a shipped one if it is a bare name, else a path."""
    text = str(name)
    shipped = shipped_catalogs()
    if isinstance(name, str) and text in shipped:
        return Source(text, shipped[text])
    path = Path(name)
    if path.is_dir() or (path.is_file() and is_workbook(path)):
        return Source(path.as_posix(), path)
    if path.is_file():
        return Fault(
            code="catalog.not-a-folder",
            message="a catalogue is a folder of CSV files or one workbook (.xlsx), this is neither",
            value=text,
            hint="name the folder that holds it",
        )
    near = difflib.get_close_matches(text, shipped, n=1)
    return Fault(
        code="catalog.not-found",
        message="there is no such catalogue",
        value=text,
        allowed="a folder of CSV files, a workbook, or one of the shipped: "
        + (", ".join(shipped) or "none"),
        hint=f"did you mean {near[0]}?" if near else None,
    )
