"""Fuses for direct current: what they carry, hold, clear and break."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log, sqrt
from typing import Literal

from bomplan.sizing.finding import Finding, floored
from bomplan.source import practice, recalled, seen

CONTINUOUS_WARM = 0.75
"""Continuous current over rating in a closed warm box (from memory, the usual figure)."""
CONTINUOUS_FREE = 0.80
"""The same in free air (from memory)."""
HOLD_FACTOR = 2.5
"""Melting time at the peak over the peak's length; common practice is 2 to 3."""
BREAKING_MARGIN = 0.25
"""Breaking capacity above the greatest prospective current; common practice."""
CLEARING_S = 5.0
"""Time in which the least fault must end: IEC 60364-5-54, adiabatic rule (seen)."""
PARTIAL_RANGE_FACTOR = 5.0
"""Least fault over rating that a partial-range (aR) fuse clears; from memory, 4 to 6."""


@dataclass(frozen=True)
class FuseData:
    """The figures of one fuse.

    ``melt_s_at_2x`` and so on are melting times at 2, 3 and 5 times the rating;
    ``clearing_a2s`` the total clearing I²t at high fault currents; ``min_breaking_a`` the
    least current that it breaks safely (None: 5 times the rating for aR, 2 for full range,
    below which the stored curve says nothing).

    ValueError for figures that are not above 0 or melting times that do not fall.
    """

    v_dc: float
    rated_a: float
    breaking_a: float
    kind: Literal["full_range", "aR"]
    melt_s_at_2x: float
    melt_s_at_3x: float
    melt_s_at_5x: float
    clearing_a2s: float
    min_breaking_a: float | None = None

    def __post_init__(self) -> None:
        times = (self.melt_s_at_2x, self.melt_s_at_3x, self.melt_s_at_5x)
        if self.rated_a <= 0 or min(times) <= 0:
            raise ValueError("a fuse's rating and melting times must be above 0")
        if not times[0] > times[1] > times[2]:
            raise ValueError("a fuse's melting times must fall from 2x over 3x to 5x")

    @property
    def least_breaking_a(self) -> float:
        """The least current that the fuse breaks safely, in A."""
        if self.min_breaking_a is not None:
            return self.min_breaking_a
        factor = PARTIAL_RANGE_FACTOR if self.kind == "aR" else 2.0
        return factor * self.rated_a


def temperature_factor(ambient_c: float, limit_c: float = 130.0, base_c: float = 25.0) -> float:
    """Continuous rating at an ambient over that at the base: sqrt((a - Ta) / (a - T0)).

    Constants a = 130 to 150 °C, T0 = 25 to 30 °C seen in a fuse maker's guide, the square
    root from memory. Never above 1: cold air is not used to gain rating.
    """
    if ambient_c >= limit_c:
        return 0.0
    return min(1.0, sqrt((limit_c - ambient_c) / (limit_c - base_c)))


def continuous_a(rated_a: float, ambient_c: float, share: float = CONTINUOUS_WARM) -> float:
    """What a fuse carries for ever in A, floored to 0.1 A."""
    return floored(rated_a * share * temperature_factor(ambient_c), 1)


def melting_s(fuse: FuseData, current_a: float) -> float:
    """Melting time at a steady current, infinite up to the rating, floored to 1 ms.

    Between the three points of the curve a straight line in log-log. Below twice the rating
    the line through 2x and 3x goes on: the true curve bends upwards there, so the time is
    understated, which is the careful side for holding a peak. Above five times the rating
    the heat that melts is constant (adiabatic): t falls with the square of the current.
    """
    ratio = current_a / fuse.rated_a
    if ratio <= 1.0:
        return inf
    if ratio >= 5.0:
        return floored(fuse.melt_s_at_5x * (5.0 / ratio) ** 2, 3)
    if ratio < 3.0:
        low, high, t_low, t_high = 2.0, 3.0, fuse.melt_s_at_2x, fuse.melt_s_at_3x
    else:
        low, high, t_low, t_high = 3.0, 5.0, fuse.melt_s_at_3x, fuse.melt_s_at_5x
    slope = log(t_high / t_low) / log(high / low)
    return floored(exp(log(t_low) + slope * log(ratio / low)), 3)


