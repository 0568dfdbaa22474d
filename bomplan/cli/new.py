"""``bomplan new``: a commented project file to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def new(
    name: Annotated[
        Path | None,
        typer.Argument(metavar="[NAME]", help="Folder or .toml file to write; made when missing."),
    ] = None,
    start: Annotated[
        str,
        typer.Option(
            "--from",
            metavar="EXAMPLE",
            help="What to start from: garden-pickup, courier-motorcycle, camper-van or empty.",
        ),
    ] = "empty",
) -> int:
    """Write a commented project file to fill in; nothing that exists is overwritten.

    \b
    Example:
      bomplan new my-van --from camper-van
    """
    from bomplan.project import write_template

    files = write_template(start, name or Path("my-conversion" if start == "empty" else start))
    for file in files:
        print(f"written: {file}")
    target = files[0].parent if files[0].name == "project.toml" else files[0]
    print()
    print(f"Next: put your own figures into {files[0]}, then run")
    print(f'  bomplan plan "{target}"' if " " in str(target) else f"  bomplan plan {target}")
    return 0
