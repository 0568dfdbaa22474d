"""Degrees of protection: what a closed cover keeps out of a box with voltage in it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from bomplan.sizing.finding import Finding
from bomplan.source import recalled

# IEC 60529 and ISO 20653 (from memory): "IP", what of a body comes in, water, a letter for what
# of a hand comes near; a K after the digit of ISO 20653, X where it says nothing.
_CODE = re.compile(r"IP([0-6X])K?([0-9X])K?([ABCD]?)[HMSW]*")
_LETTERS = "ABCD"
# The letter that a first digit implies: 2 keeps a finger off, 3 a tool, 4 a wire.
_IMPLIED = {"1": "A", "2": "B", "3": "C", "4": "D", "5": "D", "6": "D"}
SPLASH = 4
"""Second digit of what stands where the road throws water; common practice."""

TOUCH_SOURCE = recalled(
    "IPXXD in the cabin and the luggage room, IPXXB elsewhere: UN R100 5.1.1, ISO 6469-3 (both"
    " degrees seen cited, their places from memory)"
)
TOUCH_CAUTION = (
    "a finger, a tool or a child's wire through a gap of a closed cover reaches the pack's voltage"
)
WATER_CAUTION = "water behind a cover joins the pack to the chassis, and a touch closes the circuit"
WATER_SOURCE = recalled("splash water, second digit 4 of IEC 60529 (from memory); common practice")


@dataclass(frozen=True)
class Degree:
    """``touch``: the letter A to D that the code gives or implies, blank for none; ``water`` the
    second digit, 0 where it says nothing."""

    touch: Literal["", "A", "B", "C", "D"]
    water: int


def degree(code: str) -> Degree | None:
    """The degree that a code such as IP54, IPXXB or IP6K9K stands for; None if it is no code.

    Of a double code, such as IP65/IP67, the better of each.
    """
    read = _read(code)
    if read is None:
        return None
    touch = max(max(_IMPLIED.get(first, ""), letter) for first, _, letter in read)
    water = max(0 if second == "X" else int(second) for _, second, _ in read)
    return Degree(touch, water)  # type: ignore[arg-type]


def _read(code: str) -> list[tuple[str, str, str]] | None:
    """First digit, second digit and letter of each code of a double one; None if one is none."""
    found = [_CODE.fullmatch(one.strip().upper().replace(" ", "")) for one in code.split("/")]
    read = [(one[1], one[2], one[3]) for one in found if one is not None]
    return read if len(read) == len(found) else None


WATER_DIGITS = {"dry": "0123456789X", "splash": "456789", "jets": "569", "immersion": "78"}
"""Second digits that suit a place by what water does there; 7 and 8 alone say nothing of jets."""


def keeps_out(code: str, water: str) -> bool:
    """Whether a degree of protection suits a place, a key of ``WATER_DIGITS``.

    Of a double code, such as IP65/IP67, one must suit. False for what is no code. IEC 60529:
    digits up to 6 include the lower ones, 7 and 8 do not include 5 and 6 (from memory).
    """
    return any(digit in WATER_DIGITS[water] for _, digit, _ in _read(code) or ())


def check_enclosure(
    family: str, name: str, code: str, *, in_cabin: bool, outside: bool
) -> tuple[Finding, ...]:
    """Whether a closed cover suits its place; ``code`` of the part ``name``.

    ``in_cabin``: it stands in the cabin or the luggage room; ``outside``: where water reaches
    it. Both may hold where one row serves several places. Values count letters A to D as 1 to 4.
    """
    found = degree(code) or Degree("", 0)
    wanted = "D" if in_cabin else "B"
    findings = [
        Finding(
            f"{family}-touch",
            f"protection of {name} ({code}) against touch where it stands: IPXX{wanted} is wanted"
            " (A to D as 1 to 4)",
            float(_LETTERS.find(found.touch) + 1 if found.touch else 0),
            float(_LETTERS.find(wanted) + 1),
            "letter",
            "at least",
            TOUCH_SOURCE,
        )
    ]
    if outside:
        findings.append(
            Finding(
                f"{family}-water",
                f"protection of {name} ({code}) against water outside the cabin",
                float(found.water),
                float(SPLASH),
                "second digit",
                "at least",
                WATER_SOURCE,
            )
        )
    return tuple(findings)
