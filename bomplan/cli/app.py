"""The commands put together. Imports nothing heavy: help and version answer at once."""

from __future__ import annotations

from typing import Final

import click

from bomplan import __version__
from bomplan.cli.lazy import LazyGroup
from bomplan.cli.options import CONTEXT

COMMANDS: Final = {
    "new": ("bomplan.cli.new", "Write a commented project file to start from."),
    "plan": ("bomplan.cli.plan", "Find the cheapest plan that works."),
    "audit": ("bomplan.cli.audit", "Check a plan or a typed parts list."),
    "report": ("bomplan.cli.report", "Write a plan as a page to look at."),
    "ledger": ("bomplan.cli.ledger", "Keep what you have ordered, paid and received."),
    "weigh": ("bomplan.cli.weigh", "Hold scale readings against a plan."),
    "alternatives": ("bomplan.cli.alternatives", "Show the best plans that differ."),
    "compare": ("bomplan.cli.compare", "Set chemistries or projects side by side."),
    "binds": ("bomplan.cli.binds", "Say what each target and limit costs."),
    "front": ("bomplan.cli.front", "Set cost against range, mass or rear axle load."),
    "clash": ("bomplan.cli.clash", "Find which requirements cannot be had together."),
    "chances": ("bomplan.cli.chances", "Say how sure each target and limit is."),
    "project": ("bomplan.cli.project", "Look after project files."),
    "catalog": ("bomplan.cli.catalog", "Look after catalogues."),
    "settings": ("bomplan.cli.settings_command", "Say which settings hold, and from where."),
    "completion": ("bomplan.cli.completion", "Print what makes your shell complete commands."),
}


@click.group(cls=LazyGroup, lazily=COMMANDS, context_settings=CONTEXT, no_args_is_help=False)
@click.version_option(
    __version__, prog_name="bomplan", message="%(prog)s %(version)s", help="Print the version."
)
def command() -> None:
    """Plan an electric conversion before buying anything.

    From a donor vehicle, what it must do and a catalogue of parts: the cheapest list of
    parts that provably works, with masses, axle loads, range and a spreadsheet to shop from.

    \b
    Example:
      bomplan new my-pickup --from garden-pickup
      bomplan plan my-pickup
    """
