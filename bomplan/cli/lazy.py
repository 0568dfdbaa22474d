"""A group of commands whose modules are loaded when they are asked for, not before."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from importlib import import_module
from typing import Any, cast

import click


class LazyGroup(click.Group):
    """``lazily`` is name = (module, short help); a module's command is its ``COMMAND``."""

    def __init__(self, *args: Any, lazily: Mapping[str, tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._lazily = lazily

    def list_commands(self, _context: click.Context) -> list[str]:
        return list(self._lazily)

    def get_command(self, _context: click.Context, name: str) -> click.Command | None:
        if name not in self._lazily:
            return None
        return cast(click.Command, import_module(self._lazily[name][0]).COMMAND)

    def resolve_command(
        self, context: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in self._lazily:
            near = difflib.get_close_matches(name, self._lazily, n=1)
            more = f" Did you mean {near[0]!r}?" if near else ""
            context.fail(f"No such command {name!r}.{more}")
        return super().resolve_command(context, args)

    def format_commands(self, _context: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, short) for name, (_, short) in self._lazily.items()])
