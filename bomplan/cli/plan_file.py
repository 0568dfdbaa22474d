"""Which plan a person means: a file, a folder with one, or a project with one output."""

from __future__ import annotations

import sys
from pathlib import Path

import click


def plan_file(path: Path, name: str) -> Path:
    """The plan that is meant: the file, the one in the folder, or in a project's one output."""
    if not path.is_dir() or (path / name).exists():
        return path / name if path.is_dir() else path
    found = sorted(path.glob(f"out-*/{name}"))
    if len(found) == 1:
        print(f"mind: checking {found[0]}", file=sys.stderr)
        return found[0]
    if found:
        folders = ", ".join(str(one.parent) for one in found)
        raise click.UsageError(f"there are several plans in {path}; say which: {folders}")
    return path / name
