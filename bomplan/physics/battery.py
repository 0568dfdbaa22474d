"""The pack: open-circuit voltage, resistance, capacity and what it gives under load.

Sources: J. Larminie and J. Lowry, *Electric Vehicle Technology Explained* (Wiley, 2nd ed.
2012), ch. 3 (Peukert step by step, voltage from E and R); W. Peukert, Elektrotechnische
Zeitschrift 20 (1897), p. 287. An ohmic model with the direct-current resistance of 10 to 30
seconds: no diffusion, no hysteresis; good for driving, not for a pulse of milliseconds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from bomplan.physics.arrays import FloatArray, frozen, log_interpolated

TAPER_SOC = 0.02  # charge acceptance fades over this last piece of the window
PULSE_ENDS_S = 60.0  # from here on the continuous rating counts (common practice)


@dataclass(frozen=True, eq=False)
class CellCurve:
    """One cell against state of charge: volts at rest, and resistance over that at 50 %.

    ValueError unless the voltage rises and every resistance factor is above 0.
    """

    soc: FloatArray
    open_circuit_v: FloatArray
    resistance_factor: FloatArray

    def __post_init__(self) -> None:
        if bool(np.any(np.diff(self.soc) <= 0)) or bool(np.any(np.diff(self.open_circuit_v) < 0)):
            raise ValueError("a cell curve must rise with the state of charge")
        if len(self.soc) < 2 or bool(np.any(self.resistance_factor <= 0)):
            raise ValueError("a cell curve needs two points or more and positive resistance")


@dataclass(frozen=True, eq=False)
class Pack:
    """A pack in one condition (temperature, age): every figure is that of the whole pack.

    ``capacity_ah`` is that at the rated current, rated_hours' discharge; ``resistance_ohm``
    is the direct-current one at 50 %. ``peukert`` is 1.0 for lithium. ``min_voltage_v`` is
    the greater of cut-off per cell times cells and the controller's own; ``charge_limit_a``
    0 means that nothing may flow back.

    ``soc_min`` and ``soc_max`` (states of charge, 0 to 1) bound what may be used. ValueError for
    a window that is empty or a pack without capacity or resistance.
    """

    curve: CellCurve
    cells_series: int
    capacity_ah: float
    resistance_ohm: float
    rated_hours: float
    peukert: float
    soc_min: float
    soc_max: float
    min_voltage_v: float
    max_voltage_v: float
    discharge_continuous_a: float
    discharge_10s_a: float
    charge_limit_a: float = 0.0

    def __post_init__(self) -> None:
        if not 0 <= self.soc_min < self.soc_max <= 1:
            raise ValueError("the usable window must lie in 0 to 1 and not be empty")
        if self.capacity_ah <= 0 or self.resistance_ohm <= 0 or self.peukert < 1:
            raise ValueError(
                "a pack needs capacity, resistance and a Peukert exponent of 1 or more"
            )

    @cached_property
    def open_circuit_table_v(self) -> FloatArray:
        """Open-circuit voltage of the pack at ``curve.soc``."""
        return frozen(np.asarray(self.curve.open_circuit_v) * self.cells_series)

    @cached_property
    def resistance_table_ohm(self) -> FloatArray:
        """Resistance of the pack at ``curve.soc``."""
        return frozen(np.asarray(self.curve.resistance_factor) * self.resistance_ohm)

    def open_circuit(self, soc: FloatArray) -> FloatArray:
        """Open-circuit voltage of the pack, V."""
        return np.interp(soc, self.curve.soc, self.open_circuit_table_v)

    def resistance(self, soc: FloatArray) -> FloatArray:
        """Internal resistance of the pack, ohm."""
        return np.interp(soc, self.curve.soc, self.resistance_table_ohm)

    def rated_current_a(self) -> float:
        """Current of the rated discharge, A."""
        return self.capacity_ah / self.rated_hours

    def charge_drawn(self, current_a: FloatArray) -> FloatArray:
        """Current that the capacity feels, A: Peukert on discharge above the rated current.

        Larminie and Lowry, ch. 3: I^k per second out, I per second in. Never extrapolated
        below the rated current (there the exponent would promise more than was measured).
        """
        if self.peukert == 1.0:
            return current_a
        rated = self.rated_current_a()
        excess = np.maximum(current_a * (1.0 / rated), 1.0)
        return np.asarray(current_a * excess ** (self.peukert - 1.0), dtype=np.float64)

    def discharge_limit_a(self, hold_s: float) -> float:
        """Current that may be drawn for ``hold_s``, A."""
        return log_interpolated(
            hold_s,
            (
                (10.0, max(self.discharge_10s_a, self.discharge_continuous_a)),
                (PULSE_ENDS_S, self.discharge_continuous_a),
                (math.inf, self.discharge_continuous_a),
            ),
        )

    def soc_at(self, share_left: float) -> float:
        """State of charge with this share of the usable energy left (open-circuit energy)."""
        soc, energy = self._energy_table
        return float(np.interp(share_left * energy[-1], energy, soc))

    def usable_energy_j(self) -> float:
        """Open-circuit energy of the usable window, J."""
        return float(self._energy_table[1][-1])

    @cached_property
    def _energy_table(self) -> tuple[FloatArray, FloatArray]:
        inside = self.curve.soc[(self.curve.soc > self.soc_min) & (self.curve.soc < self.soc_max)]
        soc = np.unique(np.concatenate([inside, np.linspace(self.soc_min, self.soc_max, 65)]))
        volts = self.open_circuit(soc)
        steps = 0.5 * (volts[1:] + volts[:-1]) * np.diff(soc) * self.capacity_ah * 3600.0
        return frozen(soc), frozen(np.concatenate([[0.0], np.cumsum(steps)]))


def current_for_power(
    power_w: FloatArray, open_circuit_v: FloatArray, resistance_ohm: FloatArray
) -> FloatArray:
    """Current that gives a power at the terminals, A; nan where the pack cannot give it.

    I = (E - sqrt(E² - 4 P R)) / (2 R), written so that it also holds for R = 0. Negative
    power charges. The greatest power is E²/(4 R).
    """
    inside = np.asarray(open_circuit_v**2 - 4.0 * power_w * resistance_ohm, dtype=np.float64)
    root = np.sqrt(np.where(inside >= 0, inside, np.nan))
    return np.asarray(2.0 * power_w / (open_circuit_v + root), dtype=np.float64)


def greatest_power_w(open_circuit_v: float, resistance_ohm: float) -> float:
    """E²/(4 R): no load can take more, W."""
    return open_circuit_v**2 / (4.0 * resistance_ohm)


def peukert_exponent(
    capacity_long_ah: float, hours_long: float, capacity_short_ah: float, hours_short: float
) -> float:
    """Peukert exponent from two capacities: ln(t1/t2) / ln(I2/I1); at least 1.

    Hours are those of the two discharges at constant current. ValueError where the shorter one
    is not at more current.
    """
    current_long = capacity_long_ah / hours_long
    current_short = capacity_short_ah / hours_short
    if current_short <= current_long or hours_long <= hours_short:
        raise ValueError("the shorter discharge must be the one at more current")
    return max(1.0, math.log(hours_long / hours_short) / math.log(current_short / current_long))


def peukert_hours(
    capacity_ah: float, rated_hours: float, exponent: float, current_a: float
) -> float:
    """Hours a discharge lasts: H (C/(I H))^n; below the rated current simply C/I."""
    ratio = capacity_ah / (current_a * rated_hours)
    return rated_hours * ratio if ratio > 1 else rated_hours * ratio**exponent
