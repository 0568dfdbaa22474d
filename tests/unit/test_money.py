"""Money: whole smallest units, exact text both ways, rounding up between currencies."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from bomplan.errors import InputError
from bomplan.money import (
    CURRENCY_DECIMALS,
    convert,
    currency_decimals,
    format_amount,
    format_money,
    parse_money,
)


@pytest.mark.parametrize(
    ("text", "currency", "amount"),
    [
        ("0", "USD", 0),
        ("12.5", "USD", 1250),
        ("12.50", "EUR", 1250),
        (" 12.500 ", "EUR", 1250),
        ("0.07", "GBP", 7),
        ("1250", "JPY", 1250),
        ("1250.0", "KRW", 1250),
        ("1.234", "TND", 1234),
        ("999999999999999.99", "USD", 99_999_999_999_999_999),
    ],
)
def test_amounts_are_read_exactly(text: str, currency: str, amount: int) -> None:
    assert parse_money(text, currency) == amount


@pytest.mark.parametrize(
    ("text", "currency", "code"),
    [
        ("12.345", "USD", "too-many-decimals"),
        ("12.5", "JPY", "too-many-decimals"),
        ("1.2345", "KWD", "too-many-decimals"),
        ("-1", "USD", "not-an-amount"),
        ("+1", "USD", "not-an-amount"),
        ("nan", "USD", "not-an-amount"),
        ("inf", "USD", "not-an-amount"),
        ("1e309", "USD", "not-an-amount"),
        ("1e3", "USD", "not-an-amount"),
        ("1,250.00", "USD", "not-an-amount"),
        ("1_000", "USD", "not-an-amount"),
        ("$5", "USD", "not-an-amount"),
        ("", "USD", "not-an-amount"),
        (".5", "USD", "not-an-amount"),
        ("5.", "USD", "not-an-amount"),
        ("١٢", "USD", "not-an-amount"),
        ("9" * 16, "USD", "not-an-amount"),
        ("5", "USX", "unknown-currency"),
        ("5", "usd", "unknown-currency"),
    ],
)
def test_what_is_no_amount_is_refused(text: str, currency: str, code: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_money(text, currency)
    assert [fault.code for fault in caught.value.faults] == [f"money.{code}"]


def test_an_unknown_currency_gets_the_nearest() -> None:
    with pytest.raises(InputError, match=r"did you mean USD\?"):
        currency_decimals("usd")


@pytest.mark.parametrize(
    ("currency", "decimals"),
    # ISO 4217 minor units, from memory
    [
        *(("USD", 2), ("EUR", 2), ("GBP", 2), ("CHF", 2), ("CZK", 2)),
        *(("JPY", 0), ("KRW", 0), ("TND", 3), ("KWD", 3), ("BHD", 3)),
    ],
)
def test_decimals_of_currencies(currency: str, decimals: int) -> None:
    assert currency_decimals(currency) == decimals


def test_every_currency_writes_what_it_reads() -> None:
    for currency, decimals in CURRENCY_DECIMALS.items():
        amount = 7 * 10**decimals + 5
        assert parse_money(format_amount(amount, currency), currency) == amount


@pytest.mark.parametrize(
    ("amount", "currency", "text"),
    [
        (1250, "USD", "12.50 USD"),
        (5, "USD", "0.05 USD"),
        (-5, "USD", "-0.05 USD"),
        (1250, "JPY", "1250 JPY"),
        (1250, "KWD", "1.250 KWD"),
    ],
)
def test_amounts_are_written(amount: int, currency: str, text: str) -> None:
    assert format_money(amount, currency) == text


@pytest.mark.parametrize(
    ("amount", "rate", "source", "target", "result"),
    [
        (100, Fraction(1), "USD", "USD", 100),
        (10_000, Decimal("1.08"), "EUR", "USD", 10_800),
        (1, Decimal("1.08"), "EUR", "USD", 2),
        (3, Fraction(1, 3), "USD", "EUR", 1),
        (100, 150, "USD", "JPY", 150),
        (101, 150, "USD", "JPY", 152),
        (100, Decimal("0.31"), "USD", "KWD", 310),
        (0, Decimal("7.3"), "USD", "EUR", 0),
    ],
)
def test_conversion_rounds_up(
    amount: int, rate: Fraction | Decimal | int, source: str, target: str, result: int
) -> None:
    assert convert(amount, rate, source, target) == result


@pytest.mark.parametrize("rate", [0, -1, Decimal("NaN"), Decimal("Infinity"), Decimal("-0.5")])
def test_an_impossible_rate_is_refused(rate: Decimal | int) -> None:
    with pytest.raises(InputError, match=r"money\.rate"):
        convert(100, rate, "USD", "EUR")


def test_a_float_rate_is_refused() -> None:
    with pytest.raises(TypeError, match="never a float"):
        convert(100, 1.1, "USD", "EUR")  # type: ignore[arg-type]
