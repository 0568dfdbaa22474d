"""From a simulated float to the integer that is judged and shown, to its own disadvantage.

One place for the rounding, so that planner, audit and report decide alike and the last bits
of a processor's arithmetic decide nothing.
"""

from __future__ import annotations

import math

# Far above the noise of double arithmetic, far below the smallest unit shown.
NOISE = 1e-6


def floored(value: float, per_unit: float = 1.0) -> int:
    """The greatest whole number of units not above ``value``; 0 for a negative one."""
    if not math.isfinite(value):
        return 10**9 if value > 0 else 0
    return max(0, math.floor(value * per_unit + NOISE))


def ceiled(value: float, per_unit: float = 1.0) -> int:
    """The least whole number of units not below ``value``; a huge one for infinity."""
    if not math.isfinite(value):
        return 10**9
    return max(0, math.ceil(value * per_unit - NOISE))
