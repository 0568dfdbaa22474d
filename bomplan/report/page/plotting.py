"""Loads the plot library so that it neither writes, nor runs anything, nor looks for fonts.

Left to itself, matplotlib makes folders in the reader's home, asks the system for every font,
which takes seconds on many a machine, and keeps a list of them there. Our charts are measured
with the font that comes with it, and drawn with the page's. Only for a process of our own: in
a program of somebody else's, fonts of the system would be missing from their plots.
"""

from __future__ import annotations

import importlib.util
import logging
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any


def load_alone() -> None:
    """Load what charts need of matplotlib; nothing if somebody has loaded it before.

    Where a later version goes other ways, it loads as it does by itself.
    """
    spec = importlib.util.find_spec("matplotlib")
    if "matplotlib.font_manager" in sys.modules or spec is None or spec.origin is None:
        return
    data = Path(spec.origin).parent / "mpl-data"
    walk = os.walk

    def within(top: Any, *more: Any, **named: Any) -> Any:
        return walk(top, *more, **named) if Path(top).is_relative_to(data) else iter(())

    def refuse(*_: Any, **__: Any) -> None:
        raise OSError("not asked for")

    with ExitStack() as for_now:
        enter = for_now.enter_context
        enter(_setting("MATPLOTLIBRC", str(data / "matplotlibrc")))
        enter(_silent("matplotlib.font_manager"))
        import matplotlib
        from matplotlib import cbook

        enter(_instead(matplotlib, "get_cachedir", lambda: os.devnull))
        enter(_instead(cbook, "_lock_path", refuse))
        enter(_instead(subprocess, "check_output", refuse))
        enter(_instead(os, "walk", within))
        import matplotlib.backends.backend_svg
        import matplotlib.figure


@contextmanager
def _instead(owner: Any, name: str, value: Any) -> Iterator[None]:
    kept = getattr(owner, name, None)
    if kept is None:
        yield
        return
    setattr(owner, name, value)
    try:
        yield
    finally:
        setattr(owner, name, kept)


@contextmanager
def _setting(name: str, value: str) -> Iterator[None]:
    kept = os.environ.get(name)
    os.environ[name] = value
    try:
        yield
    finally:
        if kept is None:
            del os.environ[name]
        else:
            os.environ[name] = kept


@contextmanager
def _silent(name: str) -> Iterator[None]:
    """Without what it says of a list of fonts that it could not keep."""
    log = logging.getLogger(name)
    kept = log.level
    log.setLevel(logging.ERROR)
    try:
        yield
    finally:
        log.setLevel(kept)
