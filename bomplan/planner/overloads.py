"""By how much the nearest of the packs that surely overload a drive does so."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.records import Check
from bomplan.planner.energy import DriveEnergy
from bomplan.requirements.sustained import sustained_checks


def nearest_overloads(context: Context, energies: Iterable[DriveEnergy]) -> Iterator[Check]:
    """For each check that turned packs away unsimulated, that of the one with the least excess.

    They fell to a bound; the figure that a refusal shows is simulated here.
    """
    nearest: dict[str, tuple[float, DriveEnergy, int]] = {}
    for energy in energies:
        for pack, by in energy.overloads.items():
            known = nearest.get(energy.overload)
            if known is None or by < known[0]:
                nearest[energy.overload] = by, energy, pack
    for name, (_, energy, pack) in nearest.items():
        simulator = energy.simulator(pack)
        currents = design_currents(context, simulator.drive, simulator)
        for check in sustained_checks(context, simulator.drive, currents):
            if check.id == name and not check.passed:
                yield check
