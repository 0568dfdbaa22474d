"""Rows that a judgement cannot tell apart, found by watching which columns it reads.

A rule or a joint is a pure function of a few columns of a row. Rows with equal values in every
column that it reads are of one *kind*: judged once, by the first of them. Which columns these
are is not declared anywhere, so that it cannot be declared wrongly: the row that is judged stands
behind a watch, and whatever is read of it counts from then on. A judgement that turns out to read
a further column is made again with rows told apart by that too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part

IntArray = npt.NDArray[np.int64]
Column = tuple[str, str]  # "figures" with a column's name, or "row" with an attribute's
Told = TypeVar("Told")


class _Name(str):
    """A row's id. Written into words it decides nothing; whatever else is done with it is noted."""

    __slots__ = ("_read",)
    _read: dict[Column, None]

    def __getattribute__(self, name: str) -> Any:
        if name not in ("_read", "__format__", "__str__", "__class__"):
            object.__getattribute__(self, "_read")["row", "id"] = None
        return object.__getattribute__(self, name)


def _noting(name: str) -> Callable[..., Any]:
    """The string's own method of this name, which notes that it was asked."""

    def noted(self: _Name, *args: object) -> Any:
        self._read["row", "id"] = None
        return getattr(str, name)(self, *args)

    return noted


# Python looks these up on the class, past ``__getattribute__``.
_ASKED = (
    "hash", "eq", "ne", "lt", "le", "gt", "ge", "contains", "len", "add", "mul", "getitem", "iter",
)  # fmt: skip
for _method in _ASKED:
    setattr(_Name, f"__{_method}__", _noting(f"__{_method}__"))


class _Watched:
    """Stands for a row and notes every column that is read of it."""

    __slots__ = ("_part", "_read")

    def __init__(self, part: Part, read: dict[Column, None]) -> None:
        self._part, self._read = part, read

    @property
    def id(self) -> str:
        name = _Name(self._part.id)
        object.__setattr__(name, "_read", self._read)
        return name

    @property
    def family(self) -> str:
        return self._part.family  # the same in every row that is judged together

    def has(self, column: str) -> bool:
        self._read["figures", column] = None
        return self._part.has(column)

    def number(self, column: str) -> float:
        self._read["figures", column] = None
        return self._part.number(column)

    def number_or(self, column: str, default: float) -> float:
        self._read["figures", column] = None
        return self._part.number_or(column, default)

    def text(self, column: str) -> str:
        self._read["figures", column] = None
        return self._part.text(column)

    def flag(self, column: str) -> bool:
        self._read["figures", column] = None
        return self._part.flag(column)

    def __getattr__(self, name: str) -> Any:
        self._read["row", name] = None
        return getattr(self._part, name)


@dataclass(frozen=True, eq=False)
class Kinds:
    """The kind of each row, and for each kind its rows' number and the first of them."""

    of: IntArray
    firsts: tuple[int, ...]
    counts: tuple[int, ...]


class Columns:
    """What one judgement has read of its rows so far, and the kinds that follow from it."""

    def __init__(self) -> None:
        self._read: dict[Column, None] = {}
        self._names: tuple[Column, ...] = ()
        self._values: dict[str, tuple[object, ...]] = {}
        # By the identity of a list of rows, which is kept here so that no other takes it.
        self._kinds: dict[int, tuple[Sequence[Part], Kinds]] = {}

    def watched(self, part: Part) -> Part:
        """The row behind a watch, to be judged in its place."""
        return cast(Part, _Watched(part, self._read))

    def kinds(self, parts: Sequence[Part]) -> Kinds:
        """The rows by kind, as far as is known by now; ``parts`` must not change afterwards."""
        if len(self._names) != len(self._read):
            self._names = tuple(sorted(self._read))
            self._values.clear()
            self._kinds.clear()
        known = self._kinds.get(id(parts))
        if known is None:
            known = parts, self._found(parts)
            self._kinds[id(parts)] = known
        return known[1]

    def _found(self, parts: Sequence[Part]) -> Kinds:
        numbers: dict[tuple[object, ...], int] = {}
        of = [numbers.setdefault(self._values_of(part), len(numbers)) for part in parts]
        firsts: list[int] = []
        counts = [0] * len(numbers)
        for row, kind in enumerate(of):
            if kind == len(firsts):
                firsts.append(row)
            counts[kind] += 1
        return Kinds(np.array(of, dtype=np.int64), tuple(firsts), tuple(counts))

    def _values_of(self, part: Part) -> tuple[object, ...]:
        known = self._values.get(part.id)
        if known is None:
            known = tuple(_value(part, column) for column in self._names)
            self._values[part.id] = known
        return known

    @property
    def settled(self) -> bool:
        """Whether nothing was read that the kinds given last do not go by."""
        return len(self._names) == len(self._read)


def by_kind(
    columns: Columns, parts: Sequence[Part], judge: Callable[[Part], Told]
) -> tuple[Kinds, list[Told]]:
    """What ``judge`` tells of each kind of these rows."""
    while True:
        kinds = columns.kinds(parts)
        told = [judge(columns.watched(parts[first])) for first in kinds.firsts]
        if columns.settled:
            return kinds, told


def _value(part: Part, column: Column) -> object:
    where, name = column
    value = part.figures.get(name) if where == "figures" else getattr(part, name)
    # 1, 1.0 and True are equal, and are not the same to a rule.
    return (value.__class__, value) if isinstance(value, (int, float, str)) else _whole(value)


def _whole(value: object) -> object:
    return value if value is None else (value.__class__, repr(value))


__all__ = ["Columns", "Kinds", "by_kind"]
