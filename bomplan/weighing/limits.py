"""How much of a limit may be used, and what a change of load asks of the chassis."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

SPRING_THRESHOLD = Fraction(10, 100)
"""Gain of an axle over its kerb load above which springs are wanted; common practice."""
DAMPER_THRESHOLD = Fraction(15, 100)
"""The same for dampers; common practice."""


def allowed_axle_g(limit_g: int, margin_fraction: float, margin_g: int, spread_g: int) -> int:
    """The load that a plan may put on an axle, in g.

    The limit less the greatest of: the fraction of the limit (rounded up to the gram), the
    fixed margin, the spread of the weighing. Common practice; all three are the user's data.
    """
    share = ceil(Fraction(str(margin_fraction)) * limit_g)
    return limit_g - max(share, margin_g, spread_g)


def allowed_gross_g(limit_g: int, margin_fraction: float) -> int:
    """The mass that a plan may reach, in g: the gross limit less its margin, rounded down."""
    return limit_g - ceil(Fraction(str(margin_fraction)) * limit_g)


def axle_limits_cover_gross(front_limit_g: int, rear_limit_g: int, gross_limit_g: int) -> bool:
    """Whether the axle limits add up to at least the gross limit.

    They should on a sound plate: US 49 CFR 571.3 and the agency's letter aiam0613 on gross
    ratings (seen in reproduction).
    """
    return front_limit_g + rear_limit_g >= gross_limit_g


@dataclass(frozen=True)
class ChassisHint:
    """How an axle's load changes against its kerb load, and what that usually asks for."""

    change_g: Fraction
    change_share: Fraction
    springs: bool
    dampers: bool


def chassis_hint(
    kerb_load_g: Fraction | int,
    new_load_g: Fraction | int,
    springs_above: Fraction = SPRING_THRESHOLD,
    dampers_above: Fraction = DAMPER_THRESHOLD,
) -> ChassisHint:
    """Springs above +10 % and dampers above +15 % of the axle's kerb load (common practice).

    ValueError if the kerb load is not above 0.
    """
    if kerb_load_g <= 0:
        raise ValueError("the kerb load of the axle must be above 0 g")
    change = Fraction(new_load_g) - Fraction(kerb_load_g)
    share = change / Fraction(kerb_load_g)
    return ChassisHint(change, share, share > springs_above, share > dampers_above)


def rollover_ratio(track_mm: float, centre_height_mm: float) -> float:
    """Static stability factor: track / (2 x height of the centre of gravity); information only.

    NHTSA's static stability factor (from memory).

    ValueError for a height that is not above 0 mm.
    """
    if centre_height_mm <= 0:
        raise ValueError("the height of the centre of gravity must be above 0 mm")
    return track_mm / (2.0 * centre_height_mm)


def three_wheel_rollover_ratio(
    track_mm: float, wheelbase_mm: float, behind_single_mm: float, centre_height_mm: float
) -> float:
    """Sideways acceleration over gravity at which three wheels overturn, rigid on their tyres.

    ``track_mm`` is that of the pair, ``behind_single_mm`` how far the centre of gravity lies
    from the axle with one wheel towards the pair. The vehicle tips over the line from the single
    wheel to one of the pair; across the vehicle that line lies track / 2 * behind / wheelbase
    from the centre of gravity, and moments about it give that over the height. Statics alone;
    roll of the body and braking in the bend, with one wheel in front, lower it. 0 where the
    centre of gravity does not lie between the axles on the pair's side.

    ValueError for a wheelbase or a height that is not above 0 mm.
    """
    if wheelbase_mm <= 0:
        raise ValueError("the wheelbase must be above 0 mm")
    return rollover_ratio(track_mm * max(0.0, behind_single_mm) / wheelbase_mm, centre_height_mm)
