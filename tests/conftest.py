"""Lets tests of every kind import the sample vehicles and oracles that stand beside it."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

sys.path.insert(0, str(Path(__file__).parent))

from lanes import PLANS_FOLDER

# How long a case takes tells nothing on a busy machine.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


def pytest_configure(config: pytest.Config) -> None:
    """Under several workers, tests of one file share a process and the plans that it keeps."""
    if getattr(config.option, "dist", None) == "load":
        config.option.dist = "loadfile"
    if PLANS_FOLDER not in os.environ:
        folder = tempfile.mkdtemp(prefix="bomplan-plans-")
        os.environ[PLANS_FOLDER] = folder
        config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
        config.add_cleanup(lambda: os.environ.pop(PLANS_FOLDER, None))
