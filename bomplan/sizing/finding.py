"""One check of a sizing rule: what was found, what is allowed, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, isinf
from typing import Literal

from bomplan.source import Source


@dataclass(frozen=True)
class Finding:
    """The outcome of one rule.

    ``sense`` says how ``value`` must stand to ``limit``: ``at most`` or ``at least``.
    ``source`` says where the rule is from, and whether that was seen, is from memory or a habit.
    """

    id: str
    words: str
    value: float
    limit: float
    unit: str
    sense: Literal["at most", "at least"]
    source: Source

    @property
    def passed(self) -> bool:
        """Whether the value keeps the limit."""
        if self.sense == "at most":
            return self.value <= self.limit
        return self.value >= self.limit

    @property
    def margin(self) -> float:
        """Distance to the limit in the same unit, below zero when it is broken."""
        if self.sense == "at most":
            return self.limit - self.value
        return self.value - self.limit


def floored(value: float, digits: int) -> float:
    """``value``, in any unit, rounded down to so many decimal places; -3 rounds down to thousands.

    The last bits of powers and exponentials differ between processors; a capability is
    rounded down once, so that all machines decide alike. Infinity stays as it is.
    """
    if isinf(value):
        return value
    step: int = 10 ** abs(digits)
    if digits < 0:
        return float(floor(value / step) * step)
    return floor(value * step) / step


def all_passed(findings: tuple[Finding, ...]) -> bool:
    """Whether every finding passed."""
    return all(finding.passed for finding in findings)
