"""``bomplan ledger``: what is ordered, paid and received."""

from __future__ import annotations

from typing import Final

import click

from bomplan.cli.lazy import LazyGroup
from bomplan.cli.options import CONTEXT

COMMANDS: Final = {
    "read": ("bomplan.cli.ledger_read", "Take what you recorded in bom.xlsx into ledger.csv."),
    "show": ("bomplan.cli.ledger_show", "Say what is paid, ordered, here and still to buy."),
}


@click.group("ledger", cls=LazyGroup, lazily=COMMANDS, context_settings=CONTEXT)
def COMMAND() -> None:  # noqa: N802
    """Keep what you have ordered, paid and received, in ledger.csv beside the project.

    \b
    Example:
      bomplan ledger read out-my-pickup/bom.xlsx
    """
