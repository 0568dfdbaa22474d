"""The constraint solver, loaded without the library of tables that its package asks for.

``ortools`` imports pandas for ways of calling it by whole columns, which nothing here uses.
Loading pandas takes several times as long as the solver itself, and a small search is over in
little more. So a stand-in takes its place while the solver is loaded. As long as nobody has loaded
pandas no object can be of its classes, which is all that the solver asks; whoever loads it, before
or after, gets pandas itself, and so does the solver from then on.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType
from typing import Any, Final

_NAME: Final = "pandas"


class _NobodysColumn:
    """Stands for a class of pandas while it is not loaded: nothing is one of these."""


class _StandIn(ModuleType):
    """Answers as pandas does while nobody has loaded it; hands on to pandas from then on."""

    def __getattr__(self, name: str) -> Any:
        loaded = sys.modules.get(_NAME, self)
        if loaded is self and name in ("Index", "Series"):
            return _NobodysColumn
        if loaded is self:
            # Another version of the solver's package asks for more: then it gets the real one.
            sys.modules.pop(_NAME, None)
            loaded = import_module(_NAME)
        return getattr(loaded, name)


@contextmanager
def _pandas_put_off() -> Iterator[None]:
    """Imports of pandas get the stand-in, unless it is loaded already."""
    if _NAME in sys.modules:
        yield
        return
    stand_in = _StandIn(_NAME)
    sys.modules[_NAME] = stand_in
    try:
        yield
    finally:
        if sys.modules.get(_NAME) is stand_in:
            del sys.modules[_NAME]


with _pandas_put_off():
    from ortools.sat.python import cp_model

__all__ = ["cp_model"]
