"""Speed against time: the trace a drive follows, second by second."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from bomplan.physics.arrays import FloatArray, IntArray, frozen

CLOSED_WITHIN_M = 0.01
# A dip so small gives a kilogram some ten joules, and the way has to end so many times as high
# above its start. Bounds of common sense, not proofs (docs/explanation/driving.md).
SMALL_DIP_M, CLIMBED_OUT = 1.0, 3.0
LEAST_ROLLING = 0.005  # coefficient below which no road tyre rolls (common practice)


@dataclass(frozen=True, eq=False)
class Profile:
    """A trace at one sample a second.

    ``time_s`` and ``speed_m_s`` hold n + 1 samples; ``grade`` (rise over run) and
    ``distance_m`` (length of the step) hold one value for each of the n steps between
    them. ``closed`` tells that the trace ends as fast and at least as high as it began, so
    that it can be driven over and over and more mass cannot pay for whole laps; for others see
    :meth:`mass_never_pays`.

    ``table_gears`` keeps the gears that a driver's shift table gives, by its speeds.
    """

    time_s: FloatArray
    speed_m_s: FloatArray
    grade: FloatArray
    distance_m: FloatArray
    name: str
    closed: bool
    table_gears: dict[tuple[float, ...], IntArray] = field(
        default_factory=dict, repr=False
    )  # what gears.by_table has worked out already

    @property
    def steps(self) -> int:
        """Number of seconds in one lap."""
        return len(self.grade)

    @cached_property
    def length_m(self) -> float:
        """Distance of one lap."""
        return float(self.distance_m.sum())

    def mass_never_pays(self, wanted_m: float) -> bool:
        """Whether more mass cannot help to go just this far, on any road with usual tyres.

        Whole laps of a closed trace cost more the heavier the car: what rolling takes. A descent
        after them, of which the way ends before it is climbed again, helps the heavier car by what
        it falls; where that is more, mass may pay. A dip in the first metres, of less than a metre,
        pays for no kilogram that is carried up farther on: it is passed with a pack nearly full.
        """
        laps, rest = divmod(max(0.0, wanted_m), self.length_m)
        steps = 0 if rest == 0 else 1 + int(np.searchsorted(self._travelled_m, rest, side="left"))
        spent = self._spent_m[:steps]
        return self._costs(laps, spent) or (laps == 0 and self._climbs_out(spent))

    def _climbs_out(self, spent_m: FloatArray) -> bool:
        """Whether the way dips a little at most, and ends three times as high above its start."""
        dip = -float(spent_m.min(initial=0.0))
        return (
            self.closed and dip <= SMALL_DIP_M and bool((spent_m[-2:] >= CLIMBED_OUT * dip).all())
        )

    def mass_never_pays_from(self, wanted_m: float) -> bool:
        """The same for this far and any farther."""
        return self._costs(max(0.0, wanted_m) // self.length_m, self._spent_m)

    def _costs(self, laps: float, spent_m: FloatArray) -> bool:
        """Whether so many laps take what the ``spent`` of a further one never gives back."""
        rolling = laps * LEAST_ROLLING * self.length_m
        return self.closed and rolling + float(spent_m.min(initial=0.0)) >= -CLOSED_WITHIN_M

    @cached_property
    def _travelled_m(self) -> FloatArray:
        """Where each step of a lap ends, from its beginning."""
        return frozen(np.cumsum(self.distance_m))

    @cached_property
    def _spent_m(self) -> FloatArray:
        """Height and least rolling up to there: what a car pays for its weight, over that."""
        return frozen(np.cumsum(self.rise_m) + LEAST_ROLLING * self._travelled_m)

    @cached_property
    def mean_speed_m_s(self) -> FloatArray:
        """Mean speed over each step (the speed changes evenly within a step)."""
        return frozen(0.5 * (self.speed_m_s[1:] + self.speed_m_s[:-1]))

    @cached_property
    def acceleration_m_s2(self) -> FloatArray:
        """Acceleration over each step."""
        return frozen(np.diff(self.speed_m_s))

    @cached_property
    def sine(self) -> FloatArray:
        """Sine of the slope over each step."""
        return frozen(self.grade / np.sqrt(1.0 + self.grade**2))

    @cached_property
    def cosine(self) -> FloatArray:
        """Cosine of the slope over each step."""
        return frozen(1.0 / np.sqrt(1.0 + self.grade**2))

    @cached_property
    def distinct(self) -> tuple[IntArray, IntArray]:
        """(first, which): one step of each kind, and for every step the place of its kind.

        Steps of one kind have the same speeds at both ends and the same slope.
        """
        kinds = np.stack([self.speed_m_s[:-1], self.speed_m_s[1:], self.grade])
        order = np.lexsort(kinds)
        changes = np.any(np.diff(kinds[:, order], axis=1) != 0, axis=0)
        number = np.concatenate([[0], np.cumsum(changes)])
        which = np.empty(len(order), dtype=np.int64)
        which[order] = number
        starts = np.concatenate([[0], np.flatnonzero(changes) + 1])
        return order[starts], which

    @cached_property
    def rise_m(self) -> FloatArray:
        """Height gained over each step."""
        return frozen(self.sine * self.distance_m)


def from_speeds(speed_m_s: FloatArray, name: str, rise_m: FloatArray | None = None) -> Profile:
    """A profile from n + 1 speeds one second apart and, if hilly, the n heights gained.

    Raises ValueError on a negative speed, or on a rise of half a step's length and more.
    """
    speed = frozen(speed_m_s)
    if len(speed) < 2 or bool(np.any(speed < 0)):
        raise ValueError("a profile needs two speeds or more, none negative")
    distance = frozen(0.5 * (speed[1:] + speed[:-1]))
    rise = np.zeros(len(distance)) if rise_m is None else np.asarray(rise_m, dtype=np.float64)
    if bool(np.any(np.abs(rise) > 0.5 * distance + 1e-12)):
        raise ValueError("a profile climbs more than half a metre per metre of road")
    run = np.sqrt(np.maximum(distance**2 - rise**2, 0.0))
    grade = np.divide(rise, run, out=np.zeros_like(rise), where=run > 0)
    level = float(rise.sum()) >= -CLOSED_WITHIN_M
    return Profile(
        time_s=frozen(np.arange(len(speed))),
        speed_m_s=speed,
        grade=frozen(grade),
        distance_m=distance,
        name=name,
        closed=bool(level and abs(speed[0] - speed[-1]) < 1e-9),
    )
