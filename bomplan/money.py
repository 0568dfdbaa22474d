"""Money as whole numbers of a currency's smallest unit; no binary fraction ever holds a sum.

How many decimals a currency has is ISO 4217:2015 (list one, "minor unit"); the table holds
the currencies that catalogues and projects are written in, and refuses any other by name.
"""

from __future__ import annotations

import difflib
import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

from bomplan.errors import Fault, InputError

# ISO 4217 minor units, from memory of list one.
CURRENCY_DECIMALS: Final[dict[str, int]] = {
    "AUD": 2,
    "BHD": 3,
    "BRL": 2,
    "CAD": 2,
    "CHF": 2,
    "CLP": 0,
    "CNY": 2,
    "CZK": 2,
    "DKK": 2,
    "EUR": 2,
    "GBP": 2,
    "HKD": 2,
    "HUF": 2,
    "INR": 2,
    "ISK": 0,
    "JOD": 3,
    "JPY": 0,
    "KRW": 0,
    "KWD": 3,
    "MXN": 2,
    "NOK": 2,
    "NZD": 2,
    "OMR": 3,
    "PLN": 2,
    "RON": 2,
    "SEK": 2,
    "SGD": 2,
    "TND": 3,
    "TRY": 2,
    "USD": 2,
    "ZAR": 2,
}

# Fifteen digits before the point: far beyond any parts list, and 1e309 never gets near.
_AMOUNT = re.compile(r"(?P<whole>\d{1,15})(?:\.(?P<part>\d+))?", re.ASCII)


def currency_decimals(currency: str) -> int:
    """Decimals of ``currency`` (ISO 4217 code in capitals).

    Raises InputError (``money.unknown-currency``) for a code the table does not hold.
    """
    try:
        return CURRENCY_DECIMALS[currency]
    except KeyError:
        raise InputError([_unknown_currency(currency)]) from None


def parse_money(text: str, currency: str) -> int:
    """Decimal text such as ``"12.5"`` as a whole number of smallest units, exactly.

    Digits with at most one decimal point and no more decimals than the currency has
    (trailing zeros beyond that are accepted, for they say nothing new). Signs, exponents,
    grouping, ``nan`` and ``inf`` are refused with an InputError (``money.*``).
    """
    decimals = currency_decimals(currency)
    match = _AMOUNT.fullmatch(text.strip())
    if match is None:
        raise InputError([_not_an_amount(text, currency, decimals)])
    part = match["part"] or ""
    if len(part) > decimals and part[decimals:].strip("0"):
        raise InputError(
            [
                Fault(
                    code="money.too-many-decimals",
                    message=f"{currency} has {_decimals_in_words(decimals)}",
                    value=text,
                    allowed=_example(decimals),
                )
            ]
        )
    return int(match["whole"] + part[:decimals].ljust(decimals, "0"))


def format_amount(amount: int, currency: str) -> str:
    """``amount`` smallest units as decimal text without the currency, such as ``"12.50"``.

    A negative amount (a credit) gets a leading minus. ``parse_money`` reads back what this
    writes for every amount that is not negative.
    """
    decimals = currency_decimals(currency)
    sign = "-" if amount < 0 else ""
    whole, part = divmod(abs(amount), 10**decimals)
    return f"{sign}{whole}.{part:0{decimals}d}" if decimals else f"{sign}{whole}"


def format_money(amount: int, currency: str) -> str:
    """``amount`` smallest units with the currency's code, such as ``"12.50 USD"``."""
    return f"{format_amount(amount, currency)} {currency}"


def convert(amount: int, rate: Fraction | Decimal | int, source: str, target: str) -> int:
    """``amount`` smallest units of ``source`` in smallest units of ``target``, rounded up.

    ``rate`` is what one whole unit of ``source`` costs in whole units of ``target``; it must
    be positive and exact (no float). Rounding goes up, so that a plan never costs more than
    it says. Within one currency at rate 1 nothing changes. Raises InputError
    (``money.rate``) for a rate that is not positive or not finite, TypeError for a float.
    """
    if isinstance(rate, float):
        raise TypeError("an exchange rate is a Fraction, a Decimal or an int, never a float")
    if isinstance(rate, Decimal) and not rate.is_finite():
        raise InputError([_bad_rate(str(rate), source, target)])
    exact = Fraction(rate)
    if exact <= 0:
        raise InputError([_bad_rate(str(rate), source, target)])
    scale = Fraction(10 ** currency_decimals(target), 10 ** currency_decimals(source))
    value = amount * exact * scale
    return -((-value.numerator) // value.denominator)


def _unknown_currency(currency: str) -> Fault:
    near = difflib.get_close_matches(currency.upper(), CURRENCY_DECIMALS, n=1)
    return Fault(
        code="money.unknown-currency",
        message="the currency is not known",
        value=currency,
        allowed=", ".join(sorted(CURRENCY_DECIMALS)),
        hint=f"did you mean {near[0]}?" if near else None,
    )


def _not_an_amount(text: str, currency: str, decimals: int) -> Fault:
    hint = None
    if "," in text:
        hint = "write a decimal point and no grouping"
    elif text.strip().startswith("-"):
        hint = "a price is never negative"
    return Fault(
        code="money.not-an-amount",
        message=f"an amount of {currency} cannot be read",
        value=text,
        allowed=_example(decimals),
        hint=hint,
    )


def _bad_rate(text: str, source: str, target: str) -> Fault:
    return Fault(
        code="money.rate",
        message=f"the rate from {source} to {target} must be a positive number",
        value=text,
        allowed="more than 0",
    )


def _decimals_in_words(decimals: int) -> str:
    return {0: "no decimals", 2: "two decimals", 3: "three decimals"}[decimals]


def _example(decimals: int) -> str:
    return "digits such as 1250" if decimals == 0 else f"digits such as 1250.{'5':0<{decimals}}"
