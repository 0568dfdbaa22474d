"""The flags that several commands share, each defined once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any, Final, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

CONTEXT: Final = {"help_option_names": ["-h", "--help"], "max_content_width": 80}


def complete_projects(
    _context: click.Context, _parameter: click.Parameter, begun: str
) -> list[click.shell_completion.CompletionItem]:
    """Shipped examples, then files and folders, for the shell's completion."""
    from click.shell_completion import CompletionItem

    from bomplan.project import TEMPLATES

    examples = [f"example:{name}" for name in TEMPLATES if name != "empty"]
    items = [CompletionItem(name) for name in examples if name.startswith(begun)]
    return items or [CompletionItem(begun, type="file")]


def complete_catalogs(
    _context: click.Context, _parameter: click.Parameter, begun: str
) -> list[click.shell_completion.CompletionItem]:
    """Shipped catalogues, else files and folders."""
    from click.shell_completion import CompletionItem

    from bomplan.catalog.sources import shipped_catalogs

    items = [CompletionItem(name) for name in shipped_catalogs() if name.startswith(begun)]
    return items or [CompletionItem(begun, type="file")]


def complete_families(
    _context: click.Context, _parameter: click.Parameter, begun: str
) -> list[click.shell_completion.CompletionItem]:
    """The tables of a catalogue."""
    from click.shell_completion import CompletionItem

    from bomplan.catalog.columns import schema

    return [CompletionItem(name) for name in schema() if name.startswith(begun)]


def verbose(command: Command) -> Command:
    """``--verbose``, which main looks for, too, when something goes wrong."""
    words = "Say more: how figures were read, what is tried, where a bug struck."
    return click.option("--verbose", is_flag=True, help=words)(command)


def shown(command: Command) -> Command:
    """``--units`` and the decimal mark; None where nothing was asked."""
    command = click.option(
        "--decimal-comma/--decimal-point",
        "decimal_comma",
        default=None,
        help="1,5 or 1.5 in what is shown.",
    )(command)
    return click.option(
        "--units", type=click.Choice(["metric", "us"]), help="Units of what is shown."
    )(command)


def catalogs(command: Command) -> Command:
    """``--catalog``, once or several times."""
    return click.option(
        "--catalog",
        "catalogs",
        multiple=True,
        metavar="NAME|PATH",
        shell_complete=complete_catalogs,
        help="Catalogue instead of the project's (or of generic); again to stack another.",
    )(command)


def as_json(command: Command) -> Command:
    """``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")(
        command
    )


def day(_context: click.Context, parameter: click.Parameter, text: str | None) -> dt.date | None:
    """An ISO date, or a usage error."""
    if text is None:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(
            f"a day is written as 2025-06-30, not {text!r}", param=parameter
        ) from None
