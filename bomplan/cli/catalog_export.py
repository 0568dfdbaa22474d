"""``bomplan catalog export``: a catalogue as one workbook or as a folder."""

from __future__ import annotations

from pathlib import Path

import click

from bomplan.cli.options import CONTEXT, complete_catalogs, verbose


@click.command("export", context_settings=CONTEXT)
@click.argument(
    "names", nargs=-1, required=True, metavar="NAME|PATH...", shell_complete=complete_catalogs
)
@click.argument("target", type=click.Path(path_type=Path), metavar="TARGET")
@verbose
def COMMAND(names: tuple[str, ...], target: Path, verbose: bool) -> int:  # noqa: N802
    """Write a catalogue as one workbook (TARGET.xlsx) or as a folder of CSV files.

    Several names are stacked first. The result is a catalogue of its own: plan with it
    (--catalog TARGET), edit it, or take it in again. A workbook that you changed since it
    was written is kept beside.

    \b
    Example:
      bomplan catalog export generic my-parts.xlsx
    """
    del verbose
    from bomplan import api

    written = api.export_catalog(names, target)
    for one in written:
        if one.kept is not None:
            print(f"mind: what stood there is kept as {one.kept}")
    print(f"written: {target} ({len(written)} file{'s' * (len(written) != 1)})")
    return 0
