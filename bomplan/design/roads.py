"""The builder's own roads as speed traces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bomplan.errors import Fault, InputError
from bomplan.physics import Profile, cap, route_profile
from bomplan.project.records import RoutePoint


def road(name: str, points: Sequence[RoutePoint], speed_cap_m_s: float | None = None) -> Profile:
    """The trace of a route as targets name it, no faster than ``speed_cap_m_s``.

    Raises InputError where no car can drive it second by second: a route so short, or so short
    and steep that the first seconds from rest would have to climb more than they go, or one that
    takes days at its cap.
    """
    try:
        found = route_profile(
            np.array([point.distance_m for point in points]),
            np.array([point.speed_limit_m_s for point in points]),
            np.array([point.elevation_m for point in points]),
            np.array([point.stop_s for point in points]),
        )
        return found if speed_cap_m_s is None else cap(found, speed_cap_m_s)
    except ValueError as error:
        raise InputError(
            [
                Fault(
                    "route.profile",
                    f"cannot be driven second by second: {error}",
                    where="targets.range",
                    value=name,
                    hint="give the hill more length or more points along it, or a higher speed",
                )
            ]
        ) from None


__all__ = ["road"]
