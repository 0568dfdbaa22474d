"""The kinds of quantity and the units that each may be written in.

Every kind's base is the coherent SI unit, with two exceptions that the whole program
shares: temperatures are in °C, fractions and numbers are bare. Units that stand in the
table by definition (inch, pound, standard gravity, horsepower) follow NIST Special
Publication 811, 2008, appendix B.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache


@dataclass(frozen=True)
class Unit:
    """One unit: SI value = (number + ``offset``) * ``factor``."""

    symbol: str
    factor: Fraction
    spellings: tuple[str, ...] = ()
    offset: Fraction = Fraction(0)


@dataclass(frozen=True)
class Kind:
    """A kind of quantity with the units it may be written in, the base unit first."""

    name: str
    units: tuple[Unit, ...]
    signed: bool = False
    bare: bool = False
    examples: tuple[str, ...] = ()

    @property
    def base(self) -> Unit:
        return self.units[0]

    def unit(self, text: str) -> Unit | None:
        """The unit spelled so: exactly, or in other capitals where that is not ambiguous."""
        wanted = tidy_unit(text)
        spelled = [(u, tidy_unit(s)) for u in self.units for s in (u.symbol, *u.spellings)]
        for unit, spelling in spelled:
            if spelling == wanted:
                return unit
        loose = {unit.symbol: unit for unit, s in spelled if s.lower() == wanted.lower()}
        return next(iter(loose.values())) if len(loose) == 1 else None

    def allowed(self) -> str:
        """The units in words, for messages."""
        symbols = [unit.symbol for unit in self.units if unit.symbol]
        if self.name == "cross_section":
            symbols.append("AWG")
        if self.name == "grade":
            symbols.append("1:8")
        bare = ["a bare number"] if self.bare else []
        return ", ".join(bare + symbols)


@lru_cache(maxsize=4096)
def tidy_unit(text: str) -> str:
    """One spelling per unit: compatibility forms folded, dots and spaces between gone."""
    folded = unicodedata.normalize("NFKC", text).replace("º", "°").replace("^", "")
    folded = re.sub(r"[·⋅∙*]", " ", folded)
    return re.sub(r"\s+", "", folded)


_INCH = Fraction("0.0254")
_FOOT = Fraction("0.3048")
_MILE = Fraction("1609.344")
_POUND = Fraction("0.45359237")
_GRAVITY = Fraction("9.80665")
_POUND_FORCE = _POUND * _GRAVITY
_PI = Fraction(math.pi)
_MILLI = Fraction(1, 1000)


def _unit(symbol: str, factor: Fraction | int | str, *spellings: str) -> Unit:
    return Unit(symbol, Fraction(factor), spellings)


def _lengths(*symbols: str) -> tuple[Unit, ...]:
    every = {
        "m": _unit("m", 1, "metre", "metres", "meter", "meters"),
        "mm": _unit("mm", _MILLI),
        "cm": _unit("cm", Fraction(1, 100)),
        "km": _unit("km", 1000),
        "in": _unit("in", _INCH, "inch", "inches", '"', "″"),
        "ft": _unit("ft", _FOOT, "foot", "feet"),
        "yd": _unit("yd", 3 * _FOOT),
        "mi": _unit("mi", _MILE, "mile", "miles"),
    }
    return tuple(every[symbol] for symbol in symbols)


DEGREE = _unit("°", _PI / 180, "deg", "degree", "degrees")

_KINDS = (
    Kind(
        "mass",
        (
            _unit("kg", 1, "kilogram", "kilograms"),
            _unit("g", _MILLI, "gram", "grams"),
            _unit("t", 1000, "tonne", "tonnes"),
            _unit("lb", _POUND, "lbs", "pound", "pounds", "lbm"),
            _unit("oz", _POUND / 16, "ounce", "ounces"),
        ),
        examples=("1180 kg", "2600 lb"),
    ),
    Kind("length", _lengths("m", "mm", "cm", "in", "ft"), True, examples=("450 mm", "17.5 in")),
    Kind("distance", _lengths("m", "km", "mi", "ft", "yd"), True, examples=("70 km", "45 mi")),
    Kind(
        "area",
        (
            _unit("m²", 1, "sq m", "sqm"),
            _unit("cm²", Fraction(1, 10_000)),
            _unit("ft²", _FOOT**2, "sq ft", "sqft"),
            _unit("in²", _INCH**2, "sq in"),
        ),
        examples=("0.66 m²", "7.1 sq ft"),
    ),
    Kind(
        "cross_section",
        (
            _unit("m²", 1),
            _unit("mm²", Fraction(1, 10**6), "sq mm", "sqmm"),
            _unit("kcmil", 1000 * _PI / 4 * (_INCH / 1000) ** 2, "MCM"),
        ),
        examples=("50 mm²", "1/0 AWG"),
    ),
    Kind(
        "volume",
        (
            _unit("m³", 1),
            _unit("l", _MILLI, "L", "litre", "litres", "liter", "liters", "dm³"),
            _unit("cm³", Fraction(1, 10**6), "cc", "ml"),
            _unit("US gal", 231 * _INCH**3, "gal (US)", "gal US"),
            _unit("imp gal", Fraction("0.00454609"), "UK gal", "gal (imp)"),
            _unit("in³", _INCH**3, "cu in"),
        ),
        examples=("45 l", "12 US gal"),
    ),
    Kind(
        "speed",
        (
            _unit("m/s", 1),
            _unit("km/h", Fraction(10, 36), "kmh", "kph"),
            _unit("mph", _MILE / 3600, "mi/h"),
            _unit("ft/s", _FOOT),
        ),
        examples=("80 km/h", "45 mph"),
    ),
    Kind("angle", (_unit("rad", 1), DEGREE), True, examples=("7 °",)),
    # A grade in degrees is no multiple of anything: see parse.
    Kind("grade", (_unit("", 1), _unit("%", Fraction(1, 100), "percent"), DEGREE), True, True),
    Kind(
        "power",
        (
            _unit("W", 1, "watt", "watts"),
            _unit("kW", 1000),
            _unit("hp", 550 * _FOOT * _POUND_FORCE, "bhp"),
            _unit("PS", 75 * _GRAVITY),
        ),
        True,
        examples=("5.5 kW", "20 hp"),
    ),
    Kind(
        "energy",
        (
            _unit("J", 1),
            _unit("kJ", 1000),
            _unit("MJ", 10**6),
            _unit("Wh", 3600),
            _unit("kWh", 3_600_000),
        ),
        True,
        examples=("20 kWh",),
    ),
    Kind(
        "charge",
        (_unit("C", 1, "A s"), _unit("Ah", 3600), _unit("mAh", Fraction(36, 10))),
        examples=("100 Ah",),
    ),
    Kind(
        "voltage",
        (_unit("V", 1, "volt", "volts"), _unit("mV", _MILLI), _unit("kV", 1000)),
        True,
        examples=("144 V",),
    ),
    Kind(
        "current",
        (_unit("A", 1, "amp", "amps"), _unit("mA", _MILLI), _unit("kA", 1000)),
        True,
        examples=("16 A",),
    ),
    Kind(
        "resistance",
        (
            _unit("Ω", 1, "ohm", "ohms"),
            _unit("mΩ", _MILLI, "mohm", "milliohm"),
            _unit("µΩ", Fraction(1, 10**6), "uΩ", "uohm", "µohm", "microohm"),
            _unit("kΩ", 1000, "kohm"),
            _unit("MΩ", 10**6, "Mohm"),
        ),
        examples=("10 mΩ",),
    ),
    Kind(
        "torque",
        (
            _unit("N m", 1, "N-m"),
            _unit("lb ft", _POUND_FORCE * _FOOT, "lb-ft", "ft lb", "ft-lb", "lbf ft", "ft lbf"),
            _unit("lb in", _POUND_FORCE * _INCH, "lb-in", "in lb", "in-lb", "lbf in", "in lbf"),
        ),
        True,
        examples=("120 N m", "90 lb ft"),
    ),
    Kind(
        "force",
        (
            _unit("N", 1),
            _unit("kN", 1000),
            _unit("lbf", _POUND_FORCE),
            _unit("kgf", _GRAVITY, "kp"),
        ),
        True,
        examples=("2.5 kN",),
    ),
    # The two upper coefficients of a coast-down, F = A + B v + C v².
    Kind(
        "force_per_speed",
        (
            _unit("N s/m", 1, "N/(m/s)"),
            _unit("N/(km/h)", Fraction(36, 10), "N h/km"),
            _unit("lbf/mph", _POUND_FORCE * 3600 / _MILE),
        ),
        True,
        examples=("0.15 N/(km/h)", "0.19 lbf/mph"),
    ),
    Kind(
        "force_per_speed_squared",
        (
            _unit("N s²/m²", 1, "N/(m/s)²"),
            _unit("N/(km/h)²", Fraction(36, 10) ** 2, "N h²/km²"),
            _unit("lbf/mph²", _POUND_FORCE * (3600 / _MILE) ** 2),
        ),
        examples=("0.031 N/(km/h)²", "0.0043 lbf/mph²"),
    ),
    Kind(
        "pressure",
        (
            _unit("Pa", 1),
            _unit("kPa", 1000),
            _unit("bar", 100_000),
            _unit("mbar", 100, "hPa"),
            _unit("psi", _POUND_FORCE / _INCH**2),
        ),
        examples=("2.4 bar", "35 psi"),
    ),
    Kind(
        "temperature",
        (
            _unit("°C", 1, "C", "degC", "deg C"),
            Unit("°F", Fraction(5, 9), ("F", "degF", "deg F"), Fraction(-32)),
            Unit("K", Fraction(1), (), Fraction("-273.15")),
        ),
        True,
        examples=("-20 °C", "14 °F"),
    ),
    Kind(
        "time",
        (
            _unit("s", 1, "sec", "second", "seconds"),
            _unit("ms", _MILLI),
            _unit("min", 60, "minute", "minutes"),
            _unit("h", 3600, "hr", "hour", "hours"),
        ),
        examples=("30 min", "10 h"),
    ),
    Kind("fraction", (_unit("", 1), _unit("%", Fraction(1, 100), "percent")), False, True),
    Kind("number", (_unit("", 1),), True, True),
    Kind(
        "rotational_speed",
        (
            _unit("rad/s", 1),
            _unit("rpm", _PI / 30, "rev/min", "r/min"),
            _unit("rev/s", 2 * _PI, "r/s"),
        ),
        True,
        examples=("3500 rpm",),
    ),
)

KINDS: dict[str, Kind] = {kind.name: kind for kind in _KINDS}
