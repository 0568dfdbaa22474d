"""Temperatures that no weather has are a slip of the pen."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from bomplan.project.records import Condition


@pytest.mark.parametrize(("fine", "beyond"), [(-90.0, -90.1), (60.0, 60.1)])
def test_a_condition_has_the_weather_of_this_earth(fine: float, beyond: float) -> None:
    assert Condition(name="day", temperature=fine).temperature_c == fine
    with pytest.raises(ValidationError):
        Condition(name="day", temperature=beyond)
