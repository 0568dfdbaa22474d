"""Help: there for every command, with an example, at once; and the shell's completion."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator

import click
import pytest

from bomplan.cli import main
from bomplan.cli.app import command
from bomplan.cli.new import CLASSES, EXAMPLES
from bomplan.project import CLASSES as KNOWN_CLASSES
from bomplan.project import TEMPLATES

SLOWEST_HELP_S = 0.25
HEAVY = (
    "ortools", "pandas", "numpy", "openpyxl", "xlsxwriter", "scipy", "rich", "tomlkit",
    "pydantic", "matplotlib", "jinja2",
)  # fmt: skip


def every_command(
    found: click.Command = command, words: tuple[str, ...] = ()
) -> Iterator[tuple[str, ...]]:
    yield words
    if isinstance(found, click.Group):
        context = click.Context(found)
        for name in found.list_commands(context):
            inner = found.get_command(context, name)
            assert inner is not None
            yield from every_command(inner, (*words, name))


COMMANDS = list(every_command())


def test_all_the_commands_are_there() -> None:
    leaves = {" ".join(words) for words in COMMANDS}
    assert leaves >= {
        "new", "plan", "audit", "project check", "project set", "project migrate", "settings",
        "completion", "catalog check", "catalog list", "catalog show", "catalog diff",
        "catalog import", "catalog export", "catalog update", "binds", "alternatives",
        "front", "clash", "report",
    }  # fmt: skip


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_help_has_an_example(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--help"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Usage: " + " ".join(("bomplan", *words)))
    assert "  Example:\n    bomplan " in out
    assert max(len(line) for line in out.splitlines()) <= 80


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_option_is_explained(words: tuple[str, ...]) -> None:
    found: click.Command = command
    for name in words:
        assert isinstance(found, click.Group)
        inner = found.get_command(click.Context(found), name)
        assert inner is not None
        found = inner
    silent = [
        parameter.name
        for parameter in found.params
        if isinstance(parameter, click.Option) and not parameter.help
    ]
    assert silent == []


def asked_for_help(*commands: tuple[str, ...]) -> float:
    """Seconds that a fresh interpreter works to answer; nothing heavy may have been loaded."""
    asked = [[*words] if words == ("--version",) else [*words, "--help"] for words in commands]
    code = (
        "import sys\n"
        "from bomplan.cli import main\n"
        f"status = max(main(words) for words in {asked!r})\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
        "sys.exit(status)\n"
    )
    begun = worked_s()
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stderr.strip() == "[]"
    return worked_s() - begun


def worked_s() -> float:
    """Seconds of the processor that processes which have ended have had, by the clock if untold."""
    times = os.times()
    return time.perf_counter() if os.name == "nt" else times.children_user + times.children_system


def test_help_loads_nothing_heavy() -> None:
    """One interpreter answers for every command, so that what any of them loads is seen."""
    asked_for_help(*COMMANDS, ("--version",))


@pytest.mark.slow
@pytest.mark.parametrize("words", [*COMMANDS, ("--version",)], ids=" ".join)
def test_help_is_quick(words: tuple[str, ...]) -> None:
    """The best of five: what other programs do meanwhile is not ours."""
    assert min(asked_for_help(words) for _ in range(5)) <= SLOWEST_HELP_S


def test_names_in_help_are_those_there_are() -> None:
    assert (*EXAMPLES, "empty") == tuple(TEMPLATES)
    assert tuple(KNOWN_CLASSES) == CLASSES


def complete(line: str, shell: str = "bash") -> list[str]:
    words = line.split(" ")
    done = subprocess.run(
        [sys.executable, "-c", "from bomplan.cli import main; main()"],
        env={
            **os.environ,
            "_BOMPLAN_COMPLETE": f"{shell}_complete",
            "COMP_WORDS": line,
            "COMP_CWORD": str(len(words) - 1),
        },
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert "Traceback" not in done.stderr
    return [item.partition(",")[2] for item in done.stdout.split()]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("bomplan ca", ["catalog"]),
        ("bomplan catalog ex", ["export"]),
        ("bomplan plan --cert", ["--certify"]),
        ("bomplan plan example:gar", ["example:garden-pickup"]),
        ("bomplan new --from fam", ["family-car"]),
        ("bomplan catalog check gen", ["generic"]),
        ("bomplan catalog list thr", ["throttle"]),
        ("bomplan plan --units u", ["us"]),
    ],
)
def test_the_shell_completes(line: str, expected: list[str]) -> None:
    assert complete(line) == expected


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    out = capsys.readouterr().out
    assert f"_BOMPLAN_COMPLETE={shell}_complete" in out
    assert "bomplan" in out
