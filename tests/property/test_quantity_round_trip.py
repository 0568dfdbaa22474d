"""Whatever is written is read back."""

from __future__ import annotations

import math
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from bomplan import quantities
from bomplan.errors import Fault
from bomplan.quantities import KINDS, QuantityError, parse, whole

UNITS = st.sampled_from([(kind.name, unit) for kind in KINDS.values() for unit in kind.units])
MAGNITUDES = st.floats(1e-9, 1e8)


@given(UNITS, MAGNITUDES, st.booleans(), st.booleans())
def test_format_then_parse_gives_the_same_float(
    named: tuple[str, quantities.Unit], number: float, comma: bool, grouped: bool
) -> None:
    name, unit = named
    value = number % 1.0 if name in ("fraction", "grade") else number
    if name == "temperature":
        value -= 273.15
    text = quantities.format(value, name, unit.symbol or None, decimal_comma=comma, grouped=grouped)
    found = float(parse(text, name, decimal_comma=comma))
    # The zero of °F lies elsewhere, so that a small °C figure loses its last digits.
    assert math.isclose(found, value, rel_tol=1e-12, abs_tol=1e-12)


@given(st.integers(0, 10**9), st.sampled_from(KINDS["mass"].units))
def test_whole_grams_survive_every_unit_of_mass(grams: int, unit: quantities.Unit) -> None:
    text = quantities.format(Fraction(grams, 1000), "mass", unit.symbol)
    assert whole(parse(text, "mass") * 1000) == grams


@given(st.integers(-(10**7), 10**7), st.sampled_from(KINDS["length"].units))
def test_whole_millimetres_survive_every_unit_of_length(
    millimetres: int, unit: quantities.Unit
) -> None:
    text = quantities.format(Fraction(millimetres, 1000), "length", unit.symbol)
    assert whole(parse(text, "length") * 1000) == millimetres


def refusal(text: str, kind: str, comma: bool = False) -> Fault | None:
    """Why the text is refused; None if it is read, and then as a value of sane size."""
    try:
        value = parse(text, kind, decimal_comma=comma)
    except QuantityError as error:
        return error.fault
    assert abs(value) <= quantities.LARGEST
    return None


@given(st.text(max_size=80), st.sampled_from(sorted(KINDS)))
def test_any_text_is_read_or_refused_in_words(text: str, kind: str) -> None:
    fault = refusal(text, kind)
    assert fault is None or (fault.code.startswith("quantity.") and fault.message)


NUMBER_LIKE = st.text(alphabet="0123456789.,'’ \u2009+-−/eE%kgmNC°:", max_size=20)


@given(NUMBER_LIKE, st.sampled_from(sorted(KINDS)), st.booleans())
def test_number_like_text_is_read_or_refused_in_words(text: str, kind: str, comma: bool) -> None:
    fault = refusal(text, kind, comma)
    assert fault is None or fault.allowed
