"""Unequal strings in parallel: who carries what."""

from __future__ import annotations

import numpy as np

from bomplan.physics.arrays import FloatArray


def string_currents(
    open_circuit_v: FloatArray, resistance_ohm: FloatArray, total_a: float
) -> FloatArray:
    """Current of each string, A, positive on discharge; they sum to ``total_a``.

    Kirchhoff: every string has the same voltage V at the common rails, I_k = (E_k - V)/R_k.
    At no load unequal strings drive current into each other: (E1 - E2)/(R1 + R2) for two.

    ValueError unless each string has a voltage and a resistance above 0.
    """
    open_v = np.asarray(open_circuit_v, dtype=np.float64)
    ohm = np.asarray(resistance_ohm, dtype=np.float64)
    if len(open_v) != len(ohm) or not len(ohm) or bool(np.any(ohm <= 0)):
        raise ValueError("each string needs a voltage and a resistance above zero")
    conductance = 1.0 / ohm
    voltage = (float(np.dot(open_v, conductance)) - total_a) / float(conductance.sum())
    return np.asarray((open_v - voltage) * conductance, dtype=np.float64)


def sharing_derate(resistance_ohm: FloatArray) -> float:
    """Total current over n times the hardest-worked string's, for equal open-circuit volts.

    1 for equal strings; what a pack of strings may give is this times n times one string's
    rating.
    """
    currents = string_currents(np.zeros(len(resistance_ohm)), resistance_ohm, 1.0)
    return float(1.0 / (len(currents) * currents.max()))
