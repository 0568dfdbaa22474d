"""Money loses nothing: text and back, sums, conversion there and back."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from bomplan.money import CURRENCY_DECIMALS, convert, format_amount, parse_money

CURRENCIES = st.sampled_from(sorted(CURRENCY_DECIMALS))
AMOUNTS = st.integers(min_value=0, max_value=10**14)
RATES = st.fractions(min_value=Fraction(1, 10_000), max_value=10_000, max_denominator=10**6)


@given(amount=AMOUNTS, currency=CURRENCIES)
def test_text_and_back(amount: int, currency: str) -> None:
    assert parse_money(format_amount(amount, currency), currency) == amount


@given(amount=AMOUNTS, rate=RATES, source=CURRENCIES, target=CURRENCIES)
def test_conversion_is_the_least_sum_that_suffices(
    amount: int, rate: Fraction, source: str, target: str
) -> None:
    result = convert(amount, rate, source, target)
    exact = Fraction(amount, 10 ** CURRENCY_DECIMALS[source]) * rate
    unit = Fraction(1, 10 ** CURRENCY_DECIMALS[target])
    assert result * unit >= exact
    assert (result - 1) * unit < exact or result == 0


@given(amount=AMOUNTS, rate=RATES, source=CURRENCIES, target=CURRENCIES)
def test_there_and_back_never_gains(amount: int, rate: Fraction, source: str, target: str) -> None:
    there = convert(amount, rate, source, target)
    assert convert(there, 1 / rate, target, source) >= amount


@given(first=AMOUNTS, second=AMOUNTS, rate=RATES)
def test_converting_apart_never_costs_less_than_together(
    first: int, second: int, rate: Fraction
) -> None:
    apart = convert(first, rate, "EUR", "USD") + convert(second, rate, "EUR", "USD")
    assert 0 <= apart - convert(first + second, rate, "EUR", "USD") <= 1