def let_through_a2s(fuse: FuseData, current_a: float) -> float:
    """I²t that passes before a fault of this current is cleared, an upper figure, in A²s.

    The greater of the maker's total clearing I²t and of melting time plus one quarter for the
    arc (common practice) at this current; above five times the rating the heat that melts is
    constant, so that the figure is. Infinite below the least current that the fuse breaks, and
    below twice its rating, where the stored curve understates the time.
    """
    if current_a < max(fuse.least_breaking_a, 2.0 * fuse.rated_a):
        return inf
    melting_a = min(current_a, 5.0 * fuse.rated_a)
    return max(
        fuse.clearing_a2s, 1.25 * melting_a * melting_a * (melting_s(fuse, melting_a) + 0.001)
    )


def pulse_share(pulses: int) -> float:
    """Allowed pulse I²t over melting I²t for so many pulses in a fuse's life.

    22 % for 100 000, 29 % for 10 000, 38 % for 1 000, 48 % for 100 (a fuse maker's guide,
    seen); steps, not interpolated, the lower share between them.

    ValueError above 100 000 pulses, for which no share is known.
    """
    for count, share in ((100, 0.48), (1_000, 0.38), (10_000, 0.29), (100_000, 0.22)):
        if pulses <= count:
            return share
    raise ValueError("no share is known above 100 000 pulses")


def check_fuse(
    fuse: FuseData,
    highest_v: float,
    rms_a: float,
    peak_a: float,
    peak_s: float,
    greatest_fault_a: float,
    ambient_c: float,
    *,
    continuous_margin: float = 0.0,
    voltage_margin: float = 0.0,
    breaking_margin: float = BREAKING_MARGIN,
    share: float = CONTINUOUS_WARM,
) -> tuple[Finding, ...]:
    """The four rules that a fuse must keep by itself, whatever its cable.

    Margins are fractions added to what the fuse sees. ``highest_v`` is the highest charge
    voltage, equalising and rise under regeneration included.
    """
    return (
        Finding(
            "fuse-voltage",
            "direct-voltage rating of the fuse against the highest voltage",
            highest_v * (1.0 + voltage_margin),
            fuse.v_dc,
            "V",
            "at most",
            recalled(
                "rating for direct current at the highest charge voltage; an alternating rating "
                "does not count (from memory)"
            ),
        ),
        Finding(
            "fuse-continuous",
            "rolling root-mean-square current against what the warm fuse carries",
            rms_a * (1.0 + continuous_margin),
            continuous_a(fuse.rated_a, ambient_c, share),
            "A",
            "at most",
            recalled(
                "share 0.75 of the rating (from memory) times sqrt((130 - Ta)/105), constants seen "
                "in a fuse maker's guide"
            ),
        ),
        Finding(
            "fuse-holds-peak",
            "melting time at the peak current against the peak's length",
            melting_s(fuse, peak_a),
            HOLD_FACTOR * peak_s,
            "s",
            "at least",
            practice("melting time at least 2.5 times the peak (common practice)"),
        ),
        Finding(
            "fuse-breaking",
            "breaking capacity against the greatest prospective current",
            greatest_fault_a * (1.0 + breaking_margin),
            fuse.breaking_a,
            "A",
            "at most",
            practice(
                "open-circuit voltage of the full pack over its low resistance, with 25 % to spare "
                "(common practice)"
            ),
        ),
    )


def check_least_fault(
    fuse: FuseData, least_a: float, clearing_s: float = CLEARING_S, name: str = "fuse"
) -> tuple[Finding, ...]:
    """Whether the fuse, called ``name`` in what is found, breaks the least fault, and in time.

    ``least_a`` with its margin taken off. Below twice the rating the stored curve says
    nothing, so there the fuse counts as not clearing at all.
    """
    return (
        Finding(
            f"{name}-least-fault",
            f"least fault current against what the {name.replace('_', ' ')} can break",
            least_a,
            fuse.least_breaking_a,
            "A",
            "at least",
            recalled("partial-range fuses clear from about 5 times their rating (from memory)"),
        ),
        Finding(
            f"{name}-clears-in-time",
            f"time in which the {name.replace('_', ' ')} clears the least fault",
            melting_s(fuse, least_a) * 1.25 if least_a >= 2.0 * fuse.rated_a else inf,
            clearing_s,
            "s",
            "at most",
            seen("5 s, to which the adiabatic rule of IEC 60364-5-54 holds (seen in reproduction)"),
        ),
    )
