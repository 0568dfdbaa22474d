"""Reading and writing quantities over the table of kinds."""

from __future__ import annotations

import difflib
import math
import re
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Final

from bomplan.errors import Fault
from bomplan.quantities.kinds import DEGREE, KINDS, Kind, Unit

LONGEST_TEXT: Final = 64
LARGEST: Final = Fraction(10) ** 12
_LARGEST_EXPONENT: Final = 30
_SPACES: Final = " \u00a0\u2007\u2009\u202f"
_GROUPERS: Final = _SPACES + "'’"


class QuantityError(ValueError):
    """A text that is no quantity of the kind asked for; ``fault`` says why."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.message)
        self.fault = fault


_NUMBER = re.compile(
    rf"(?P<sign>[+\-−]?)"
    rf"(?:(?:(?P<whole>\d+)[ \-])?(?P<over>\d+)/(?P<under>\d+)"
    rf"|(?P<body>\.?\d[\d.,{re.escape(_GROUPERS)}]*)(?:[eE](?P<exponent>[+\-−]?\d+))?)"
    r"(?P<unit>.*)",
    re.ASCII | re.DOTALL,
)
_GAUGE = re.compile(r"(?:AWG\s*(\d+(?:/0)?)|(\d+(?:/0)?)\s*AWG)", re.ASCII | re.IGNORECASE)
_RISE = re.compile(r"1\s*(?::|in)\s*(\d+(?:\.\d+)?)", re.ASCII | re.IGNORECASE)


def parse(text: str, kind: str, *, decimal_comma: bool = False) -> Fraction:
    """The SI value of ``text`` (°C for a temperature), exact for every decimal text.

    A point is the decimal mark. A comma is read only where it can mean one thing: with a
    point beside it ("1.234,5", "1,234.5"), in several groups ("1,234,567"), with spaces as
    group marks ("1 234,5"), or when ``decimal_comma`` says that the file uses it. Digits may
    stand in groups of three (space, thin or no-break space, apostrophe). Mixed fractions
    ("17 1/2 in") are read.

    Raises QuantityError, carrying a Fault without file and place.
    """
    table = KINDS[kind]
    shown = text.strip().strip(_SPACES)
    if len(shown) > LONGEST_TEXT:
        raise _error("too-long", f"is longer than {LONGEST_TEXT} characters", text, table)
    if not shown:
        raise _error("empty", "is empty", text, table)
    special = _special(shown, kind)
    if special is not None:
        return special
    match = _NUMBER.fullmatch(shown)
    if match is None:
        if re.fullmatch(r"[+\-−]?(nan|inf|infinity)\b.*", shown, re.IGNORECASE):
            raise _error("not-finite", "is not a finite number", text, table)
        hint = 'a rough figure is { value = "…", known = "guess" }' if shown[0] in "~≈" else None
        raise _error("no-number", "does not start with a number", text, table, hint=hint)
    number = _read_number(match, text, table, decimal_comma)
    unit = _read_unit(match["unit"], text, table)
    if kind == "grade" and unit is DEGREE:
        if abs(number) >= 90:
            raise _error("out-of-range", "is not a road's slope", text, table)
        return Fraction(math.tan(math.radians(float(number))))
    value = (number + unit.offset) * unit.factor
    if abs(value) > LARGEST:
        raise _error("too-large", "is too large to be meant", text, table)
    if value < 0 and not table.signed:
        raise _error("negative", f"is negative, which {a_kind(kind)} cannot be", text, table)
    if kind == "fraction" and value > 1:
        hint = f'did you mean "{_digits(number)} %"?' if number <= 100 and not unit.symbol else None
        raise _error("out-of-range", "is more than the whole", text, table, "0 to 1", hint)
    return value


def whole(value: Fraction) -> int:
    """``value`` as an integer, halves away from zero (2.5 gives 3, -2.5 gives -3)."""
    rounded = (2 * abs(value.numerator) + value.denominator) // (2 * value.denominator)
    return rounded if value >= 0 else -rounded


def format(
    value: Fraction | float,
    kind: str,
    unit: str | None = None,
    *,
    decimal_comma: bool = False,
    digits: int = 17,
    grouped: bool = False,
) -> str:
    """``value`` (SI, °C for a temperature) as text in ``unit`` (the kind's base by default).

    ``digits`` significant digits, trailing zeros dropped; 17 let every float and every whole
    gram or millimetre survive ``parse(format(...))``. ``grouped`` puts narrow no-break spaces
    between groups of three. A gauge cannot be written: ask for mm².
    """
    table = KINDS[kind]
    found = table.base if unit is None else table.unit(unit)
    if found is None:
        raise ValueError(f"{unit!r} is no unit of {_words(kind)}")
    exact = Fraction(value)
    if kind == "grade" and found is DEGREE:
        shown = Fraction(math.degrees(math.atan(float(exact))))
    else:
        shown = exact / found.factor - found.offset
    text = _digits(shown, digits)
    mantissa, _, exponent = text.partition("e")
    integer, point, rest = mantissa.partition(".")
    if grouped and len(integer.lstrip("-")) > 4:
        integer = f"{int(integer):,}".replace(",", "\u202f")
    mark = "," if decimal_comma and point else point
    body = f"{integer}{mark}{rest}" + (f"e{exponent}" if exponent else "")
    return f"{body} {found.symbol}" if found.symbol else body


def gauge_area_m2(gauge: int) -> float:
    """Cross-section [m²] of American Wire Gauge ``gauge`` (1/0 is 0, 2/0 is -1, 4/0 is -3).

    ASTM B258: 39 equal ratios from 0.005 in (No. 36) to 0.46 in (No. 4/0), hence a diameter
    of 0.005 in * 92^((36 - n) / 39).
    """
    diameter_m = 0.127e-3 * math.pow(92.0, (36 - gauge) / 39)
    return math.pi / 4 * diameter_m**2


def _special(shown: str, kind: str) -> Fraction | None:
    """Gauges and "1:8", whose number is not a count of units."""
    if kind == "cross_section" and (match := _GAUGE.fullmatch(shown)):
        written = match[1] or match[2]
        gauge = 1 - int(written[:-2]) if written.endswith("/0") else int(written)
        if -3 <= gauge <= 40:
            return Fraction(gauge_area_m2(gauge))
    if kind == "grade" and (match := _RISE.fullmatch(shown)) and Fraction(match[1]) >= 1:
        return 1 / Fraction(match[1])
    return None


def _read_number(match: re.Match[str], text: str, table: Kind, decimal_comma: bool) -> Fraction:
    sign = -1 if match["sign"] in ("-", "−") and match["sign"] else 1
    if match["over"] is not None:
        under = int(match["under"])
        if under == 0:
            raise _error("no-number", "divides by zero", text, table)
        return sign * (int(match["whole"] or 0) + Fraction(int(match["over"]), under))
    body = match["body"].rstrip(_GROUPERS)
    integer, rest = _split(body, text, table, decimal_comma)
    exponent = int((match["exponent"] or "0").replace("−", "-"))
    if abs(exponent) > _LARGEST_EXPONENT:
        raise _error("too-large", "has an exponent too large to be meant", text, table)
    return sign * Fraction(f"{integer or 0}.{rest or 0}") * Fraction(10) ** exponent


def _split(body: str, text: str, table: Kind, decimal_comma: bool) -> tuple[str, str]:
    """Digits before and after the decimal mark, group marks checked and taken out."""
    mark = _decimal_mark(body, text, table, decimal_comma)
    integer, _, rest = body.partition(mark) if mark else (body, "", "")
    used = sorted({c for c in integer if not c.isdigit()})
    groups = re.split(r"\D", integer)
    grouped_well = len(used) < 2 and len(groups[0]) <= 3 and all(len(g) == 3 for g in groups[1:])
    if (len(groups) > 1 and not grouped_well) or (rest and not rest.isdigit()):
        raise _error(
            "groups", "has digits that do not stand in groups of three", text, table,
            hint="write the number without group marks, with a point before the decimals",
        )  # fmt: skip
    return "".join(groups), rest


def _decimal_mark(body: str, text: str, table: Kind, decimal_comma: bool) -> str:
    points, commas = body.count("."), body.count(",")
    if points and commas:
        return "." if body.rfind(".") > body.rfind(",") else ","
    if commas == 1:
        if decimal_comma or any(c in _GROUPERS for c in body):
            return ","
        plain = text.strip()
        hint = f'write "{plain.replace(",", ".")}"'
        if re.search(r",\d{3}(?!\d)", plain):
            hint += f' if it parts decimals, "{plain.replace(",", "")}" if it parts thousands'
        raise _error(
            "ambiguous-comma", "has a comma that may part decimals or thousands", text, table,
            hint=hint,
        )  # fmt: skip
    if points == 1:
        if decimal_comma and re.search(r"^\d{1,3}\.\d{3}$", body):
            raise _error(
                "ambiguous-point", "has a point that may part decimals or thousands", text, table,
                hint="this file says decimal_comma = true: write the decimals with a comma, "
                "or leave the point out",
            )  # fmt: skip
        return "."
    return ""


def _read_unit(written: str, text: str, table: Kind) -> Unit:
    name = written.strip().strip(_SPACES)
    if not name:
        if table.bare:
            return table.base
        raise no_unit(text, table)
    unit = table.unit(name)
    if unit is not None and unit.symbol:
        return unit
    others = [kind for kind in KINDS.values() if kind is not table and kind.unit(name) is not None]
    if others:
        kinds = " or ".join(dict.fromkeys(a_kind(kind.name) for kind in others))
        raise _error("wrong-kind", f"is {kinds}, where {a_kind(table.name)} stands", text, table)
    spellings = [s for u in table.units for s in (u.symbol, *u.spellings) if s]
    near = difflib.get_close_matches(name, spellings, n=1, cutoff=0.55)
    hint = f'did you mean "{near[0]}"?' if near else None
    raise _error("unknown-unit", f'has the unknown unit "{name[:20]}"', text, table, hint=hint)


def no_unit(text: str, kind: Kind | str) -> QuantityError:
    """The error for a bare number where a unit is needed."""
    table = KINDS[kind] if isinstance(kind, str) else kind
    common = table.examples[0].split(" ", 1)[1] if table.examples else table.base.symbol
    hint = f'write the unit, such as "{text.strip()} {common}"'
    return _error("no-unit", f"is {a_kind(table.name)} without a unit", text, table, hint=hint)


def _error(
    code: str,
    message: str,
    text: str,
    table: Kind,
    allowed: str | None = None,
    hint: str | None = None,
) -> QuantityError:
    if hint is None and table.examples:
        hint = "such as " + " or ".join(f'"{example}"' for example in table.examples)
    return QuantityError(
        Fault(
            f"quantity.{code}",
            message,
            value=text or None,
            allowed=allowed or table.allowed(),
            hint=hint,
        )
    )


def _words(kind: str) -> str:
    return kind.replace("_", " ")


def a_kind(kind: str) -> str:
    """A kind of quantity in words with its article, such as "an area"."""
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {_words(kind)}"


def _digits(value: Fraction, digits: int = 17) -> str:
    with localcontext() as context:
        context.prec = digits
        number = (Decimal(value.numerator) / Decimal(value.denominator)).normalize()
        if number == 0:
            return "0"
        if number.adjusted() < -12:
            return f"{number:e}"
        return f"{number:f}"
