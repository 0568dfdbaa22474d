"""Packs side by side: what a screen over many of them needs, in one condition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bomplan.physics.arrays import FloatArray, IntArray
from bomplan.physics.battery import Pack
from bomplan.physics.bounds import most_usable_energy
from bomplan.physics.powertrain import NEARLY_EMPTY, PEAK_HOLD_S

LEVELS = 128  # steps of the usable energy at which voltage and resistance are looked up
NODES = 512


@dataclass(frozen=True, eq=False)
class PackTable:
    """One entry per pack; the two-dimensional tables have one row per kind of module.

    ``level_v`` and ``level_ohm`` hold, for one module and a share k / LEVELS of the usable
    energy left, a voltage at rest that is no lower and a resistance no higher than any met
    from there on; ``low_v`` and ``high_ohm`` a voltage no higher and a resistance no lower than
    any met before. ``curve_v`` and ``curve_ohm`` hold one module at the points of its curve.
    ``external_ohm`` is what the traction circuit has at least. ``peak_a`` is the ten-second
    rating, ``greatest_a`` what the pack's own limit for ten seconds comes to.
    """

    module: npt.NDArray[np.int64]
    series: FloatArray
    parallel: FloatArray
    energy_j: FloatArray
    external_ohm: FloatArray
    least_v: FloatArray
    peak_a: FloatArray
    greatest_a: FloatArray
    rated_a: FloatArray
    peukert: FloatArray
    level_v: FloatArray
    level_ohm: FloatArray
    low_v: FloatArray
    high_ohm: FloatArray
    curve_v: FloatArray
    curve_ohm: FloatArray
    nearly_empty_v: FloatArray
    nearly_empty_ohm: FloatArray

    def at_level(self, which: IntArray, share: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(V, ohm) of these packs with this share of the energy left: no lower, no higher."""
        level = np.ceil(np.clip(share, 0.0, 1.0) * LEVELS).astype(np.int64)
        kind, series = self.module[which], self.series[which]
        volts = self.level_v[kind, level] * series
        ohms = self.level_ohm[kind, level] * series / self.parallel[which]
        return volts, ohms + self.external_ohm[which]

    def surely_at(
        self, which: IntArray, share: float, external_ohm: float
    ) -> tuple[FloatArray, FloatArray]:
        """(V, ohm) while this share of the energy or more is left: no higher, no lower.

        With so much circuit and nothing else outside the pack.
        """
        level = int(np.floor(min(max(share, 0.0), 1.0) * LEVELS))
        kind, series = self.module[which], self.series[which]
        ohms = self.high_ohm[kind, level] * series / self.parallel[which]
        return self.low_v[kind, level] * series, ohms + external_ohm

    def nearly_empty(self, which: IntArray, external_ohm: float) -> tuple[FloatArray, FloatArray]:
        """(V, ohm) where the limits of a profile are taken, with this much circuit."""
        kind, series = self.module[which], self.series[which]
        ohms = self.nearly_empty_ohm[kind] * series / self.parallel[which]
        return self.nearly_empty_v[kind] * series, ohms + external_ohm

    def greatest_power_w(
        self, which: IntArray, limit_a: FloatArray, external_ohm: float
    ) -> FloatArray:
        """Least power that these current limits mean anywhere in the window, W."""
        kind = self.module[which]
        series = self.series[which][:, None]
        open_v = self.curve_v[kind] * series
        total = self.curve_ohm[kind] * series / self.parallel[which][:, None] + external_ohm
        current = np.minimum(limit_a[:, None], open_v / (2.0 * total))
        return np.asarray(np.min(current * (open_v - total * current), axis=1), dtype=np.float64)


def pack_table(
    packs: list[Pack],
    which: IntArray,
    series: FloatArray,
    parallel: FloatArray,
    external_ohm: FloatArray | None = None,
) -> PackTable:
    """Packs of single modules scaled to so many in series and parallel.

    ``packs[which[i]]`` is the one-module pack that entry i is built of.
    """

    def of(values: list[float]) -> FloatArray:
        return np.asarray(values, dtype=np.float64)[which]

    levels = [_levels(pack) for pack in packs]
    points = [_curve(pack) for pack in packs]
    longest = max((len(volts) for volts, _ in points), default=1)
    low = [np.array([_nearly_empty(pack)]) for pack in packs]
    return PackTable(
        module=np.asarray(which, dtype=np.int64),
        series=series,
        parallel=parallel,
        energy_j=of([most_usable_energy(pack) for pack in packs]) * series * parallel,
        external_ohm=np.zeros(len(which)) if external_ohm is None else external_ohm,
        least_v=of([pack.min_voltage_v for pack in packs]) * series,
        peak_a=of([pack.discharge_10s_a for pack in packs]) * parallel,
        greatest_a=of([pack.discharge_limit_a(PEAK_HOLD_S) for pack in packs]) * parallel,
        rated_a=of([pack.rated_current_a() for pack in packs]) * parallel,
        peukert=of([pack.peukert for pack in packs]),
        level_v=np.array([one[0] for one in levels]),
        level_ohm=np.array([one[1] for one in levels]),
        low_v=np.array([one[2] for one in levels]),
        high_ohm=np.array([one[3] for one in levels]),
        curve_v=np.array([_padded(volts, longest) for volts, _ in points]),
        curve_ohm=np.array([_padded(ohms, longest) for _, ohms in points]),
        nearly_empty_v=np.array(
            [float(pack.open_circuit(soc)[0]) for pack, soc in zip(packs, low, strict=True)]
        ),
        nearly_empty_ohm=np.array(
            [float(pack.resistance(soc)[0]) for pack, soc in zip(packs, low, strict=True)]
        ),
    )


def _nearly_empty(pack: Pack) -> float:
    return pack.soc_min + NEARLY_EMPTY * (pack.soc_max - pack.soc_min)


def _curve(pack: Pack) -> tuple[FloatArray, FloatArray]:
    """Voltage and resistance at the window's ends and at the curve's points within."""
    inside = (pack.curve.soc > pack.soc_min) & (pack.curve.soc < pack.soc_max)
    soc = np.concatenate([[pack.soc_min], pack.curve.soc[inside], [pack.soc_max]])
    return pack.open_circuit(soc), pack.resistance(soc)


def _levels(pack: Pack) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """For each share of the usable energy: voltage there, and the least resistance below it.

    Taken at the first node at or above the share; then the same at the last node at or below
    it, with the greatest resistance above. Voltage is straight between the curve's
    points, all of which are nodes, so the energies at the nodes are exact.
    """
    points = pack.curve.soc[(pack.curve.soc > pack.soc_min) & (pack.curve.soc < pack.soc_max)]
    soc = np.union1d(np.linspace(pack.soc_min, pack.soc_max, NODES + 1), points)
    volts = pack.open_circuit(soc)
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (volts[1:] + volts[:-1]) * np.diff(soc))])
    wanted = np.linspace(0.0, 1.0, LEVELS + 1) * float(energy[-1])
    at = np.minimum(np.searchsorted(energy, wanted * (1.0 - 1e-12)), len(soc) - 1)
    under = np.maximum(np.searchsorted(energy, wanted * (1.0 - 1e-12), side="right") - 1, 0)
    ohms = pack.resistance(soc)
    most = np.maximum.accumulate(ohms[::-1])[::-1]
    return volts[at], np.minimum.accumulate(ohms)[at], volts[under], most[under]


def _padded(values: FloatArray, length: int) -> FloatArray:
    return np.concatenate([values, np.repeat(values[-1:], length - len(values))])
