"""``run.json``: what may differ between two runs that give the same plan."""

from __future__ import annotations

import datetime as dt
import importlib.metadata
import os
import platform
import sys
import time
from pathlib import Path
from typing import Any, Final

from bomplan import __version__

_PACKAGES: Final = ("ortools", "numpy", "pandas", "pydantic", "XlsxWriter", "openpyxl")


class Clock:
    """Started with the command; gives the record at its end."""

    def __init__(self) -> None:
        self._started = dt.datetime.now(dt.UTC)
        self._begun = time.monotonic()

    def record(
        self,
        *,
        project: str,
        folder: Path,
        ledger: Path,
        workers: int,
        stopped: bool,
        exit_status: int,
    ) -> dict[str, Any]:
        """Clock, seconds, paths and versions of this run."""
        return {
            "format": "bomplan-run",
            "version": 1,
            "started": self._started.isoformat(timespec="seconds"),
            "seconds": round(time.monotonic() - self._begun, 3),
            "project": project,
            "folder": str(folder),
            # From the folder of this file, so that both may move together.
            "ledger": Path(os.path.relpath(ledger.resolve(), folder.resolve())).as_posix(),
            "workers": workers,
            "stopped": stopped,
            "exit_status": exit_status,
            "arguments": sys.argv[1:],
            "bomplan": __version__,
            "python": platform.python_version(),
            "system": f"{platform.system()} {platform.machine()}",
            "packages": {name: _installed(name) for name in _PACKAGES},
        }


def _installed(name: str) -> str | None:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return None
