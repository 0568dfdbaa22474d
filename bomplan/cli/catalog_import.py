"""``bomplan catalog import``: somebody else's table into a catalogue of one's own."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import click

from bomplan.cli.options import CONTEXT, complete_families, verbose


@click.command("import", context_settings=CONTEXT)
@click.argument("source", type=click.Path(path_type=Path), metavar="FILE")
@click.option(
    "--into",
    "folder",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="The catalogue that takes it in; made when missing.",
)
@click.option(
    "--family", default="", metavar="FAMILY", shell_complete=complete_families,
    help="What the table holds, such as module.",
)  # fmt: skip
@click.option("--sheet", default="", metavar="NAME", help="Sheet of a workbook.")
@click.option(
    "--map",
    "maps",
    multiple=True,
    metavar="THEIRS=OURS",
    help='Columns by name, with their unit if need be: "Weight=mass_kg [lb]".',
)
@click.option(
    "--set", "values", multiple=True, metavar="OURS=VALUE", help="One value for all rows."
)
@click.option("--ignore", multiple=True, metavar="THEIRS", help="A column to leave out.")
@click.option("--as", "name", default="", metavar="NAME", help="Name of the remembered mapping.")
@click.option("--yes", is_flag=True, help="Write it; without, only the difference is shown.")
@verbose
def COMMAND(  # noqa: N802
    source: Path,
    folder: Path,
    family: str,
    sheet: str,
    maps: tuple[str, ...],
    values: tuple[str, ...],
    ignore: tuple[str, ...],
    name: str,
    yes: bool,
    verbose: bool,
) -> int:
    """Take a CSV file or a sheet of a workbook into a catalogue of your own.

    Columns are told by their names where they can be, and by --map where not; figures are
    converted from the unit in their header or beside them. The mapping is remembered in
    import.toml in FOLDER, so that the next such file needs no flags. A workbook that
    bomplan catalog export wrote is taken in whole. Ids may be made from words:
    --map "Name=id [slug]".

    \b
    Example:
      bomplan catalog import shop.xlsx --into my-parts --family module \\
        --map "Weight=mass_kg [lb]" --set currency=USD --yes
    """
    del verbose
    from bomplan import api
    from bomplan.catalog.exchange import Wishes, import_files
    from bomplan.cli.catalog_diff import print_changes

    columns = _pairs(maps, last=True)
    wishes = Wishes(family, sheet, name, columns, _pairs(values, last=False), ignore)
    found = import_files(source, folder, wishes)
    if found.mapping is not None:
        print(f"read as {found.mapping.family} by the mapping {found.name}:")
        for theirs, ours in found.mapping.columns.items():
            print(f"  {theirs} -> {ours.text()}")
        for ours_name, value in found.mapping.values.items():
            print(f"  {ours_name} = {value} for every row")
        print()
    print_changes(found.merged.changes)
    for note in found.merged.notes:
        print(f"mind: {note}", file=sys.stderr)
    for title in found.left_out:
        print(f"mind: the column {title} was left out (--map takes it in)", file=sys.stderr)
    return finish(api.write_files, found.merged.files, yes=yes)


def finish(
    write: Callable[[dict[Path, bytes]], None], files: dict[Path, bytes], *, yes: bool
) -> int:
    """Write the files when asked to, or say how; the exit status."""
    if not files:
        print("nothing to write")
    elif yes:
        write(files)
        for path in files:
            print(f"written: {path}")
    else:
        print("\nnothing written yet: add --yes to write " + ", ".join(p.name for p in files))
    return 0


def _pairs(words: Sequence[str], *, last: bool) -> dict[str, str]:
    """``LEFT=RIGHT`` words, parted at the last ``=`` (their names may hold one) or the first."""
    found = {}
    for word in words:
        left, equals, right = word.rpartition("=") if last else word.partition("=")
        if not equals or not left.strip() or not right.strip():
            raise click.UsageError(f"such as NAME=VALUE, not {word!r}")
        found[left.strip()] = right.strip()
    return found
