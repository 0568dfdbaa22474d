"""Many packs against one drive at once: which of them may hold enough for a distance.

A screen is only allowed to be optimistic. Every second takes the gear of least draw; the
seconds that a pack may cut short are left out of the losses; the current is taken at the
pack's highest voltage at rest, where it is smallest; resistance at its lowest over the state
of charge. What is left is still close, because it counts the two things that a plain energy
bound forgets: what the pack's own resistance eats, and Peukert.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bomplan.physics.arrays import FloatArray
from bomplan.physics.battery import Pack
from bomplan.physics.bounds import (
    STEP_SLACK,
    free_power,
    least_battery_energy,
    most_usable_energy,
)
from bomplan.physics.drive import FOLLOWED_SHARE
from bomplan.physics.profile import Profile
from bomplan.physics.system import System


@dataclass(frozen=True, eq=False)
class PackTable:
    """Packs side by side, one entry each: what the screen needs of them, in one condition.

    ``highest_v`` at rest when full, ``lowest_v`` at rest at the end of the window,
    ``least_ohm`` the resistance where it is lowest, ``rated_a`` the rated current.
    """

    energy_j: FloatArray
    charge_c: FloatArray
    highest_v: FloatArray
    lowest_v: FloatArray
    least_ohm: FloatArray
    rated_a: FloatArray
    peukert: FloatArray


def pack_table(
    packs: list[Pack], which: npt.NDArray[np.int64], series: FloatArray, parallel: FloatArray
) -> PackTable:
    """Packs of single modules scaled to so many in series and parallel.

    ``packs[which[i]]`` is the one-module pack that entry i is built of.
    """

    def of(values: list[float]) -> FloatArray:
        return np.asarray(values, dtype=np.float64)[which]

    return PackTable(
        energy_j=of([most_usable_energy(pack) for pack in packs]) * series * parallel,
        charge_c=of([pack.capacity_ah * 3600.0 * (pack.soc_max - pack.soc_min) for pack in packs])
        * parallel,
        highest_v=of([float(pack.open_circuit_table_v[-1]) for pack in packs]) * series,
        lowest_v=of([float(pack.open_circuit(np.array([pack.soc_min]))[0]) for pack in packs])
        * series,
        least_ohm=of([float(pack.resistance_table_ohm.min()) for pack in packs])
        * series
        / parallel,
        rated_a=of([pack.rated_current_a() for pack in packs]) * parallel,
        peukert=of([pack.peukert for pack in packs]),
    )


def may_reach(
    system: System,
    profile: Profile,
    mass_kg: float,
    auxiliary_w: float,
    heater_w: float,
    wanted_m: float,
    reserve: float,
    table: PackTable,
    which: npt.NDArray[np.int64],
) -> npt.NDArray[np.bool_]:
    """Whether each pack of ``which`` may drive ``wanted_m``; False is proven, True is not.

    Holds for every bill at ``mass_kg`` and above on a closed profile.
    """
    beside = auxiliary_w + heater_w
    energy_j_m = least_battery_energy(
        system, profile, None, mass_kg, auxiliary_w, heater_w, at_least_m=wanted_m
    )
    power = free_power(system, profile, mass_kg) + beside
    spare = int((1.0 - FOLLOWED_SHARE) * profile.steps + 1e-9)
    drawn = _Drawn(np.maximum(power, 0.0), profile, spare, wanted_m)
    returned_j = float(np.maximum(-power, 0.0).sum())
    volts, ohms = table.highest_v[which], table.least_ohm[which]
    lost_j = drawn.least_sum(2.0) * ohms / volts**2
    budget = table.energy_j[which] * (1.0 - reserve)
    enough = np.asarray(energy_j_m * wanted_m + lost_j <= budget, dtype=np.bool_)
    # Lead-acid: the charge that Peukert takes. Reserve is kept back as energy, and the lowest
    # volts of the window hold the least of it, so that its share of the charge is no smaller
    # than the share of energy times the lowest over the highest voltage.
    kept = reserve * table.lowest_v[which] / volts
    charge = table.charge_c[which] * (1.0 - kept) * (1.0 + STEP_SLACK)
    exponents = table.peukert[which]
    for exponent in np.unique(exponents[exponents > 1.0]):
        here = exponents == exponent
        flow = drawn.least_sum(float(exponent)) / volts[here] ** exponent
        flow = flow / table.rated_a[which][here] ** (exponent - 1.0)
        # No more than this comes back in the laps driven, the part lap counted whole.
        back = (drawn.laps + 1) * returned_j / table.lowest_v[which][here]
        enough[here] &= flow - back <= charge[here]
    return enough


class _Drawn:
    """Powers drawn over a distance of so many laps and a part of one."""

    def __init__(self, power_w: FloatArray, profile: Profile, spare: int, wanted_m: float) -> None:
        self.laps = math.floor(wanted_m / profile.length_m * (1 + 1e-12))
        self._power = power_w
        self._spare = spare
        rest_m = wanted_m - self.laps * profile.length_m
        self._part = int(np.searchsorted(np.cumsum(profile.distance_m), rest_m, side="right"))

    def least_sum(self, exponent: float) -> float:
        """Least sum of power to this exponent, in each lap without its strongest seconds."""
        raised = self._power**exponent
        strongest = float(np.sort(raised)[len(raised) - self._spare :].sum()) if self._spare else 0
        whole = float(raised.sum()) - strongest
        part = float(raised[: self._part].sum()) - strongest
        return self.laps * whole + max(0.0, part)
