"""Words for the state of pack and weather in which a range holds."""

from __future__ import annotations

from typing import Final

from bomplan.design.driving import RangeState

STATES: Final = {"new": "pack new", "worn": "pack worn", "coldest": "coldest day"}


def state_words(one: RangeState) -> str:
    """The state of pack and weather in which a range holds."""
    worn = "" if one.state != "coldest" or not one.aged else ", pack worn"
    heater = f", heater {one.heater_w:.0f} W" if one.heater_w else ""
    return f"{STATES[one.state]}{worn}, {one.temperature_c:.0f} °C{heater}"
