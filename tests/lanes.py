"""How much of a test belongs to which lane: the fast suite takes a share, the slow lane all.

A property is held against a share of its generated inputs in the fast suite; ``.ci/slow`` sets
``BOMPLAN_TESTS=full`` and runs the same test with all of them. Of a list of cases the first few
are fast and the others are marked slow.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Any

import pytest

# Where the processes of one run keep plans for each other (tests/shipped_examples.py).
PLANS_FOLDER = "BOMPLAN_TEST_PLANS"
FULL = os.environ.get("BOMPLAN_TESTS") == "full"


def examples(fast: int, full: int) -> int:
    """How many generated inputs: ``fast`` of them in the fast suite, else ``full``."""
    return full if FULL else fast


def first_fast(values: Iterable[Any], number: int) -> list[Any]:
    """The values as parameters: all but the first ``number`` belong to the slow lane."""
    found = list(values)
    return [
        *found[:number],
        *(pytest.param(value, marks=pytest.mark.slow) for value in found[number:]),
    ]
