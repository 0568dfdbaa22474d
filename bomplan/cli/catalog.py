"""``bomplan catalog``: care of the tables of parts."""

from __future__ import annotations

from typing import Final

import click

from bomplan.cli.lazy import LazyGroup
from bomplan.cli.options import CONTEXT

COMMANDS: Final = {
    "check": ("bomplan.cli.catalog_check", "Say what looks wrong in one."),
    "list": ("bomplan.cli.catalog_list", "List families, or the parts of one."),
    "show": ("bomplan.cli.catalog_show", "Show one part, with what its columns mean."),
    "diff": ("bomplan.cli.catalog_diff", "Say what changed between two."),
    "export": ("bomplan.cli.catalog_export", "Write one as a workbook or a folder."),
    "import": ("bomplan.cli.catalog_import", "Take in a table of any shape."),
    "update": ("bomplan.cli.catalog_update", "Put edited prices and figures in."),
}


@click.group("catalog", cls=LazyGroup, lazily=COMMANDS, context_settings=CONTEXT)
def COMMAND() -> None:  # noqa: N802
    """Look after catalogues: folders of CSV tables, or one workbook, that any spreadsheet opens.

    \b
    Example:
      bomplan catalog export generic my-parts.xlsx
      bomplan catalog check my-parts.xlsx
    """
