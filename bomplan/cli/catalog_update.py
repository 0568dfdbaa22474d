"""``bomplan catalog update``: edited prices and figures into a catalogue."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import click

from bomplan.cli.options import CONTEXT, day, verbose


@click.command("update", context_settings=CONTEXT)
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option(
    "--from",
    "source",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="CSV file or workbook with a column id and those to change.",
)
@click.option("--sheet", default="", metavar="NAME", help="Sheet of a workbook.")
@click.option(
    "--price-date", callback=day, metavar="DATE", help="Day on which the prices were seen."
)
@click.option("--yes", is_flag=True, help="Write it; without, only the difference is shown.")
@verbose
def COMMAND(  # noqa: N802
    folder: Path, source: Path, sheet: str, price_date: dt.date | None, yes: bool, verbose: bool
) -> int:
    """Put edited prices, masses and other figures over those of a catalogue.

    FOLDER is a catalogue of your own: a folder, or a workbook. FILE has a column id and any
    columns of the catalogue; blank cells change nothing, parts of any family may stand
    together. FILE may be a bom.xlsx, too: the prices and masses that you edited on its sheet
    Bill are taken. The difference is shown first and written with --yes; cells that do not
    change keep their text, a workbook is written anew and the earlier one kept beside.

    \b
    Example:
      bomplan catalog update my-parts --from prices.csv --price-date 2026-11-02
    """
    del verbose
    from bomplan import api
    from bomplan.catalog.exchange import update_files, update_from_bill
    from bomplan.cli.catalog_diff import print_changes
    from bomplan.cli.catalog_import import finish
    from bomplan.report.files import keep_beside
    from bomplan.report.workbook.edited import edited_parts

    seen = price_date.isoformat() if price_date else ""
    edits = None if sheet else edited_parts(source)
    if edits is None:
        merged = update_files(folder, source, sheet, seen)
    else:
        for note in edits.notes:
            print(f"mind: {note}", file=sys.stderr)
        merged = update_from_bill(folder, edits.parts, seen)
    print_changes(merged.changes)
    for note in merged.notes:
        print(f"mind: {note}", file=sys.stderr)
    if yes and folder in merged.files:
        print(f"the earlier workbook is kept as {keep_beside(folder)}", file=sys.stderr)
    return finish(api.write_files, merged.files, yes=yes)
