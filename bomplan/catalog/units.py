"""Figures of other people's tables, in their units, as the numbers that our columns hold."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import Final

from bomplan import quantities
from bomplan.catalog.cells import Problem
from bomplan.catalog.columns import Column
from bomplan.quantities import KINDS, QuantityError

# The unit that stands in our headers = the kind of quantity, and how the kind spells it.
_UNITS: Final[dict[str, tuple[str, str]]] = {
    "kg": ("mass", "kg"),
    "mm": ("length", "mm"),
    "mm2": ("cross_section", "mm²"),
    "l": ("volume", "l"),
    "A": ("current", "A"),
    "kA": ("current", "kA"),
    "Ah": ("charge", "Ah"),
    "V": ("voltage", "V"),
    "W": ("power", "W"),
    "kW": ("power", "kW"),
    "J": ("energy", "J"),
    "N m": ("torque", "N m"),
    "C": ("temperature", "°C"),
    "s": ("time", "s"),
    "h": ("time", "h"),
    "rpm": ("rotational_speed", "rpm"),
    "ohm": ("resistance", "Ω"),
    "mohm": ("resistance", "mΩ"),
    "uohm": ("resistance", "µΩ"),
}


# What the reader says of a number with a unit beside it.
_HAS_UNIT: Final = ("quantity.wrong-kind", "quantity.unknown-unit")


def unit_allowed(column: Column, unit: str) -> bool:
    """Whether figures in ``unit`` can be turned into those of ``column``."""
    kind = _UNITS.get(column.unit)
    return unit == column.unit or (kind is not None and KINDS[kind[0]].unit(unit) is not None)


def units_for(column: Column) -> str:
    """The units that ``unit_allowed`` accepts, in words."""
    kind = _UNITS.get(column.unit)
    if kind is None:
        return column.unit or "none: the column has no unit"
    return KINDS[kind[0]].allowed()


def to_column(text: str, column: Column, unit: str, decimal_comma: bool) -> str | Problem:
    """``text`` as the decimal number that ``column`` holds.

    ``unit`` is what the source's header says; empty where it says nothing. A unit beside
    the number counts more. Whole millimetres are rounded up: a part must fit.
    """
    kind, own = _UNITS.get(column.unit, ("number", ""))
    try:
        try:
            value = quantities.parse(text, "number", decimal_comma=decimal_comma)
            bare = True
        except QuantityError as error:
            if kind == "number" or error.fault.code not in _HAS_UNIT:
                raise
            value = quantities.parse(text, kind, decimal_comma=decimal_comma)
            bare = False
        if bare and unit and unit != column.unit:
            value = quantities.parse(f"{_decimal(value)} {unit}", kind)
            bare = False
    except QuantityError as error:
        return Problem("not-a-figure", error.fault.message, error.fault.hint)
    if not bare:
        target = KINDS[kind].unit(own)
        assert target is not None
        value = value / target.factor - target.offset
    if column.type == "integer":
        return str(math.ceil(value))
    shown = _decimal(value)
    # Prices are written with their cents.
    return f"{shown}0" if column.type == "money" and shown[-2:-1] == "." else shown


def _decimal(value: Fraction) -> str:
    """Exact where the decimals end within twelve places, else to nine significant digits."""
    scaled = value * 10**12
    if scaled.denominator == 1:
        return format(Decimal(scaled.numerator).scaleb(-12).normalize(), "f")
    return format(Decimal(f"{float(value):.9g}"), "f")
