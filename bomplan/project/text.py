"""Bytes of a file that a person edited, as text, or the reason why they are none."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from bomplan.errors import Fault, InputError

LARGEST_FILE: Final = 1_000_000
_LOOKED_AT: Final = 100_000


def read_text(path: Path, *, kind: str) -> str:
    """The text of ``path`` with ``\\n`` line ends and without byte order mark.

    ``kind`` names the file in messages ("project", "route"). Raises InputError.
    """
    return read_raw(path, kind=kind).replace("\r\n", "\n").replace("\r", "\n")


def read_raw(path: Path, *, kind: str) -> str:
    """As :func:`read_text`, with the line ends that the file has."""

    def fail(code: str, message: str, hint: str | None = None) -> InputError:
        return InputError([Fault(f"{kind}.{code}", message, file=path.name, hint=hint)])

    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise fail("no-file", "there is no such file", _neighbours(path, kind)) from None
    except IsADirectoryError:
        raise fail("no-file", "is a folder", f"name the {kind} file in it") from None
    except OSError as error:
        raise fail("unreadable", f"cannot be read: {error.strerror}") from None
    if len(data) > LARGEST_FILE:
        raise fail("too-large", f"is larger than {LARGEST_FILE // 1_000_000} MB")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise fail("encoding", "is written in UTF-16", "save it as UTF-8")
    if b"\0" in data:
        raise fail("binary", "is no text", f"a {kind} file is plain text in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            [
                Fault(
                    f"{kind}.encoding",
                    "has a character that is not UTF-8",
                    file=path.name,
                    where=f"line {line}",
                    hint="save it as UTF-8",
                )
            ]
        ) from None
    return text


def _neighbours(path: Path, kind: str) -> str | None:
    suffix = ".toml" if kind == "project" else ".csv"
    folder = path.parent
    names = sorted(p.name for p in folder.glob(f"*{suffix}")) if folder.is_dir() else []
    if kind == "project":
        names = [name for name in names if _may_be_project(folder / name)]
    if names:
        return "in that folder: " + ", ".join(names[:5])
    return "bomplan new writes a project to start from" if kind == "project" else None


def _may_be_project(path: Path) -> bool:
    """Whether a TOML file describes a donor; one of a tool's own settings does not."""
    try:
        with path.open("rb") as stream:
            head = stream.read(_LOOKED_AT)
    except OSError:
        return False
    return re.search(rb"(?m)^\s*\[\s*donor\s*[.\]]", head) is not None
