"""Reading and writing quantities, with pint as the oracle for the table of units."""

from __future__ import annotations

import math
from fractions import Fraction

import pint
import pytest

from bomplan import quantities
from bomplan.quantities import KINDS, QuantityError, parse, whole

# Our spelling = pint's, where they differ.
PINT_NAMES = {
    "in": "inch", "sq ft": "foot**2", "m²": "m**2", "cm²": "cm**2", "ft²": "foot**2",
    "in²": "inch**2", "mm²": "mm**2", "m³": "m**3", "cm³": "cm**3", "in³": "inch**3",
    "US gal": "US_liquid_gallon", "imp gal": "imperial_gallon", "l": "liter", "°": "degree",
    "%": "percent", "PS": "metric_horsepower", "hp": "horsepower", "N m": "newton*meter",
    "lb ft": "pound_force*foot", "lb in": "pound_force*inch", "lbf": "pound_force",
    "kgf": "kilogram_force", "°C": "degC", "°F": "degF", "K": "kelvin", "Ah": "ampere_hour",
    "mAh": "milliampere_hour", "km/h": "km/hour", "ft/s": "foot/second", "Ω": "ohm",
    "mΩ": "milliohm", "µΩ": "microohm", "kΩ": "kiloohm", "MΩ": "megaohm", "h": "hour",
    "rpm": "revolution/minute", "rev/s": "revolution/second", "lb": "pound", "oz": "ounce",
    "mi": "mile", "kcmil": "1000*pi/4*(0.001*inch)**2", "C": "coulomb", "t": "metric_ton",
}  # fmt: skip
BASES = {
    "mass": "kg", "length": "m", "distance": "m", "area": "m**2", "cross_section": "m**2",
    "volume": "m**3", "speed": "m/s", "angle": "radian", "power": "W", "energy": "J",
    "charge": "coulomb", "voltage": "V", "current": "A", "resistance": "ohm",
    "torque": "newton*meter", "force": "N", "pressure": "Pa", "temperature": "degC",
    "time": "s", "rotational_speed": "radian/s",
}  # fmt: skip


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("kind", "symbol"),
    [(kind, unit.symbol) for kind in BASES for unit in KINDS[kind].units],
)
def test_every_unit_agrees_with_pint(
    registry: pint.UnitRegistry[float], kind: str, symbol: str
) -> None:
    name = PINT_NAMES.get(symbol, symbol)
    if symbol == "kcmil":
        expected = 7.0 * 1000 * math.pi / 4 * (registry("0.001 inch").to("m").magnitude) ** 2
    else:
        expected = registry.Quantity(7.0, name).to(BASES[kind]).magnitude
    assert float(parse(f"7 {symbol}", kind)) == pytest.approx(expected, rel=1e-12)


def test_every_spelling_is_read_as_its_unit() -> None:
    for kind in KINDS.values():
        for unit in kind.units:
            for spelling in unit.spellings:
                assert kind.unit(spelling) is unit, (kind.name, spelling)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("2600 lb", "mass", Fraction(2600) * Fraction("0.45359237")),
        ("1180kg", "mass", 1180),
        ("1 180 kg", "mass", 1180),
        ("1\u2009180\u00a0kg", "mass", 1180),
        ("1\u202f234\u202f567 g", "mass", Fraction("1234.567")),
        ("1'200 kg", "mass", 1200),
        ("1.234,5 kg", "mass", Fraction("1234.5")),
        ("1,234.5 kg", "mass", Fraction("1234.5")),
        ("1,234,567 g", "mass", Fraction("1234.567")),
        ("1.234.567 g", "mass", Fraction("1234.567")),
        ("1 234,5 kg", "mass", Fraction("1234.5")),
        ("1e5 W", "power", 100_000),
        ("-380 mm", "length", Fraction("-0.38")),
        ("−380 mm", "length", Fraction("-0.38")),
        (".5 in", "length", Fraction("0.0127")),
        ("17 1/2 in", "length", Fraction("0.4445")),
        ("17-1/2 in", "length", Fraction("0.4445")),
        ('3/4"', "length", Fraction("0.01905")),
        ("50 mm2", "cross_section", Fraction(50, 10**6)),
        ("12 Nm", "torque", 12),
        ("12 N·m", "torque", 12),
        ("5 KW", "power", 5000),
        ("3 mohm", "resistance", Fraction(3, 1000)),
        ("2 Mohm", "resistance", 2_000_000),
        ("-20 °C", "temperature", -20),
        ("-4 °F", "temperature", -20),
        ("253.15 K", "temperature", -20),
        ("12 %", "fraction", Fraction(12, 100)),
        ("0.12", "fraction", Fraction(12, 100)),
        ("12 %", "grade", Fraction(12, 100)),
        ("1:8", "grade", Fraction(1, 8)),
        ("1 in 8", "grade", Fraction(1, 8)),
        ("-0.5", "number", Fraction(-1, 2)),
    ],
)
def test_reads_exactly(text: str, kind: str, expected: Fraction | int) -> None:
    assert parse(text, kind) == expected


