"""Figures in the reader's units and with the reader's decimal mark.

Files and sums stay metric and keep the point; only what is shown changes.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from math import isfinite
from typing import Final, Literal

from bomplan.money import format_amount

Units = Literal["metric", "us"]

# Exact by definition: international mile and inch, avoirdupois pound (NIST SP 811:2008,
# appendix B.8).
KM_PER_MILE: Final = 1.609344
KG_PER_POUND: Final = 0.45359237
MM_PER_INCH: Final = 25.4


# A number in running text is a figure where a unit follows it; ids and sources stay.
_FIGURE_IN_WORDS: Final = re.compile(
    r"(?<![\w.,-])(\d+)\.(\d+)(?=\s?(?:%|°C|V|A|Ah|Wh|kWh|W|kW|kg|g|mm|m|km|km/h|s|h|min|N m|"
    r"kA|kA²s|J|kJ|MJ|mΩ|Ω|l|rpm)(?![\w/]))"
)

_IN_SMALLEST_UNITS: Final = "smallest units of "
_BARE: Final = re.compile(r"-?\d+\.\d+$")


@dataclass(frozen=True)
class Show:
    """Writes figures in ``metric`` or ``us`` units, each with its unit.

    With ``decimal_comma`` the decimal mark is a comma.
    """

    units: Units = "metric"
    decimal_comma: bool = False

    @property
    def us(self) -> bool:
        return self.units == "us"

    def number(self, text: str) -> str:
        """``text``, which is a figure with or without its unit, with the reader's mark."""
        return text.replace(".", ",") if self.decimal_comma else text

    def words(self, text: str) -> str:
        """A sentence; the figures in it that have a unit get the reader's mark."""
        return _FIGURE_IN_WORDS.sub(r"\1,\2", text) if self.decimal_comma else text

    def drawn(self, text: str) -> str:
        """A text of a drawing: a sentence, or a bare figure of a table."""
        return self.number(text) if _BARE.match(text) else self.words(text)

    def distance(self, km: float) -> str:
        """A distance [km], rounded down so that no range is flattered."""
        value = km / KM_PER_MILE if self.us else km
        return self.number(f"{_down(value, 1):.1f} {'mi' if self.us else 'km'}")

    def nearest_distance(self, km: float) -> str:
        """A distance [km] that was asked for, rounded to the nearest tenth."""
        value = km / KM_PER_MILE if self.us else km
        return self.number(f"{value:.1f} {'mi' if self.us else 'km'}")

    def speed(self, kmh: float) -> str:
        """A speed [km/h], rounded down."""
        value = kmh / KM_PER_MILE if self.us else kmh
        return self.number(f"{_down(value, 1):.1f} {'mph' if self.us else 'km/h'}")

    def mass(self, kg: float) -> str:
        """A mass [kg] to the whole unit."""
        value = kg / KG_PER_POUND if self.us else kg
        return f"{value:.0f} {'lb' if self.us else 'kg'}"

    def room(self, kg: float) -> str:
        """What is left up to a limit [kg], rounded down: never more than there is."""
        value = kg / KG_PER_POUND if self.us else kg
        return f"{math.floor(round(value, 3))} {'lb' if self.us else 'kg'}"

    def consumption(self, wh_per_km: float) -> str:
        """Energy per distance [Wh/km] to the whole unit."""
        value = wh_per_km * KM_PER_MILE if self.us else wh_per_km
        return f"{value:.0f} {'Wh/mi' if self.us else 'Wh/km'}"

    def length(self, mm: float) -> str:
        """A length to cut or to set by [mm], with its inches in brackets for readers of those."""
        return f"{mm:.0f}{self.inches(mm)}"

    def inches(self, mm: float) -> str:
        """What stands behind a length: the hundredths of an inch hide an eighth of a mm."""
        return self.number(f" ({mm / MM_PER_INCH:.2f} in)") if self.us else ""

    def scale(self, unit: str) -> tuple[float, str]:
        """What figures in ``unit`` are multiplied by to be shown, and the unit then."""
        if not self.us:
            return 1.0, unit
        return {
            "kg": (1 / KG_PER_POUND, "lb"),
            "km": (1 / KM_PER_MILE, "mi"),
            "km/h": (1 / KM_PER_MILE, "mph"),
            "Wh/km": (KM_PER_MILE, "Wh/mi"),
        }.get(unit, (1.0, unit))

    def judged(self, value: float, unit: str, sense: str) -> str:
        """The figure of a check: distances and speeds are rounded to its own disadvantage.

        So that no output promises more than another. ``sense`` is on which side of the limit
        it must lie, in a check's words.
        """
        if unit not in ("km", "km/h") or not isfinite(value):
            return self.figure(value, unit)
        if sense == "at least":
            return self.distance(value) if unit == "km" else self.speed(value)
        factor, shown = self.scale(unit)
        return self.number(f"{math.ceil(value * factor * 10 - 1e-6) / 10:.1f} {shown}")

    def figure(self, value: float, unit: str) -> str:
        """Any figure with its unit; masses, distances and speeds follow the reader's choice.

        Money, which a check counts in smallest units, is told as an amount.
        """
        currency = unit.removeprefix(_IN_SMALLEST_UNITS)
        if currency != unit and isfinite(value):
            return f"{self.number(format_amount(round(value), currency))} {currency}"
        factor, shown = self.scale(unit)
        text = self.number(plain(value * factor))
        return f"{text} {shown}" if shown and shown != "1" else text


METRIC: Final = Show()


def plain(value: float) -> str:
    """A figure with as many digits as a reader needs, never in powers of ten."""
    size = abs(value)
    if size >= 1000 or value == int(value):
        return f"{value:.0f}"
    if size >= 10:
        return f"{value:.1f}"
    if size >= 0.1:
        return f"{value:.2f}"
    return f"{value:.4f}".rstrip("0").rstrip(".") if size >= 0.0001 else f"{value:.7f}"


def _down(value: float, digits: int) -> float:
    """Rounded towards zero at ``digits`` decimals, forgiving the last bits of a float."""
    scale: int = 10**digits
    return int(value * scale + 1e-6) / scale
