"""What drives take at least by the seconds of a lap, and how far they go at most, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bomplan.physics.energy_floor import LeastLap
from bomplan.physics.profile import Profile, from_speeds

HILLS = from_speeds(
    np.array([0.0, 4.0, 9.0, 12.0, 12.0, 12.0, 10.0, 6.0, 1.0, 0.0] * 6),
    "hills",
    np.array(([0.1, 0.3, 0.5, 0.9, 0.2, -0.7, -0.9, -0.3, -0.1, 0.0] * 6)[:59]),
)
CLIMBS = [3_000.0, 9_000.0, 14_000.0, 21_000.0, 8_000.0, -6_000.0, -9_000.0, -4_000.0, 50.0, 0.0]
DESCENDS = CLIMBS[5:] + CLIMBS[:5]
BESIDE_W = 300.0


def lap_of(powers: list[float], saved_j: float, profile: Profile = HILLS) -> LeastLap:
    whole = (powers * 6)[: profile.steps]
    return LeastLap(profile, np.array([whole]), np.array([saved_j]), BESIDE_W)


@pytest.mark.parametrize("powers", [CLIMBS, DESCENDS])
@pytest.mark.parametrize("saved_j", [0.0, 21_000.0])
def test_the_least_mean_and_the_farthest_place_by_hand(powers: list[float], saved_j: float) -> None:
    least = lap_of(powers, saved_j)
    whole, steps, length = (powers * 6)[: HILLS.steps], HILLS.steps, HILLS.length_m
    lap = sum(whole) - saved_j + BESIDE_W * steps
    place = np.cumsum(HILLS.distance_m)

    def until(second: int) -> float:
        """J up to where a second begins, within a lap."""
        return sum(whole[:second]) - saved_j + BESIDE_W * second if second else 0.0

    drives = [
        (laps * length + float(place[at]), laps * lap + until(at))
        for laps in range(60)
        for at in range(steps)
    ]
    for from_m in (0.4 * length, length, 1.7 * length, 3.2 * length):
        means = [taken / metres for metres, taken in drives if metres >= from_m - 1e-3]
        found = float(least.least_j_per_m(from_m)[0])
        assert found == pytest.approx(min(*means, lap / length), rel=1e-9)
    for energy in (0.0, 0.4 * lap, lap, 2.7 * lap, 40.0 * lap):
        far = least.most_distance_m(np.array([0]), np.array([energy]))
        best = max(metres for metres, taken in drives if taken <= energy)
        assert float(far[0]) == pytest.approx(best + 1e-3, abs=1e-6)


def test_a_lap_that_takes_nothing_goes_on_for_ever() -> None:
    down = from_speeds(np.full(31, 12.0), "down", np.full(30, -1.5))
    least = LeastLap(down, np.full((2, 30), -400.0), np.zeros(2), BESIDE_W)
    assert least.most_distance_m(np.array([0]), np.array([1.0])).tolist() == [math.inf]
