"""The page of commands, made from the commands' own arguments and help."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from itertools import pairwise

import click

from bomplan.cli.app import command
from bomplan.cli.settings import SETTINGS
from bomplan.cli.status import Status

INTRODUCTION = """\
# Commands

`bomplan` and `python -m bomplan` are the same. Data goes to standard output, everything said
about the work to standard error. Colour is used only on a terminal, and not when the
environment variable `NO_COLOR` is set.

Some options stand for a setting that may be kept elsewhere: [settings](settings.md).
"""

STATUSES = {
    Status.SOUND: "a sound plan, or every check passed",
    Status.NO_PLAN: "no plan, a failed check, or something odd in a catalogue",
    Status.INPUT: "an input or an argument cannot be used; every fault is listed",
    Status.BUG: "a bug of ours; the message says how to report it",
    Status.STOPPED: "stopped early: what was found by then is written, not proven",
}


def page() -> str:
    """Markdown: every command with its arguments, options and example, then exit statuses."""
    return "\n".join([INTRODUCTION, *_group(command, "bomplan", None), *_statuses()]) + "\n"


def _group(group: click.Group, path: str, above: click.Context | None) -> Iterator[str]:
    context = click.Context(group, parent=above, info_name=path.rsplit(" ", 1)[-1])
    for name in group.list_commands(context):
        one = group.get_command(context, name)
        assert one is not None, name
        if isinstance(one, click.Group):
            yield from _group(one, f"{path} {name}", context)
        else:
            yield from _command(one, f"{path} {name}", context)


def _command(one: click.Command, path: str, above: click.Context) -> Iterator[str]:
    context = click.Context(one, parent=above, info_name=path.rsplit(" ", 1)[-1])
    arguments = [param for param in one.params if isinstance(param, click.Argument)]
    options = [param for param in one.params if isinstance(param, click.Option)]
    options = [option for option in options if not option.hidden]
    words = [path, *(["[OPTIONS]"] if options else [])]
    words += [param.make_metavar(context) for param in arguments]
    yield f"## `{path}`\n"
    yield f"```console\n$ {' '.join(words)}\n```\n"
    yield from _help(one.help or "")
    if not options:
        return
    yield "| option | meaning | if left out |"
    yield "|---|---|---|"
    for option in options:
        meaning = _cell(option.help or "")
        yield f"| {_name(option, context)} | {meaning} | {_default(option, context)} |"
    yield ""


def _help(text: str) -> Iterator[str]:
    """The help's paragraphs; those that keep their lines on a terminal become code."""
    for paragraph in re.split(r"\n\s*\n", inspect.cleandoc(text)):
        lines = paragraph.replace("\b", "").strip().splitlines()
        if not lines:
            continue
        if lines[0] == "Example:":
            yield "```console"
            for above, line in pairwise(lines):
                yield f"  {line.strip()}" if above.endswith("\\") else f"$ {line.strip()}"
            yield "```\n"
        elif "\b" in paragraph:
            yield "\n".join(["```text", *lines, "```\n"])
        else:
            yield " ".join(line.strip() for line in lines) + "\n"


def _name(option: click.Option, context: click.Context) -> str:
    value = option.metavar or option.type.get_metavar(option, context)
    shape = "" if option.is_flag else f" {value or option.type.name.split()[0].upper()}"
    names = [*option.opts, *option.secondary_opts]
    return " or ".join(f"`{_cell(name + shape)}`" for name in names)


def _default(option: click.Option, context: click.Context) -> str:
    if option.required:
        return "**needed**"
    told = re.search(r"\[default: (.*?)\]", option.help or "")
    if told:
        return told.group(1)
    if any(option.opts[0] in setting.flag for setting in SETTINGS):
        return "as set"
    if option.is_flag:
        return "no"
    default = option.get_default(context)
    return f"`{default}`" if default and isinstance(default, (str, int)) else "none"


def _cell(text: str) -> str:
    return re.sub(r"\s*\[default: .*\]", "", text).replace("|", "\\|")


def _statuses() -> Iterator[str]:
    yield "## Exit status\n"
    yield "| status | meaning |"
    yield "|---|---|"
    yield from (f"| {int(status)} | {STATUSES[status]} |" for status in Status)
