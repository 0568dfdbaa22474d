"""The figure types of the project's records: text with a unit outside, plain numbers inside.

Text such as ``"2600 lb"`` is always read. A bare number is refused where a unit belongs
when the input is a file that a person wrote (validation context from :func:`file_context`),
and taken as already converted when it comes from code or from a saved plan, so that
``Project.model_validate(project.model_dump(mode="json"))`` gives the same project.
Whole grams and millimetres are rounded once, here, halves away from zero.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction as Exact
from typing import Annotated, Any, TypedDict

from pydantic import GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from bomplan import quantities
from bomplan.errors import Fault, InputError
from bomplan.money import currency_decimals
from bomplan.quantities import KINDS, QuantityError


class FileContext(TypedDict):
    """What the figure types must know of the file that is being read."""

    source: str
    currency: str
    decimal_comma: bool


def file_context(currency: str, decimal_comma: bool = False) -> FileContext:
    """The validation context for a file that a person wrote."""
    return FileContext(source="file", currency=currency, decimal_comma=decimal_comma)


@dataclass(frozen=True)
class Figure:
    """How a record's number is written: its kind, the unit it is held in, the unit shown."""

    kind: str
    held: str = ""
    shown: str = ""
    whole: bool = False

    def __get_pydantic_core_schema__(
        self, source: type[Any], handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.with_info_before_validator_function(self._read, handler(source))

    def read(self, value: object, *, from_file: bool, decimal_comma: bool = False) -> float:
        """``value`` (text or a number) in the unit held; an int where the figure is whole.

        Raises QuantityError.
        """
        if isinstance(value, str):
            return self._in_held_unit(
                quantities.parse(value, self.kind, decimal_comma=decimal_comma)
            )
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise _wrong_type(value, quantities.a_kind(self.kind), self.examples())
        bare = KINDS[self.kind].bare
        if bare or not math.isfinite(value):
            return self._in_held_unit(quantities.parse(repr(value), self.kind))
        if from_file:
            raise quantities.no_unit(repr(value), self.kind)
        return self._whole(Exact(value)) if self.whole else float(value)

    def understood(self, value: object, *, decimal_comma: bool = False) -> str:
        """``value`` from a file in the unit shown to people, such as ``"1179.34 kg"``."""
        held = self.read(value, from_file=True, decimal_comma=decimal_comma)
        return quantities.format(self.si(Exact(held)), self.kind, self.shown or None, digits=6)

    def si(self, held: Exact) -> Exact:
        """A number in the unit held as the kind's SI value."""
        unit = KINDS[self.kind].unit(self.held) if self.held else None
        return held if unit is None else (held + unit.offset) * unit.factor

    def examples(self) -> str:
        """How such a figure is written, for messages."""
        texts = [f'"{text}"' for text in KINDS[self.kind].examples]
        return " or ".join(texts) or {"fraction": '"12 %" or 0.12', "grade": '"12 %"'}.get(
            self.kind, "1.5"
        )

    def _read(self, value: object, info: ValidationInfo) -> float:
        context = info.context or {}
        return self.read(
            value,
            from_file=context.get("source") == "file",
            decimal_comma=bool(context.get("decimal_comma", False)),
        )

    def _in_held_unit(self, si: Exact) -> float:
        unit = KINDS[self.kind].unit(self.held) if self.held else None
        held = si if unit is None else si / unit.factor - unit.offset
        return quantities.whole(held) if self.whole else float(held)

    def _whole(self, value: Exact) -> int:
        if value.denominator != 1:
            message = f"is no whole number of {self.held}"
            raise QuantityError(Fault("quantity.not-whole", message, value=str(float(value))))
        return value.numerator


@dataclass(frozen=True)
class MoneyFigure:
    """An amount of the project's currency: text outside, whole smallest units inside."""

    def __get_pydantic_core_schema__(
        self, source: type[Any], handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.with_info_before_validator_function(self._read, handler(source))

    def _read(self, value: object, info: ValidationInfo) -> int:
        context = info.context or {}
        if isinstance(value, str):
            return self.read(
                value,
                context.get("currency"),
                decimal_comma=bool(context.get("decimal_comma", False)),
            )
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise _wrong_type(value, "a sum of money", self.examples())
        if context.get("source") == "file":
            currency = context.get("currency") or "EUR"
            raise _money_error(str(value), "is a sum of money without quotes and currency",
                               f'write "{value} {currency}"')  # fmt: skip
        if value != int(value) or value < 0:
            raise _money_error(str(value), "is no whole number of the smallest coin", None)
        return int(value)

    def read(self, text: str, currency: str | None, *, decimal_comma: bool = False) -> int:
        """``text`` such as ``"12000"`` or ``"12 000 EUR"`` in smallest units of ``currency``."""
        match = re.fullmatch(r"(?P<number>.*?)\s*(?P<code>[A-Z]{3})?", text.strip(), re.DOTALL)
        assert match is not None  # the number may be empty, so any text matches
        written = match["code"] or currency
        if written is None:
            raise _money_error(text, "has no currency", 'such as "12000 EUR"')
        if currency is not None and written != currency:
            raise _money_error(
                text, f"is not in the project's currency {currency}", f"write it in {currency}"
            )
        try:
            decimals = currency_decimals(written)
        except InputError as error:
            raise QuantityError(error.faults[0]) from None
        amount = quantities.parse(match["number"], "number", decimal_comma=decimal_comma)
        smallest = amount * Exact(10) ** decimals
        if amount < 0 or smallest.denominator != 1:
            raise _money_error(
                text,
                "is negative" if amount < 0 else f"has more decimals than {written} has",
                f'such as "12000 {written}"',
            )
        return smallest.numerator

    def examples(self) -> str:
        return '"12000 EUR"'


def _wrong_type(value: object, wanted: str, examples: str) -> QuantityError:
    found = {bool: "yes or no", list: "a list", dict: "a table"}.get(type(value), "a date")
    return QuantityError(
        Fault(
            "project.wrong-type",
            f"is {found}, where {wanted} stands",
            value=str(value),
            hint=f"such as {examples}",
        )
    )


def _money_error(text: str, message: str, hint: str | None) -> QuantityError:
    return QuantityError(
        Fault("project.money", message, value=text, allowed="an amount in quotes", hint=hint)
    )


Grams = Annotated[int, Figure("mass", "g", "kg", whole=True)]
Millimetres = Annotated[int, Figure("length", "mm", "mm", whole=True)]
Metres = Annotated[int, Figure("distance", "m", "m", whole=True)]
MetresPerSecond = Annotated[float, Figure("speed", "m/s", "km/h")]
Seconds = Annotated[float, Figure("time", "s", "s")]
Hours = Annotated[float, Figure("time", "h", "h")]
Watts = Annotated[float, Figure("power", "W", "W")]
Volts = Annotated[float, Figure("voltage", "V", "V")]
Amperes = Annotated[float, Figure("current", "A", "A")]
Ohms = Annotated[float, Figure("resistance", "Ω", "mΩ")]
# Air outdoors: no colder or warmer has been measured (-89.2 and 56.7 °C, from memory).
COLDEST_C, WARMEST_C = -90.0, 60.0
HOTTEST_ROOM_C = 150.0  # where parts and cables are: above it a slip of the pen (common practice)
Degrees = Annotated[float, Figure("temperature", "°C", "°C")]
Grade = Annotated[float, Figure("grade", "", "%")]
Fraction = Annotated[float, Figure("fraction", "", "%")]
Number = Annotated[float, Figure("number")]
SquareMetres = Annotated[float, Figure("area", "m²", "m²")]
NewtonMetres = Annotated[float, Figure("torque", "N m", "N m")]
Newtons = Annotated[float, Figure("force", "N", "N")]
NewtonsPerSpeed = Annotated[float, Figure("force_per_speed", "N s/m", "N s/m")]
NewtonsPerSpeedSquared = Annotated[float, Figure("force_per_speed_squared", "N s²/m²", "N s²/m²")]
Bars = Annotated[float, Figure("pressure", "bar", "bar")]
MoneyText = Annotated[int, MoneyFigure()]
