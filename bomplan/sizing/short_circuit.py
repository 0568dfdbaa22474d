"""The greatest and the least current that a dead short can draw from the pack."""

from __future__ import annotations


def pack_resistance_ohm(module_mohm: float, series: int, parallel: int) -> float:
    """Resistance of equal modules in series and parallel, in ohm.

    ValueError for fewer than 1 in series or in parallel.
    """
    if series < 1 or parallel < 1:
        raise ValueError("series and parallel must be 1 or more")
    return module_mohm * series / parallel / 1000.0


def prospective_a(open_circuit_v: float, source_ohm: float, path_ohm: float) -> float:
    """Current into a dead short: open-circuit voltage over all resistance, in A.

    ValueError for resistances below 0, or none at all.
    """
    if source_ohm < 0 or path_ohm < 0 or source_ohm + path_ohm <= 0:
        raise ValueError("resistances cannot be below 0, nor all of them 0")
    return open_circuit_v / (source_ohm + path_ohm)


def greatest_a(full_open_circuit_v: float, low_source_ohm: float, cold_path_ohm: float) -> float:
    """For breaking capacity: full pack, warm cells at their 1 kHz resistance, cable at 20 °C.

    Common practice; the low resistance is the data sheet's alternating-current figure.
    """
    return prospective_a(full_open_circuit_v, low_source_ohm, cold_path_ohm)


def least_a(empty_open_circuit_v: float, high_source_ohm: float, hot_path_ohm: float) -> float:
    """For clearing: empty, cold and aged pack at its direct-current resistance, hot cable."""
    return prospective_a(empty_open_circuit_v, high_source_ohm, hot_path_ohm)
