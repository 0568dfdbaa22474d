"""A drive that its reserve ends with the last metre of a lap.

The length of a lap and the running sum of its steps are added up in another order: the one may
be above the other by a rounding, and what is left of a lap may lie between them.
"""

from __future__ import annotations

from random import Random
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from bomplan.physics.drive import _stop
from bomplan.physics.profile import Profile

LAPS = range(1, 60)


def profile(seed: int) -> Profile:
    """Two minutes of uneven steps, the last of them standing on every other seed."""
    random = Random(seed)
    steps = [random.uniform(0.5, 14.0) for _ in range(120)] + [0.0] * (seed % 2 * 5)
    count = len(steps)
    return Profile(
        time_s=np.arange(count + 1, dtype=float),
        speed_m_s=np.zeros(count + 1),
        grade=np.zeros(count),
        distance_m=np.array(steps),
        name="uneven",
        closed=True,
    )


def left_between(one: Profile, laps: int) -> bool:
    """Whether so many whole laps leave more of a lap than its steps come to one by one."""
    end = float(np.cumsum(one.distance_m)[-1])
    return divmod(laps * one.length_m + end, one.length_m)[1] > end


@pytest.mark.parametrize("standing", [False, True])
def test_a_reserve_that_is_reached_at_the_end_of_a_lap(standing: bool) -> None:
    """The state of charge falls to the reserve in the last second of so many laps and one."""
    between = 0
    for seed in range(int(standing), 40, 2):
        one = profile(seed)
        pack: Any = SimpleNamespace(soc_at=lambda _: 0.4)
        system: Any = SimpleNamespace(pack=pack)
        for laps in LAPS:
            before = SimpleNamespace(seconds=(laps + 1) * one.steps - 1, soc=np.array([1.0]))
            last = SimpleNamespace(seconds=1, soc=np.array([0.6, 0.4]))
            gone: Any = SimpleNamespace(
                cause="window",
                steps=1000 * one.steps,
                last_share=0.5,
                blocks=(before, last),
            )
            stop = _stop(system, one, gone, reserve=0.001)
            assert stop.distance_m == pytest.approx((laps + 1) * one.length_m)
            assert 0.0 <= stop.share <= 1.0
            # Where the last metre is driven, or a rounding into the next lap.
            arrived = laps * one.steps + 120
            assert arrived - 1e-6 <= stop.full + stop.share <= arrived + 5 * standing + 1e-6
            between += left_between(one, laps)
    assert between > 10
