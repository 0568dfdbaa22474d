"""What a core costs to run over the years of use, as the goal of least lifetime cost counts it.

It is reckoned for the everyday drive on a new pack with the core alone on the stripped donor:
motor, controller and modules, the reference circuit, the donor's own 12 V load. The small parts
of a bill weigh a hundredth of the car or two, so that they change the sum by less than that; left
out, a core and its charger settle the sum, and the choice stays exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import cast

from bomplan.buying.lifetime import depth_of_discharge, lifetime_cost, pack_life
from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.drive import Drive, charge_return
from bomplan.design.pack_life import (
    driven,
    energy_price,
    pack_price,
    usual_target,
    wear_of,
    window_of,
)
from bomplan.design.records import Couplers
from bomplan.physics import wall_wh_per_km


@dataclass(frozen=True)
class EverydayDrive:
    """How far a new pack takes the core, in whole metres, and at what consumption."""

    range_m: int
    battery_wh_per_km: float


@dataclass(frozen=True)
class RunningCost:
    """Smallest units of money over the years; ``weighted`` is what the goal adds to the price."""

    energy: int
    packs: int
    replacements: int
    weighted: int


def core_couplers(context: Context, drive: Drive) -> Couplers:
    """The couplers of the core alone, with the reference circuit and the donor's 12 V load."""
    modules = drive.core.series * drive.core.parallel
    return Couplers(
        added_g=drive.motor.mass_g + drive.controller.mass_g + modules * drive.module.mass_g,
        external_uohm=round(context.project.house_rules.reference_circuit_ohm * 1e6),
        mean_12v_w=round(context.project.donor.load_12v_w),
    )


def everyday_drive(context: Context, drive: Drive) -> EverydayDrive | None:
    """The usual target on a new pack, remembered; None where the core cannot follow it."""
    key = ("everyday drive", drive.core)
    if key not in context.remembered:
        context.remembered[key] = _drive_it(Simulator(context, drive))
    return cast("EverydayDrive | None", context.remembered[key])


def _drive_it(simulator: Simulator) -> EverydayDrive | None:
    context = simulator.context
    target = usual_target(context.project)
    condition = context.condition(target.condition).model_copy(update={"aged": False})
    answer = simulator.range_in(target, condition, core_couplers(context, simulator.drive))
    range_m = int(min(answer.distance_m, 1e9))
    if not answer.followed or range_m <= 0:
        return None
    return EverydayDrive(range_m, answer.energy_battery_wh_km)


def running_cost(
    context: Context, drive: Drive, everyday: EverydayDrive, charger_efficiency: float
) -> RunningCost:
    """Energy and new packs over the years, weighted as the project's goal says.

    Any further range and any lower consumption cost no more, so that bounds of both bound it.
    """
    project, module = context.project, drive.module
    goal, usual, target = project.goal, driven(project), usual_target(project)
    depth = depth_of_discharge(
        usual.between_charges_m, everyday.range_m, window_of(module), Fraction(str(target.reserve))
    )
    life = pack_life(wear_of(module), usual, everyday.range_m, depth)
    wall = wall_wh_per_km(everyday.battery_wh_per_km, charger_efficiency, charge_return(drive))
    cost = lifetime_cost(
        0,
        pack_price(context, module, drive.core.series * drive.core.parallel) or 0,
        usual,
        life,
        Fraction(str(round(wall, 1))),
        energy_price(project) or Fraction(0),
    )
    weighted = (
        Fraction(str(goal.energy_weight)) * cost.energy
        + Fraction(str(goal.packs_weight)) * cost.replacements
    )
    return RunningCost(
        _nearest(cost.energy), cost.packs, int(cost.replacements), _nearest(weighted)
    )


def _nearest(amount: Fraction) -> int:
    """Smallest units, halves up."""
    return int(amount + Fraction(1, 2))
