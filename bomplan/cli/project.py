"""``bomplan project``: what a project file says, and changes to it that keep its comments."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bomplan.cli.lazy import LazyGroup
from bomplan.cli.options import CONTEXT

if TYPE_CHECKING:
    from bomplan.project.edit import Value

COMMANDS: Final = {
    "check": ("bomplan.cli.project_check", "Say what was understood, and what is wrong."),
    "set": ("bomplan.cli.project_set", "Change figures, keeping comments and order."),
    "migrate": ("bomplan.cli.project_migrate", "Bring an older file to the newest format."),
}


@click.group("project", cls=LazyGroup, lazily=COMMANDS, context_settings=CONTEXT)
def COMMAND() -> None:  # noqa: N802
    """Look after project files.

    \b
    Example:
      bomplan project check my-pickup
    """


def read_changes(settings: Iterable[str]) -> dict[str, Value]:
    """``KEY=VALUE`` words as changes; a usage error where there is no ``=``."""
    from bomplan.project import typed

    changes: dict[str, Value] = {}
    for setting in settings:
        key, equals, text = setting.partition("=")
        if not equals or not key.strip():
            raise click.UsageError(
                'a change is written KEY=VALUE, such as donor.gross_limit="1680 kg",'
                f" not {setting!r}"
            )
        changes[key.strip()] = typed(key.strip(), text)
    return changes


def project_path(text: str) -> Path:
    """The file that PROJECT means: itself, or the one in its folder."""
    from bomplan.api import EXAMPLE_PREFIX

    if text.startswith(EXAMPLE_PREFIX):
        raise click.UsageError("an example is not changed; bomplan new makes it yours")
    path = Path(text)
    return path / "project.toml" if path.is_dir() else path
