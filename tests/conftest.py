"""Lets tests of every kind import the sample vehicles and oracles that stand beside it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


def pytest_configure(config: pytest.Config) -> None:
    """Under several workers, tests of one group (the shipped examples) share a process."""
    if getattr(config.option, "dist", None) == "load":
        config.option.dist = "loadgroup"
