"""Voltage class and isolation: what keeps a person alive who touches one pole."""

from __future__ import annotations

from math import inf
from typing import Literal

CLASS_A_DC_V = 60.0
CLASS_B_DC_V = 1500.0
"""Limits of classes A and B for direct voltage: ISO 6469-3, UN R100 (from memory; 60 V seen
as a hazard line)."""
OHM_PER_V_DC = 100.0
OHM_PER_V_AC = 500.0
"""Least isolation of a direct and of an alternating bus: UN R100 5.1.3.1 (seen)."""
EXPECTED_OHM = 1_000_000.0
FAULTY_BELOW_OHM = 500_000.0
"""What a dry new build shows, and where to look for a fault below it; common practice."""
BONDING_OHM = 0.1
"""Greatest resistance from a metal cover to the chassis: R100-aligned draft 5.1.2.2 (seen)."""
STRING_V = 60.0
"""Greatest voltage of a section while building; common practice."""
ENERGY_LIMIT_J = 0.2
"""Energy that may remain after a crash: UN R94, R95 (from memory)."""


MONITOR_ADVISED_ABOVE_V = 120.0
"""Above this pack voltage a permanent isolation monitor is advised; common practice."""


def voltage_class(dc_v: float) -> Literal["A", "B", "above B"]:
    """Class of a direct voltage."""
    if dc_v <= CLASS_A_DC_V:
        return "A"
    return "B" if dc_v <= CLASS_B_DC_V else "above B"


def least_isolation_ohm(highest_v: float, ac_joined: bool, ac_protected: bool = False) -> float:
    """Isolation from chassis that a circuit must keep, in ohm.

    100 ohm/V for direct current; 500 ohm/V where alternating parts are joined to it without
    galvanic separation, unless those are double insulated or robustly enclosed (UN R100
    5.1.3.1 and 5.1.3.2, seen).
    """
    per_volt = OHM_PER_V_AC if ac_joined and not ac_protected else OHM_PER_V_DC
    return per_volt * highest_v


def leakage_a(voltage_v: float, isolation_ohm: float) -> float:
    """Current through one touch of the other pole, in A."""
    return voltage_v / isolation_ohm


def measured_isolation_ohm(
    known_ohm: float, pack_v: float, pole_v: float, bridged_v: float
) -> float:
    """Isolation from two voltmeter readings, in ohm.

    ``pole_v``: the higher of the two pole-to-chassis voltages; ``bridged_v``: the same after
    bridging that pole to chassis with ``known_ohm``. Ri = Ro Vb (1/V1' - 1/V1), UN R100
    annex (from memory). A reading that does not fall means a dead leak from the other pole: 0.

    ValueError for readings that are not above 0 or that bridging raised.
    """
    if min(known_ohm, pack_v, pole_v, bridged_v) <= 0 or bridged_v > pole_v:
        raise ValueError("readings must be above 0 and bridging cannot raise the voltage")
    return known_ohm * pack_v * (1.0 / bridged_v - 1.0 / pole_v)


def stored_energy_j(voltage_v: float, capacitance_f: float) -> float:
    """Energy in a capacitor, in J."""
    return 0.5 * capacitance_f * voltage_v * voltage_v


def sections(series: int, module_highest_v: float, limit_v: float = STRING_V) -> list[int]:
    """Modules per section so that none exceeds ``limit_v`` while building, as equal as may be.

    A module that is above the limit by itself stands alone in its section.

    ValueError for a module whose voltage is not above 0 V.
    """
    if series < 1:
        return []
    if module_highest_v <= 0:
        raise ValueError("a module's voltage must be above 0 V")
    most = max(1, int(limit_v / module_highest_v + 1e-9)) if limit_v < inf else series
    number = -(-series // most)
    base, extra = divmod(series, number)
    return [base + 1] * extra + [base] * (number - extra)
