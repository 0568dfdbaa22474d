"""The one array type of the physics: float64, SI, one value per second or per point."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from itertools import pairwise
from typing import Any, Self

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

GRAVITY_M_S2 = 9.80665  # standard acceleration of free fall, ISO 80000-3


def frozen(values: object) -> FloatArray:
    """``values`` as a float64 array that nobody can write to."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


class Columns:
    """A data class whose fields are arrays over the same things, one value for each of them."""

    def some(self, places: IntArray) -> Self:
        """Some of the things."""
        return self._each(lambda values: values[places])

    def beside(self) -> Self:
        """As a column, to be held against a row."""
        return self._each(lambda values: values[:, None])

    def repeated(self, times: int) -> Self:
        """Every one of them so many times."""
        return self._each(lambda values: np.repeat(values, times))

    def _each(self, change: Callable[[FloatArray], FloatArray]) -> Self:
        mine: Any = self
        return type(self)(*[change(getattr(self, one.name)) for one in fields(mine)])


def log_interpolated(seconds: float, ratings: tuple[tuple[float, float], ...]) -> float:
    """The greatest value that may be held for ``seconds``, from rated points.

    ``ratings`` holds (seconds, value) pairs, seconds rising, the last perhaps ``inf``.
    Up to the first point its value holds; between two points the value follows the power
    law through both (a straight line on the log-log paper on which data sheets print such
    curves: common practice); after the last finite point the last value holds.
    """
    if not ratings:
        return float("inf")
    if seconds <= ratings[0][0]:
        return ratings[0][1]
    for (earlier, high), (later, low) in pairwise(ratings):
        if seconds <= later:
            if seconds == later or later == float("inf") or low <= 0 or high <= 0:
                return low
            share = np.log(seconds / earlier) / np.log(later / earlier)
            return float(high * (low / high) ** share)
    return ratings[-1][1]
