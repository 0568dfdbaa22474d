"""Entries of an edited workbook, taken into the ledger before a new workbook is written."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bomplan.project import LoadedProject
    from bomplan.report.spending import Taken


def ledger_of(asked: str, loaded: LoadedProject, folder: Path) -> Path:
    """``ledger.csv`` beside the project file; of a shipped example, in the output folder."""
    from bomplan.api import EXAMPLE_PREFIX
    from bomplan.buying.ledger import LEDGER_FILE

    home = folder if asked.startswith(EXAMPLE_PREFIX) else loaded.path.parent
    return home / LEDGER_FILE


def check_ledger(ledger: Path, currency: str) -> None:
    """Read the ledger before a long search, so that a fault in it is told at once."""
    from bomplan.buying.ledger import read_ledger

    read_ledger(ledger, currency)


def take_before_writing(folder: Path, ledger: Path, currency: str, *, quiet: bool) -> None:
    """Take what was recorded in the folder's workbook; what cannot be read is said and kept."""
    from bomplan import api
    from bomplan.errors import InputError
    from bomplan.report.files import as_written

    workbook = folder / api.WORKBOOK_FILE
    if not workbook.is_file() or as_written(workbook):
        return
    tell_open(workbook)
    _tell_edited(workbook)
    try:
        taken = api.take_entries(workbook, ledger, currency)
    except InputError as error:
        print(
            f"mind: nothing was taken from {workbook} into the ledger; it is kept beside, and"
            " 'bomplan ledger read' takes it once this is mended:",
            file=sys.stderr,
        )
        for fault in error.faults:
            print(fault.text(), file=sys.stderr)
        return
    tell_taken(taken, quiet=quiet)


def tell_open(workbook: Path) -> None:
    """Say when a spreadsheet program seems to have the workbook open: it may hold more."""
    marks = (f".~lock.{workbook.name}#", f"~${workbook.name}")
    if any((workbook.parent / mark).exists() for mark in marks):
        print(
            f"mind: {workbook.name} seems to be open in a spreadsheet program; what is not saved"
            " there is not read",
            file=sys.stderr,
        )


def _tell_edited(workbook: Path) -> None:
    """Say that prices and masses edited on the bill are in no catalogue, where there are any."""
    from bomplan.errors import InputError
    from bomplan.report.workbook.edited import edited_parts

    try:
        edited = edited_parts(workbook)
    except InputError:
        # Told where the entries are read, or by the command that takes them.
        return
    if edited is not None and edited.parts:
        names = ", ".join(one.part for one in edited.parts[:6])
        more = ", ..." if len(edited.parts) > 6 else ""
        print(
            f"mind: edited on the sheet Bill, and in no catalogue yet: {names}{more}; 'bomplan"
            " catalog update FOLDER --from' the kept workbook takes it there",
            file=sys.stderr,
        )


def tell_taken(taken: Taken, *, quiet: bool = False) -> None:
    """What was taken, cell by cell, and what was left aside."""
    from bomplan.report.text import clean

    if not quiet:
        for edit in taken.edits:
            print(f"ledger: {clean(edit.text(), 200)}", file=sys.stderr)
    for note in taken.notes:
        print(f"mind: {clean(note, 400)}", file=sys.stderr)
    if taken.kept is not None:
        print(
            f"mind: {taken.path.name} had been changed apart from the workbook, whose word counts;"
            f" the earlier one is kept as {taken.kept}",
            file=sys.stderr,
        )
    if taken.written and not quiet:
        print(f"written: {taken.path}", file=sys.stderr)
