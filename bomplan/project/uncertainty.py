"""How far the figures that nobody knows exactly may be off: the project's section uncertainty.

A figure that says its own spread in the project keeps it; these keys stand in for the rest.
"""

from __future__ import annotations

from pydantic import Field

from bomplan.project.record import Record
from bomplan.project.units import Fraction, Number


class Uncertainty(Record):
    """Half the width of what may be, around each figure; blank: by how the figure is known."""

    drag_area: Fraction | None = Field(None, ge=0, lt=0.9)
    rolling_resistance: Fraction | None = Field(None, ge=0, lt=0.9)
    driveline_loss: Fraction | None = Field(
        None, ge=0, lt=0.9, description="of what gears and axle lose under load"
    )
    load_12v: Fraction | None = Field(None, ge=0, lt=1)
    capacity: Fraction = Field(
        0.05, ge=0, lt=0.9, description="of the modules that come, against their data sheet"
    )
    resistance: Fraction = Field(0.20, ge=0, lt=0.9, description="inner, of those modules")
    temperature_kelvin: Number = Field(
        5.0, ge=0, le=40, description="colder or warmer than the condition says"
    )
