"""Money that the solver's integers do not hold is told in words."""

from __future__ import annotations

from fractions import Fraction

import pytest
from oracle.small_cases import make_case

from bomplan.errors import InputError
from bomplan.planner import find_plan


def test_prices_of_a_mistyped_rate_are_refused_in_words() -> None:
    case = make_case(8)
    foreign = "TRY"
    rates = {code: rate * 10**9 for code, rate in case.project.rates.items()}
    rates[case.project.currency] = Fraction(10**9)
    project = case.project.model_copy(update={"currency": foreign, "rates": rates})
    with pytest.raises(InputError, match=r"money\.too-large"):
        find_plan(project, case.catalog)
