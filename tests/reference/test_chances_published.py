"""Intervals and influences against closed forms and published examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bomplan.design.uncertain import UncertainInput, latin_hypercube
from bomplan.outlook.chances import first_order, interval

DRAWS = 2_000


@pytest.mark.parametrize(
    ("kept", "draws", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611),
     (1, 29, 0.0061, 0.1718)],
)  # fmt: skip
def test_the_interval_of_wilson(kept: int, draws: int, low: float, high: float) -> None:
    """R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (from memory)."""
    found = interval(kept, draws)
    assert found == pytest.approx((low, high), abs=6e-5)


def test_all_or_none_kept_leaves_room() -> None:
    low, high = interval(2_000, 2_000)
    assert high == 1.0
    assert 0.997 < low < 1.0


def test_a_linear_model_has_its_closed_form_shares() -> None:
    """y = sum of c x, x even within +-h: the variance of each term is (c h)^2 / 3."""
    halves, weights = np.array([1.0, 2.0, 0.5, 3.0]), np.array([4.0, 1.0, 2.0, 0.0])
    inputs = [UncertainInput("capacity", half, "", "class") for half in halves]
    values = latin_hypercube(inputs, DRAWS, 7)
    answer = values @ weights
    assert float(answer.var()) == pytest.approx(
        float(((weights * halves) ** 2).sum() / 3), rel=0.02
    )
    terms = (weights * halves) ** 2
    for (share, error), expected in zip(
        first_order(values, answer, 7), terms / terms.sum(), strict=True
    ):
        assert share == pytest.approx(expected, abs=max(0.03, error))


def test_the_function_of_ishigami_and_homma() -> None:
    """T. Ishigami and T. Homma, ISUMA 1990; a = 7, b = 0.1 on +-pi.

    First-order variances a^2/8, (1 + b pi^4 / 5)^2 / 2 and 0, of a whole of
    a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2.
    """
    a, b, pi = 7.0, 0.1, math.pi
    inputs = [UncertainInput("capacity", pi, "", "class")] * 3
    values = latin_hypercube(inputs, DRAWS, 3)
    x, y, z = values.T
    answer = np.sin(x) + a * np.sin(y) ** 2 + b * z**4 * np.sin(x)
    whole = a**2 / 8 + b * pi**4 / 5 + b**2 * pi**8 / 18 + 0.5
    expected = ((1 + b * pi**4 / 5) ** 2 / 2 / whole, a**2 / 8 / whole, 0.0)
    assert expected == pytest.approx((0.3139, 0.4424, 0.0), abs=1e-4)
    for (share, error), published in zip(first_order(values, answer, 3), expected, strict=True):
        assert share == pytest.approx(published, abs=max(0.04, error))


def test_draws_are_evenly_spread_and_by_seed() -> None:
    inputs = [
        UncertainInput("capacity", 0.2, "", "class"),
        UncertainInput("temperature", 5, "K", ""),
    ]
    values = latin_hypercube(inputs, DRAWS, 1)
    for column, half in zip(values.T, (0.2, 5.0), strict=True):
        # One draw in each of 2,000 equal slices: that is what a Latin hypercube is.
        slices = np.floor((column / half + 1) / 2 * DRAWS).astype(int)
        assert sorted(slices) == list(range(DRAWS))
    assert np.array_equal(values, latin_hypercube(inputs, DRAWS, 1))
    assert not np.array_equal(values, latin_hypercube(inputs, DRAWS, 2))


def test_an_answer_that_never_changes_is_decided_by_nothing() -> None:
    inputs = [UncertainInput("capacity", 1.0, "", "class")]
    values = latin_hypercube(inputs, DRAWS, 1)
    assert first_order(values, np.ones(DRAWS), 1) == [(0.0, 0.0)]
