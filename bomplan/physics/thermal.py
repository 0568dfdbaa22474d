"""Heat: rolling root-mean-square values, and how far a pack warms by its own losses."""

from __future__ import annotations

import math

import numpy as np

from bomplan.physics.arrays import FloatArray

WINDOWS_S = (10, 60, 120, 300, 600, 1200, 3600)


class RollingRms:
    """Greatest root mean square over any window of each length, fed piece by piece.

    A window longer than the whole series gets the value of the whole: the part is taken to
    have run as hard before (a warm start). Copper heats with the square of the current,
    hence the square (IEC 60034-1, duty types).
    """

    def __init__(self, windows_s: tuple[int, ...] = WINDOWS_S) -> None:
        self.windows_s = windows_s
        self.longest = max(windows_s)
        self.tail = np.zeros(0)  # squares of the last seconds
        self.count = 0
        self.total = 0.0
        self.most = dict.fromkeys(windows_s, 0.0)

    def add(self, values: FloatArray) -> None:
        """The next seconds, one value each."""
        squares = values * values
        known = np.concatenate([self.tail, squares])
        running = np.empty(len(known) + 1)
        running[0] = 0.0
        np.cumsum(known, out=running[1:])
        for window in self.windows_s:
            # Windows that end in the new seconds.
            first = max(window, len(self.tail) + 1)
            if first < len(running):
                ends = running[first:]
                begins = running[first - window : len(running) - window]
                self.most[window] = max(self.most[window], float(np.max(ends - begins)))
        self.count += len(values)
        self.total += float(running[-1] - running[len(self.tail)])
        self.tail = known[max(0, len(known) - self.longest) :]

    def greatest(self) -> dict[float, float]:
        """By window in seconds; ``inf`` for the whole series."""
        whole = math.sqrt(self.total / self.count) if self.count else 0.0
        found = {
            float(window): math.sqrt(self.most[window] / window) if window < self.count else whole
            for window in self.windows_s
        }
        return {**found, math.inf: whole}


def rolling_rms(values: FloatArray, windows_s: tuple[int, ...] = WINDOWS_S) -> dict[float, float]:
    """:class:`RollingRms` of one whole series, one value per second.

    ``values`` in any unit, which the answer keeps.
    """
    rms = RollingRms(windows_s)
    if len(values):
        rms.add(np.asarray(values, dtype=np.float64))
    return rms.greatest()


def rolling_rms_of_laps(
    lap: FloatArray, steps: int, windows_s: tuple[int, ...] = WINDOWS_S
) -> dict[float, float]:
    """:func:`rolling_rms` of a lap repeated over ``steps`` seconds, in a few laps' time.

    A window holds whole laps and a rest: two laps show every rest there is.
    """
    length = len(lap)
    if steps <= 2 * length:
        return rolling_rms(np.resize(lap, steps), windows_s)
    squares = lap * lap
    one = float(squares.sum())
    total = np.concatenate([[0.0], np.cumsum(np.concatenate([squares, squares]))])
    found = {}
    laps, rest = divmod(steps, length)
    everything = math.sqrt((laps * one + float(total[rest])) / steps)
    for window in windows_s:
        if window >= steps:
            found[float(window)] = everything
            continue
        whole, rest = divmod(window, length)
        greatest = float(np.max(total[rest : rest + length] - total[:length]))
        found[float(window)] = math.sqrt(max(0.0, whole * one + greatest) / window)
    found[math.inf] = everything
    return found


def pack_temperature(
    loss_w: float,
    seconds: float,
    mass_kg: float,
    specific_heat_j_kg_k: float = 1000.0,
    cooling_w_per_k: float = 0.0,
    ambient_c: float = 25.0,
    start_c: float | None = None,
) -> float:
    """Temperature of a pack after a time of even losses, °C: one node with cooling to air.

    T = T_a + (T_0 - T_a) e^(-t/tau) + (P/G)(1 - e^(-t/tau)), tau = m c/G; without cooling
    P t/(m c). Cells hold about 0.9 to 1.1 kJ/(kg K) (common practice). The middle of a
    block is hotter than this mean.
    """
    start = ambient_c if start_c is None else start_c
    capacity = mass_kg * specific_heat_j_kg_k
    if cooling_w_per_k <= 0:
        return start + loss_w * seconds / capacity
    fade = math.exp(-seconds * cooling_w_per_k / capacity)
    return ambient_c + (start - ambient_c) * fade + loss_w / cooling_w_per_k * (1.0 - fade)
