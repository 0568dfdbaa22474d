"""``bomplan catalog diff``: what changed between two catalogues."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import click

from bomplan.cli.options import CONTEXT, as_json, complete_catalogs, verbose

if TYPE_CHECKING:
    from bomplan.catalog.difference import Change

_HEADINGS: Final = {
    "dearer": "Dearer",
    "cheaper": "Cheaper",
    "new": "New",
    "retired": "Retired",
    "changed": "Changed figures",
}


@click.command("diff", context_settings=CONTEXT)
@click.argument("old", metavar="OLD", shell_complete=complete_catalogs)
@click.argument("new", metavar="NEW", shell_complete=complete_catalogs)
@click.option("--prices", is_flag=True, help="Only what got dearer or cheaper.")
@as_json
@verbose
def COMMAND(old: str, new: str, prices: bool, as_json: bool, verbose: bool) -> int:  # noqa: N802
    """Say what got dearer, cheaper, new, retired or otherwise changed.

    OLD and NEW are shipped catalogues, folders or workbooks.

    \b
    Exit status: 0 nothing differs, 1 something does, 2 an input cannot be used.

    \b
    Example:
      bomplan catalog diff generic my-parts.xlsx
    """
    del verbose
    from bomplan import api

    changes = [
        one
        for one in api.compare_catalogs(old, new)
        if not prices or one.kind in ("dearer", "cheaper")
    ]
    if as_json:
        print(
            json.dumps([dataclasses.asdict(one) for one in changes], indent=1, ensure_ascii=False)
        )
    else:
        print_changes(changes)
    return int(bool(changes))


def print_changes(changes: Sequence[Change]) -> None:
    """The changes under headings, with a count at the end."""
    from bomplan.report.text import clean

    for kind, heading in _HEADINGS.items():
        mine = [one for one in changes if one.kind == kind]
        if mine:
            print(f"{heading} ({len(mine)})")
            for one in mine:
                print(f"  {clean(one.text())}")
            print()
    counts = [
        f"{sum(one.kind == kind for one in changes)} {words.lower()}"
        for kind, words in _HEADINGS.items()
        if any(one.kind == kind for one in changes)
    ]
    print(", ".join(counts) if counts else "nothing differs")
