"""``bomplan catalog check``: everything that looks wrong in a catalogue."""

from __future__ import annotations

import datetime as dt
import sys

import click

from bomplan.cli.options import CONTEXT, complete_catalogs, day, verbose
from bomplan.cli.status import Status


@click.command("check", context_settings=CONTEXT)
@click.argument("names", nargs=-1, metavar="[NAME|PATH]...", shell_complete=complete_catalogs)
@click.option(
    "--as-of", callback=day, metavar="DATE", help="Day to judge prices by [default: today]."
)
@verbose
def COMMAND(names: tuple[str, ...], as_of: dt.date | None, verbose: bool) -> int:  # noqa: N802
    """Read a catalogue whole and say everything that looks wrong in it.

    Several names are stacked in their order. What cannot be read is an error (exit
    status 2); what reads well and looks odd, such as a cell that holds more energy than its
    chemistry can, is listed (exit status 1).

    \b
    Example:
      bomplan catalog check generic my-parts
    """
    del verbose
    from bomplan import api
    from bomplan.catalog.lint import lint

    loaded = api.load_catalog(names or ("generic",))
    findings = lint(loaded, as_of or dt.date.today())
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
