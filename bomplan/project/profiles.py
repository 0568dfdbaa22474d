"""The names a range target's profile may have.

Schedules: UDDS and HWFET (United States Code of Federal Regulations, title 40, part 86,
appendix I and part 600, appendix I), ECE-15 and NEDC (UN Regulation 83, annex 4), WLTC
(UN Global Technical Regulation 15, annex 1).
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from fractions import Fraction
from pathlib import PurePosixPath
from typing import Final, Literal

from bomplan import quantities
from bomplan.errors import Fault
from bomplan.quantities import KINDS, QuantityError

_WLTC_3_PHASES: Final = ("low", "medium", "high", "extra-high")
SCHEDULES: Final[tuple[str, ...]] = (
    "udds", "hwfet", "wltc-1", "wltc-2", "wltc-3a", "wltc-3b", "ece-15", "eudc", "nedc",
    "j227a-c", "j227a-d", "wltc-1-low", "wltc-1-medium",
    *(f"wltc-{name}-{phase}" for name in ("2", "3a", "3b") for phase in _WLTC_3_PHASES),
)  # fmt: skip
_ALLOWED: Final = ", ".join(SCHEDULES[:11]) + ", constant 80 km/h, route my-round.csv"


@dataclass(frozen=True)
class Profile:
    """A profile in its one spelling: ``udds``, ``constant 80 km/h``, ``route my-round.csv``."""

    kind: Literal["schedule", "constant", "route"]
    text: str
    file: str = ""


def parse_profile(text: str, *, decimal_comma: bool = False) -> Profile:
    """What ``text`` names: a schedule, ``constant <speed>`` or ``route <file.csv>``.

    Raises QuantityError.
    """
    words = text.strip().split(None, 1)
    first = words[0].lower() if words else ""
    rest = words[1].strip() if len(words) > 1 else ""
    if first in SCHEDULES and not rest:
        return Profile("schedule", text=first)
    if first == "constant" and rest:
        speed = quantities.parse(rest, "speed", decimal_comma=decimal_comma)
        if speed == 0:
            raise _error(text, "stands still", None)
        return Profile("constant", text=f"constant {_in_own_unit(speed, rest)}")
    if first == "route" and rest:
        file = PurePosixPath(rest.replace("\\", "/"))
        if file.is_absolute() or ".." in file.parts or ":" in rest:
            raise _error(text, "names a file outside the project's folder",
                         "keep the route beside the project file")  # fmt: skip
        return Profile("route", text=f"route {file}", file=str(file))
    near = difflib.get_close_matches(text.strip().lower(), SCHEDULES, n=1, cutoff=0.5)
    if first.endswith(".csv"):
        raise _error(text, "is no known profile", f'write "route {text.strip()}"')
    raise _error(text, "is no known profile", f'did you mean "{near[0]}"?' if near else None)


def _in_own_unit(speed_m_s: Fraction, written: str) -> str:
    """The speed in miles an hour if written so, otherwise in kilometres an hour."""
    own = KINDS["speed"].unit(written.lstrip("0123456789.,+ '"))
    unit = "mph" if own is not None and own.symbol == "mph" else "km/h"
    return quantities.format(speed_m_s, "speed", unit, digits=12)


def _error(text: str, message: str, hint: str | None) -> QuantityError:
    return QuantityError(Fault("project.profile", message, value=text, allowed=_ALLOWED, hint=hint))
