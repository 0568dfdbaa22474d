"""Quantities as people write them, read strictly over a fixed table of units.

``parse("2600 lb", "mass")`` gives the exact SI value as a :class:`fractions.Fraction`;
:func:`format` writes one back. Nothing is guessed: a lone comma, a missing unit or a unit
of another kind is refused with a :class:`QuantityError` that says what is allowed.
"""

from bomplan.quantities.kinds import KINDS, Kind, Unit
from bomplan.quantities.text import (
    LARGEST,
    LONGEST_TEXT,
    QuantityError,
    a_kind,
    format,
    gauge_area_m2,
    no_unit,
    parse,
    whole,
)

__all__ = [
    "KINDS",
    "LARGEST",
    "LONGEST_TEXT",
    "Kind",
    "QuantityError",
    "Unit",
    "a_kind",
    "format",
    "gauge_area_m2",
    "no_unit",
    "parse",
    "whole",
]
