"""The page of commands, made from the commands' own arguments and help."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from bomplan.cli.app import command
from bomplan.cli.status import Status

INTRODUCTION = """\
# Commands

`bomplan` and `python -m bomplan` are the same. Data goes to standard output, everything said
about the work to standard error. Colour is used only on a terminal, and not when the
environment variable `NO_COLOR` is set.

What a setting is worth: an option on the command line wins over the project file, which wins
over the default. There is no other place to set anything.
"""

STATUSES = {
    Status.SOUND: "a sound plan, or every check passed",
    Status.NO_PLAN: "no plan, a failed check, or something odd in a catalogue",
    Status.INPUT: "an input or an argument cannot be used; every fault is listed",
    Status.BUG: "a bug of ours; the message says how to report it",
    Status.STOPPED: "stopped early: the best plan so far is written, not proven",
}


def page() -> str:
    """Markdown: every command with its arguments, options and example, then exit statuses."""
    return "\n".join([INTRODUCTION, *_group(command(), "bomplan"), *_statuses()]) + "\n"


def _group(group: Any, path: str) -> Iterator[str]:
    for name, one in group.commands.items():
        if hasattr(one, "commands"):
            yield from _group(one, f"{path} {name}")
        else:
            yield from _command(one, f"{path} {name}")


def _command(one: Any, path: str) -> Iterator[str]:
    arguments = [param for param in one.params if not param.opts[0].startswith("-")]
    options = [param for param in one.params if param.opts[0].startswith("-")]
    words = [path, *(["[OPTIONS]"] if options else []), *(_shape(param) for param in arguments)]
    yield f"## `{path}`\n"
    yield f"```console\n$ {' '.join(words)}\n```\n"
    yield from _help(one.help or "")
    yield "| argument or option | meaning | if left out |"
    yield "|---|---|---|"
    for param in [*arguments, *options]:
        yield f"| {_name(param)} | {_cell(param.help or '')} | {_default(param)} |"
    yield ""


def _shape(param: Any) -> str:
    shape = param.metavar or param.name.upper()
    return shape if param.required or shape.startswith("[") else f"[{shape}]"


def _help(text: str) -> Iterator[str]:
    """The help's paragraphs; those that keep their lines on a terminal become code."""
    for paragraph in re.split(r"\n\s*\n", text.replace("\b", "").strip()):
        lines = paragraph.strip().splitlines()
        if lines[0] == "Example:":
            yield "```console"
            yield from (f"$ {line.strip()}" for line in lines[1:])
            yield "```\n"
        elif not lines[0].startswith("Exit status:"):
            yield " ".join(line.strip() for line in lines) + "\n"


def _name(param: Any) -> str:
    if not param.opts[0].startswith("-"):
        return f"`{_cell(_shape(param).strip('[]'))}`"
    shape = f" {param.metavar}" if param.metavar else ""
    return " ".join(f"`{_cell(name + shape)}`" for name in param.opts)


def _default(param: Any) -> str:
    if param.required:
        return "**needed**"
    told = re.search(r"\[default: (.*)\]", param.help or "")
    if told:
        return told.group(1)
    if getattr(param, "is_flag", False):
        return "no"
    return "none" if param.default in (None, ()) else f"`{param.default}`"


def _cell(text: str) -> str:
    return re.sub(r"\s*\[default: .*\]", "", text).replace("|", "\\|")


def _statuses() -> Iterator[str]:
    yield "## Exit status\n"
    yield "| status | meaning |"
    yield "|---|---|"
    yield from (f"| {int(status)} | {STATUSES[status]} |" for status in Status)
