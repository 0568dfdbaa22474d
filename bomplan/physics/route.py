"""The user's own route, turned into a trace a calm driver would make."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import FloatArray
from bomplan.physics.profile import Profile, from_speeds

GRID_M = 5.0
STEEPEST = 0.45  # rise over distance in any one second
SHORTEST_M = 20.0  # below it hardly a second is driven
LONGEST_S = 172_800.0  # every second is kept, in some dozens of figures


@dataclass(frozen=True, eq=False)
class Route:
    """Points along a route: ``speed_limit_m_s`` holds from its point to the next; ``stop_s``
    is how long the car stands at the point (0: it does not stop)."""

    distance_m: FloatArray
    speed_limit_m_s: FloatArray
    elevation_m: FloatArray
    stop_s: FloatArray


def route_profile(
    distance_m: FloatArray,
    speed_limit_m_s: FloatArray,
    elevation_m: FloatArray,
    stop_s: FloatArray,
    acceleration_m_s2: float = 1.0,
    braking_m_s2: float = 1.0,
    name: str = "route",
) -> Profile:
    """A trace at one sample a second that keeps every limit and stops where it must.

    All four arrays hold one value per point, distances rising from 0. The car starts and
    ends at rest. Speed is the most that the limits allow with even acceleration and braking
    (forward and backward pass over distance); 1 m/s² is a calm driver (common practice).
    Height is straight between the points. Distances agree with the route within 0.5 %,
    heights exactly. Raises ValueError on bad points, and on a route that takes longer than
    ``LONGEST_S``.
    """
    route = Route(*(np.asarray(a, dtype=np.float64) for a in (
        distance_m, speed_limit_m_s, elevation_m, stop_s)))  # fmt: skip
    _check(route, acceleration_m_s2, braking_m_s2)
    grid, speed = _speed_over_distance(route, acceleration_m_s2, braking_m_s2)
    clock, place = _clock(route, grid, speed)
    pace = _speeds_on_clock(route, grid, speed)
    return _resampled(clock, place, pace, route.distance_m, route.elevation_m, name)


def cap(profile: Profile, speed_m_s: float) -> Profile:
    """The profile with every speed held to ``speed_m_s``.

    On the flat durations stay and the distance shrinks: UN GTR No. 15, Annex 1, section 9
    caps slow vehicles so (it then lengthens the capped part until the distance is made up;
    here a lap simply is shorter, and the range counts only the metres really driven). On
    hills the road stays and the time grows.

    ValueError for a speed that is not above 0, and where the road then takes longer than
    ``LONGEST_S``.
    """
    if speed_m_s <= 0:
        raise ValueError("a speed cap must be above zero")
    if float(profile.speed_m_s.max()) <= speed_m_s:
        return profile
    name = f"{profile.name} capped at {speed_m_s * 3.6:g} km/h"
    pace = np.minimum(profile.speed_m_s, speed_m_s)
    if not profile.grade.any():
        return from_speeds(pace, name)
    place = np.concatenate([[0.0], np.cumsum(profile.distance_m)])
    height = np.concatenate([[0.0], np.cumsum(profile.rise_m)])
    mean = 0.5 * (pace[1:] + pace[:-1])
    lasting = np.where(mean > 0, profile.distance_m / np.where(mean > 0, mean, 1.0), 1.0)
    clock = np.concatenate([[0.0], np.cumsum(lasting)])
    return _resampled(clock, place, pace, place, height, name)


def _resampled(
    clock_s: FloatArray,
    place_m: FloatArray,
    pace_m_s: FloatArray,
    distance_m: FloatArray,
    elevation_m: FloatArray,
    name: str,
) -> Profile:
    """One sample a second of place and pace on a clock of uneven steps.

    Pace is straight in time between the points (even acceleration); the last whole second
    ends as the trace does.
    """
    if clock_s[-1] > LONGEST_S:
        raise ValueError(f"it takes {clock_s[-1] / 3600:.0f} h, at most {LONGEST_S / 3600:.0f}")
    seconds = np.arange(int(np.ceil(clock_s[-1])) + 1, dtype=np.float64)
    at = np.interp(seconds, clock_s, place_m)
    pace = np.interp(seconds, clock_s, pace_m_s)
    # Points may share a place (standing): keep the height of the last.
    rise = np.diff(np.interp(at, distance_m, elevation_m))
    moved = 0.5 * (pace[1:] + pace[:-1])
    return from_speeds(pace, name, _fit(rise, moved))


def _fit(rise: FloatArray, moved: FloatArray) -> FloatArray:
    """Heights gained while (by rounding) standing go to the next moving second."""
    fitted = np.zeros_like(rise)
    waiting = 0.0
    for index, (up, run) in enumerate(zip(rise.tolist(), moved.tolist(), strict=True)):
        waiting += up
        room = STEEPEST * run
        taken = min(room, max(-room, waiting))
        fitted[index] = taken
        waiting -= taken
    if waiting:
        last = np.nonzero(moved > min(0.5, 0.5 * float(moved.max())))[0]
        last = last[len(last) // 2 :]
        fitted[last] += waiting / len(last)
    return fitted


def _check(route: Route, acceleration: float, braking: float) -> None:
    lengths = {len(route.distance_m), len(route.speed_limit_m_s), len(route.elevation_m),
               len(route.stop_s)}  # fmt: skip
    if len(lengths) != 1 or len(route.distance_m) < 2:
        raise ValueError("a route needs two points or more, each with all four figures")
    if route.distance_m[0] != 0 or bool(np.any(np.diff(route.distance_m) <= 0)):
        raise ValueError("route distances must start at 0 and rise")
    if bool(np.any(route.speed_limit_m_s[:-1] <= 0)) or bool(np.any(route.stop_s < 0)):
        raise ValueError("speed limits must be above zero and stops not negative")
    if acceleration <= 0 or braking <= 0:
        raise ValueError("acceleration and braking must be above zero")
    if route.distance_m[-1] < SHORTEST_M:
        raise ValueError(f"a route must be {SHORTEST_M:g} m long or longer")
    slope = np.abs(np.diff(route.elevation_m)) / np.diff(route.distance_m)
    if bool(np.any(slope > 0.4)):
        raise ValueError("a route may not be steeper than 40 %")


def _speed_over_distance(
    route: Route, acceleration: float, braking: float
) -> tuple[FloatArray, FloatArray]:
    stops = route.stop_s > 0
    stops[0] = stops[-1] = True
    # Between two stops a point in the middle, however near they are: else nothing would move.
    fewest = np.where(stops[:-1] & stops[1:], 3, 2).tolist()
    pieces = [
        np.linspace(a, b, max(least, int(np.ceil((b - a) / GRID_M)) + 1))[:-1]
        for a, b, least in zip(route.distance_m[:-1], route.distance_m[1:], fewest, strict=True)
    ]
    grid = np.concatenate([*pieces, route.distance_m[-1:]])
    segment = np.clip(np.searchsorted(route.distance_m, grid, side="right") - 1, 0, None)
    segment = np.minimum(segment, len(route.distance_m) - 2)
    squared = route.speed_limit_m_s[segment] ** 2
    at_points = np.searchsorted(grid, route.distance_m)
    inner = at_points[1:-1]
    squared[inner] = np.minimum(squared[inner], squared[np.maximum(inner - 1, 0)])
    squared[at_points[stops]] = 0.0
    step = np.diff(grid)
    for index in range(len(step)):
        squared[index + 1] = min(
            squared[index + 1], squared[index] + 2 * acceleration * step[index]
        )
    for index in range(len(step) - 1, -1, -1):
        squared[index] = min(squared[index], squared[index + 1] + 2 * braking * step[index])
    return grid, np.sqrt(squared)


def _stop_places(route: Route, grid: FloatArray) -> dict[int, float]:
    at = np.searchsorted(grid, route.distance_m)
    return {int(i): float(s) for i, s in zip(at, route.stop_s, strict=True) if s > 0}


def _clock(route: Route, grid: FloatArray, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
    waits = _stop_places(route, grid)
    step_s = 2.0 * np.diff(grid) / np.maximum(speed[1:] + speed[:-1], 1e-9)
    clock, place, now = [], [], 0.0
    for index, where in enumerate(grid.tolist()):
        clock.append(now)
        place.append(where)
        if index in waits:
            now += waits[index]
            clock.append(now)
            place.append(where)
        if index < len(step_s):
            now += float(step_s[index])
    return np.array(clock), np.array(place)


def _speeds_on_clock(route: Route, grid: FloatArray, speed: FloatArray) -> FloatArray:
    waits = _stop_places(route, grid)
    repeated = np.ones(len(grid), dtype=np.int64)
    for index in waits:
        repeated[index] = 2
    return np.repeat(speed, repeated)
