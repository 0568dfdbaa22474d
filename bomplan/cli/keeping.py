"""Answers of studies kept beside a plan, for its workbook and its report."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click


def keep_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--keep FOLDER``, handed on as ``keep``."""
    return click.option(
        "--keep",
        type=click.Path(path_type=Path, file_okay=False),
        metavar="FOLDER",
        help="Also keep the answer in this output folder: the next workbook and report"
        " written there show it.",
    )(command)


def keep_answer(folder: Path | None, name: str, text: str) -> None:
    """Write the answer as ``name`` into the folder, where one is given."""
    if folder is None:
        return
    from bomplan.report.files import write_outputs

    for one in write_outputs(folder, {name: (text + "\n").encode("utf-8")}):
        print(f"written: {one.path}", file=sys.stderr)
