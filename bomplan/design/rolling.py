"""The greatest rolling means of the declared driving, for every time a part is rated for.

Taken at the reference mass from full to empty, out of a warm start; a mean is the root of the
mean square, since copper heats with the square of the current (IEC 60034-1, duty types).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bomplan.physics import RangeAnswer
from bomplan.project.records import ClimbTarget

MINUTE_S = 60.0
FIVE_MINUTES_S = 300.0
HOUR_S = 3600.0
# Ten minutes: about the time in which cable of these sizes warms up (common practice).
ROLLING_S = 600.0
# From here on a part does not tell a drive from one that never ends (common practice).
FOR_EVER_S = 7200.0


@dataclass(frozen=True)
class RollingLoad:
    """The worst of all range targets over one window; ``inf`` is a drive of two hours and more.

    ``motor_share`` is motor current over the controller's peak motor current: the share of the
    pair's envelope that is used, whatever the speed.
    """

    seconds: float
    battery_a: float
    motor_a: float
    motor_share: float


def rolling_loads(answers: Iterable[RangeAnswer], motor_peak_a: float) -> tuple[RollingLoad, ...]:
    """One entry per window that the checks ask for; empty without a drive."""
    known = tuple(answers)
    found = []
    for seconds in (MINUTE_S, FIVE_MINUTES_S, HOUR_S, math.inf):
        long = [answer for answer in known if seconds < math.inf or answer.drive_s >= FOR_EVER_S]
        if not long:
            continue
        motor_a = max(answer.motor_rms_a[seconds] for answer in long)
        found.append(
            RollingLoad(
                seconds=seconds,
                battery_a=max(answer.battery_rms_a[seconds] for answer in long),
                motor_a=motor_a,
                motor_share=motor_a / motor_peak_a,
            )
        )
    return tuple(found)


def sizes_conductors(climb: ClimbTarget) -> bool:
    """Whether this climb is driven for the currents: a start from rest, or a long one."""
    return climb.speed_m_s == 0 or climb.hold_s >= ROLLING_S
