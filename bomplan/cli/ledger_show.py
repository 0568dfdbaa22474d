"""``bomplan ledger show``: the ledger as a table, and what it comes to."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from bomplan.cli.options import CONTEXT, complete_projects, verbose


@click.command("show", context_settings=CONTEXT)
@click.argument("project", metavar="PROJECT", shell_complete=complete_projects)
@verbose
def COMMAND(project: str, verbose: bool) -> int:  # noqa: N802
    """Show what the ledger of PROJECT holds: every line with an entry, and the sums.

    \b
    Example:
      bomplan ledger show my-pickup
    """
    del verbose
    from bomplan import api
    from bomplan.buying.ledger import quantity_text, read_ledger
    from bomplan.cli.entries import ledger_of
    from bomplan.money import format_amount, format_money
    from bomplan.report.text import clean

    if project.startswith(api.EXAMPLE_PREFIX):
        raise click.UsageError("an example has no folder; bomplan new makes it yours")
    loaded = api.open_project(project)
    path = ledger_of(project, loaded, Path())
    if not path.exists():
        print(f"nothing is recorded yet: there is no {path}", file=sys.stderr)
        return 0
    currency = loaded.project.currency
    ledger = read_ledger(path, currency)
    entries = [entry for entry in ledger.entries if entry.recorded]
    rows = [("line", "what", "ordered", "received", f"paid {currency}", "date")]
    rows += [
        (
            clean(entry.line, 40),
            clean(entry.what, 44),
            quantity_text(entry.ordered),
            quantity_text(entry.received),
            "" if entry.paid is None else format_amount(entry.paid, currency),
            entry.date,
        )
        for entry in entries
    ]
    widths = [max(len(row[col]) for row in rows) for col in range(len(rows[0]))]
    for row in rows:
        cells = [
            text.rjust(width) if 2 <= col <= 4 else text.ljust(width)
            for col, (text, width) in enumerate(zip(row, widths, strict=True))
        ]
        print("  ".join(cells).rstrip())
    paid = sum(entry.paid or 0 for entry in entries)
    blank = sum(not entry.recorded for entry in ledger.entries)
    print(f"\npaid: {format_money(paid, currency)}; lines without an entry: {blank}")
    return 0
