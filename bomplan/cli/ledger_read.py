"""``bomplan ledger read``: entries of a workbook into the ledger."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from bomplan.cli.options import CONTEXT, complete_projects, verbose


@click.command("read", context_settings=CONTEXT)
@click.argument("workbook", type=click.Path(path_type=Path), metavar="WORKBOOK")
@click.option(
    "--project",
    metavar="PROJECT",
    shell_complete=complete_projects,
    help="Whose ledger it is [default: the one that belongs to the workbook].",
)
@verbose
def COMMAND(workbook: Path, project: str | None, verbose: bool) -> int:  # noqa: N802
    """Take what you recorded on the sheet Budget of bom.xlsx into ledger.csv.

    Columns are found by their names, and only cells that you touched count; each is shown.
    Nothing is dropped from the ledger because a row, a column or a sheet is gone. The workbook
    stays as it is. The ledger lies beside the project file; of a shipped example, beside the
    workbook.

    \b
    Exit status: 0 read, 2 workbook or ledger cannot be used; nothing is changed.

    \b
    Example:
      bomplan ledger read out-my-pickup/bom.xlsx
    """
    del verbose
    from bomplan import api
    from bomplan.cli.entries import ledger_of, tell_open, tell_taken

    tell_open(workbook)
    ledger, currency = None, ""
    if project is not None:
        loaded = api.open_project(project)
        ledger = ledger_of(project, loaded, workbook.parent)
        currency = loaded.project.currency
    taken = api.take_entries(workbook, ledger, currency)
    tell_taken(taken)
    if not taken.edits:
        print(f"nothing new for {taken.path}", file=sys.stderr)
    return 0
