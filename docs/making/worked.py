"""Pages whose commands are run: the tutorial and the how-to pages.

A page is Markdown with marks in comments, which a reader does not see:

``<!-- file: PATH -->`` before a code block: the block is the file's content; a second one for
the same path goes below the first. ``<!-- edit: PATH -->`` before a ``diff`` block: lines with
``-`` are replaced by lines with ``+``. ``<!-- run -->`` before a ``console`` block: each line
after ``$`` is run, and what it printed stands below. Options of ``run``, parted by semicolons:
``exit=N`` (0 unless said); ``show=HEAD`` (a number of lines), ``show=none``, or
``show="A heading"`` (that paragraph of the output, headings parted by commas).

``<!-- takes long -->`` anywhere in a page leaves its run to the slow lane.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from dataclasses import dataclass, replace
from pathlib import Path

BLOCK = re.compile(
    r"<!-- (?P<kind>file|edit|run)(?P<options>[^>]*) -->\n"
    r"```(?P<language>\w*)\n(?P<body>.*?)```\n",
    re.DOTALL,
)
LEFT_OUT = "…"
TAKES_LONG = "<!-- takes long -->"
ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Block:
    """A marked code block of a page: where it stands and what it says."""

    kind: str
    options: str
    language: str
    body: str
    begin: int
    end: int

    def text(self) -> str:
        """The block as Markdown."""
        mark = f"<!-- {self.kind}{self.options} -->"
        return f"{mark}\n```{self.language}\n{self.body}```\n"


def blocks(text: str) -> list[Block]:
    """The marked blocks of a page, in order."""
    return [
        Block(**match.groupdict(), begin=match.start(), end=match.end())
        for match in BLOCK.finditer(text)
    ]


def worked(text: str, folder: Path) -> str:
    """The page with its commands run in ``folder`` and their output put in anew.

    Raises AssertionError where a command ends with another status than the page says.
    """
    made: list[str] = []
    begin = 0
    seen: set[str] = set()
    for block in blocks(text):
        made.append(text[begin : block.begin])
        if block.kind == "run":
            block = replace(block, body=_run(block, folder))
        else:
            path = block.options.removeprefix(":").strip()
            _write(block, folder / path, again=path in seen)
            seen.add(path)
        made.append(block.text())
        begin = block.end
    return "".join([*made, text[begin:]])


def _write(block: Block, path: Path, *, again: bool) -> None:
    if block.kind == "file":
        before = path.read_text("utf-8") if again else ""
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(before + ("\n" if before else "") + block.body, "utf-8")
        return
    lines = block.body.splitlines(keepends=True)
    old = "".join(line[1:] for line in lines if not line.startswith("+"))
    new = "".join(line[1:] for line in lines if not line.startswith("-"))
    text = path.read_text("utf-8")
    assert text.count(old) == 1, f"{path.name} has {text.count(old)} places like\n{old}"
    path.write_text(text.replace(old, new), "utf-8")


def _run(block: Block, folder: Path) -> str:
    asked = [part.strip() for part in block.options.removeprefix(":").split(";")]
    options = {key: value for key, _, value in (part.partition("=") for part in asked)}
    wanted = int(options.get("exit", "0"))
    commands = [line[2:] for line in block.body.splitlines() if line.startswith("$ ")]
    lines: list[str] = []
    for command in commands:
        status, out = _call(command, folder)
        assert status == wanted, f"{command}: exit status {status}, not {wanted}\n{out}"
        lines += [f"$ {command}", *_shown(out.rstrip().splitlines(), options.get("show", "all"))]
    return "\n".join(lines) + "\n"


def _call(command: str, folder: Path) -> tuple[int, str]:
    """Run one line. Only bomplan itself is ever run."""
    words = shlex.split(command)
    assert words[0] == "bomplan", command
    done = subprocess.run(
        [sys.executable, "-m", "bomplan", *words[1:]],
        cwd=folder,
        env={
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "NO_COLOR": "1",
            "COLUMNS": "80",
            "PYTHONUNBUFFERED": "1",
        },
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        check=False,
    )
    return done.returncode, done.stdout


def _shown(lines: list[str], show: str) -> list[str]:
    if show == "none":
        return []
    if show == "all":
        return lines
    if show.isdigit():
        head = "\n".join(lines[: int(show)]).rstrip().splitlines()
        return [*head, *([LEFT_OUT] if len(lines) > int(show) else [])]
    shown: list[str] = []
    for heading in show.split(","):
        name = heading.strip().strip('"')
        start = next((n for n, line in enumerate(lines) if line.startswith(name)), None)
        assert start is not None, f"no paragraph {name!r} in\n" + "\n".join(lines)
        end = next((n for n in range(start, len(lines)) if not lines[n].strip()), len(lines))
        shown += [LEFT_OUT, *lines[start:end]]
    return [*shown, LEFT_OUT]
