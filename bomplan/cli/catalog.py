"""``bomplan catalog``: care of the tables of parts."""

from __future__ import annotations

import datetime as dt
import sys
from typing import Annotated

import typer

from bomplan.cli.status import Status


def catalog() -> None:
    """Look after catalogues: folders of CSV tables that any spreadsheet opens."""


def check(
    name: Annotated[
        str, typer.Argument(metavar="[NAME|FOLDER]", help="A shipped catalogue, or a folder.")
    ] = "generic",
    as_of: Annotated[
        str | None,
        typer.Option("--as-of", metavar="DATE", help="Day to judge prices by [default: today]."),
    ] = None,
    verbose: Annotated[  # noqa: ARG001 - read by main when something goes wrong
        bool, typer.Option("--verbose", help="Show where a bug struck, should there be one.")
    ] = False,
) -> int:
    """Read a catalogue whole and say everything that looks wrong in it.

    What cannot be read is an error (exit status 2); what reads well and looks odd, such as a
    cell that holds more energy than its chemistry can, is listed (exit status 1).

    \b
    Example:
      bomplan catalog check generic
    """
    from bomplan import api
    from bomplan.catalog.lint import lint

    day = _day(as_of)
    loaded = api.load_catalog([name])
    findings = lint(loaded, day)
    for note in loaded.notes:
        print(f"mind: {note}", file=sys.stderr)
    for one in findings:
        print(f"{one.family}, {one.id}, {one.column}: {one.message} [{one.code}]")
    parts = sum(len(rows) for rows in loaded.families.values())
    size = f"{parts} parts in {len(loaded.families)} families, {len(loaded.pairs)} pairs"
    if findings:
        print(f"\n{len(findings)} things to look at in {loaded.name} ({size})")
        return int(Status.NO_PLAN)
    print(f"{loaded.name}: nothing to complain of ({size})")
    return int(Status.SOUND)


def _day(text: str | None) -> dt.date:
    if text is None:
        return dt.date.today()
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(
            f"a day is written as 2025-06-30, not {text!r}", param_hint="--as-of"
        ) from None