@pytest.mark.parametrize(
    ("text", "area_mm2"),
    [
        ("4/0 AWG", 107.2),
        ("2/0 AWG", 67.43),
        ("1/0 AWG", 53.49),
        ("AWG 4", 21.15),
        ("10 AWG", 5.261),
    ],
)
def test_gauges_against_the_published_table(text: str, area_mm2: float) -> None:
    # ASTM B258, table of nominal cross-sections, rounded to four figures.
    assert float(parse(text, "cross_section")) * 1e6 == pytest.approx(area_mm2, rel=3e-4)


def test_a_slope_in_degrees_is_a_tangent() -> None:
    assert float(parse("45 °", "grade")) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("text", "kind", "code"),
    [
        ("5,5 kW", "power", "ambiguous-comma"),
        ("1,234 kg", "mass", "ambiguous-comma"),
        ("0,5 kg", "mass", "ambiguous-comma"),
        ("1 20 kg", "mass", "groups"),
        ("1.23,4.5 kg", "mass", "groups"),
        ("12.5.3 kg", "mass", "groups"),
        ("1180", "mass", "no-unit"),
        ("5 kW", "mass", "wrong-kind"),
        ("5 Ah", "current", "wrong-kind"),
        ("5 tons", "mass", "unknown-unit"),
        ("10 gal", "volume", "unknown-unit"),
        ("", "mass", "empty"),
        ("  ", "mass", "empty"),
        ("heavy", "mass", "no-number"),
        ("~5 kg", "mass", "no-number"),
        ("5/0 kg", "mass", "no-number"),
        ("NaN", "number", "not-finite"),
        ("-inf kg", "mass", "not-finite"),
        ("1e309 kg", "mass", "too-large"),
        ("9999999999999 kg", "mass", "too-large"),
        ("-5 kg", "mass", "negative"),
        ("15", "fraction", "out-of-range"),
        ("120 %", "fraction", "out-of-range"),
        ("90 °", "grade", "out-of-range"),
        ("9" * 100 + " kg", "mass", "too-long"),
        ("5 kg and a bit", "mass", "unknown-unit"),
        ("50 AWG", "cross_section", "unknown-unit"),
        ("٣ kg", "mass", "no-number"),
    ],
)
def test_refuses(text: str, kind: str, code: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    fault = caught.value.fault
    assert fault.code == f"quantity.{code}"
    assert fault.allowed


def test_a_declared_decimal_comma_is_read() -> None:
    assert parse("5,5 kW", "power", decimal_comma=True) == 5500
    assert parse("1.234,5 kg", "mass", decimal_comma=True) == Fraction("1234.5")
    assert parse("5.5 kW", "power", decimal_comma=True) == 5500
    with pytest.raises(QuantityError, match="point that may part"):
        parse("1.234 kg", "mass", decimal_comma=True)


def test_hint_names_the_nearest_unit_and_kind() -> None:
    with pytest.raises(QuantityError) as caught:
        parse("5 kilogramm", "mass")
    assert caught.value.fault.hint == 'did you mean "kilogram"?'
    with pytest.raises(QuantityError, match="is a power, where a mass stands"):
        parse("5 kW", "mass")


@pytest.mark.parametrize(
    ("value", "expected"), [("2.5", 3), ("-2.5", -3), ("2.49", 2), ("-0.4", 0), ("7", 7)]
)
def test_whole_rounds_halves_away_from_zero(value: str, expected: int) -> None:
    assert whole(Fraction(value)) == expected


def test_writes_for_people() -> None:
    assert quantities.format(1234567, "power", "W", grouped=True) == "1\u202f234\u202f567 W"
    assert quantities.format(Fraction("1179.340162"), "mass", "lb", digits=6) == "2600 lb"
    assert quantities.format(5500, "power", "kW", decimal_comma=True) == "5,5 kW"
    assert quantities.format(-10, "temperature", "°F") == "14 °F"
    assert quantities.format(Fraction(12, 100), "fraction", "%") == "12 %"
    with pytest.raises(ValueError, match="no unit of mass"):
        quantities.format(1, "mass", "W")
