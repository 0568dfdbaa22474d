"""The ledger on disk: where it lies, and entries of an edited workbook taken into it.

``ledger.csv`` lies beside the project file, so that it outlives any output folder. A shipped
example has no folder of its own: its ledger lies in the output folder, beside the workbook.
"""

from __future__ import annotations

import json
import os.path
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bomplan.buying.ledger import (
    LEDGER_FILE,
    Entry,
    Ledger,
    entry_of,
    entry_texts,
    ledger_bytes,
    read_ledger,
)
from bomplan.buying.taking_back import Edit, take_back
from bomplan.report.files import keep_beside, replace_files
from bomplan.report.workbook.reading import read_back

# What each workbook said when it was last read: a cell that was filled in, read, and then
# emptied again in the same workbook has been touched, though it is as it was written.
MEMORY_NAME: Final = ".bomplan-ledger.json"
_WORKBOOKS: Final = 20
_RUN: Final = "run.json"
_MOST_RUN_BYTES: Final = 1_000_000


@dataclass(frozen=True)
class Taken:
    """What was taken from a workbook into a ledger, and where the ledger was kept before."""

    ledger: Ledger
    path: Path
    edits: tuple[Edit, ...] = ()
    notes: tuple[str, ...] = ()
    kept: Path | None = None
    written: bool = False


def take_entries(workbook: Path, ledger: Path, currency: str = "") -> Taken:
    """The entries of the workbook put into the ledger file, which is written when it changes.

    Where the ledger had been changed apart from the workbook and the workbook's word counts,
    the earlier ledger is kept beside. Raises InputError with every fault; then the ledger is
    as it was.
    """
    read = read_back(workbook, currency)
    before = read_ledger(ledger, read.currency)
    memory = ledger.with_name(MEMORY_NAME)
    known = _remembered(memory)
    base = {**read.origin.entries, **_entries(known.get(read.origin.digest), read.currency)}
    taken = take_back(before, base, read.seen)
    notes = (*read.notes, *taken.notes)
    files: dict[Path, bytes] = {}
    if read.origin.digest and taken.said != base:
        rows = [entry_texts(entry, read.currency) for entry in taken.said.values()]
        known.pop(read.origin.digest, None)
        files[memory] = _memory_bytes({**known, read.origin.digest: rows})
    if taken.ledger == before:
        if files:
            replace_files(files)
        return Taken(before, ledger, (), notes)
    kept = keep_beside(ledger) if taken.overruled and ledger.exists() else None
    replace_files({ledger: ledger_bytes(taken.ledger), **files})
    return Taken(taken.ledger, ledger, taken.edits, notes, kept, written=True)


def ledger_of_workbook(workbook: Path) -> Path:
    """Where the ledger of this workbook lies, as far as the folders tell.

    The run record beside it says so; else a ledger beside it, else the folder above when a
    ledger or a project lies there, else beside it.
    """
    folder = workbook.parent
    told = _told(folder)
    if told is not None:
        return _plain(told)
    above = folder.parent if folder.name not in ("", "..") else folder / ".."
    if (folder / LEDGER_FILE).exists():
        return folder / LEDGER_FILE
    if (above / LEDGER_FILE).exists() or (above / "project.toml").exists():
        return _plain(above / LEDGER_FILE)
    return folder / LEDGER_FILE


def _plain(path: Path) -> Path:
    """The path without going down and up again, where no link makes that another place."""
    short = Path(os.path.normpath(path))
    return short if short.parent.resolve() == path.parent.resolve() else path


def _remembered(memory: Path) -> dict[str, list[dict[str, str]]]:
    """What workbooks said when they were last read, by their digest; empty when not readable."""
    try:
        data = json.loads(memory.read_text("utf-8"))["read"]
        return {
            str(key): [{str(name): str(text) for name, text in row.items()} for row in rows]
            for key, rows in data.items()
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _entries(rows: list[dict[str, str]] | None, currency: str) -> dict[str, Entry]:
    found = (entry_of(row, currency, MEMORY_NAME, "")[0] for row in rows or ())
    return {entry.line: entry for entry in found if entry is not None}


def _memory_bytes(known: dict[str, list[dict[str, str]]]) -> bytes:
    newest = dict(list(known.items())[-_WORKBOOKS:])
    data = {"format": "bomplan-ledger-read", "version": 1, "read": newest}
    return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def _told(folder: Path) -> Path | None:
    """The ledger that the run record names, relative to its own folder."""
    record = folder / _RUN
    try:
        if record.stat().st_size > _MOST_RUN_BYTES:
            return None
        told = json.loads(record.read_text("utf-8")).get("ledger")
    except (OSError, ValueError, AttributeError, RecursionError):
        return None
    if not isinstance(told, str) or Path(told).name != LEDGER_FILE:
        return None
    path = folder / told
    return path if path.parent.is_dir() else None
