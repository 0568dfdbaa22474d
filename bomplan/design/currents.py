"""The currents that conductors are sized for, from the core alone at the reference mass."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from bomplan.design.adapter import Simulator
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.faults import least_fault_a
from bomplan.design.rolling import HOUR_S, ROLLING_S, rolling_loads
from bomplan.physics import RangeAnswer


@dataclass(frozen=True)
class HeldClimbs:
    """What climbs ask for at the reference mass: A from the battery, and A to start uphill."""

    battery_a: tuple[tuple[str, float], ...]
    stall_a: float


NO_CLIMBS = HeldClimbs((), 0.0)


def design_currents(context: Context, drive: Drive, simulator: Simulator) -> DesignCurrents:
    """The worst of every range profile and of every climb or speed held for ten minutes.

    Taken at the reference mass (the most that plate and axles allow), so that the sizes do
    not depend on what the plan itself weighs.
    """
    answers = {
        target.name: simulator.at_reference_mass(target) for target in context.project.targets.range
    }
    return worst_currents(context, drive, answers, held_climbs(context, simulator))


def held_climbs(context: Context, simulator: Simulator) -> HeldClimbs:
    """The climbs that are held for ten minutes, and the starts on a hill."""
    targets = context.project.targets
    external = context.project.house_rules.reference_circuit_ohm
    auxiliary = context.project.donor.load_12v_w / context.project.house_rules.dcdc_efficiency
    mass_kg = context.reference_mass_g / 1000
    starts = [
        simulator.climb_at(climb, mass_kg, external, auxiliary).motor_current_a
        for climb in targets.climb
        if climb.speed_m_s == 0
    ]
    held = [
        (climb.name, simulator.climb_at(climb, mass_kg, external, auxiliary).battery_current_a)
        for climb in targets.climb
        if climb.hold_s >= ROLLING_S
    ]
    stall_a = max((amps for amps in starts if not math.isnan(amps)), default=0.0)
    return HeldClimbs(tuple(held), stall_a)


def worst_currents(
    context: Context, drive: Drive, answers: Mapping[str, RangeAnswer], climbs: HeldClimbs
) -> DesignCurrents:
    """The worst of these range targets (by name, at the reference mass) and climbs.

    With more answers no figure gets less: what is too much for some of them stays so.
    """
    rms = motor_rms = motor_w = 0.0
    worst = ""
    asked = [target for target in context.project.targets.range if target.name in answers]
    for target in asked:
        answer = answers[target.name]
        current = answer.battery_rms_a[ROLLING_S]
        if current > rms:
            rms, worst = current, target.profile
        motor_rms = max(motor_rms, answer.motor_rms_a[HOUR_S])
        motor_w = max(motor_w, answer.motor_rms_w[HOUR_S])
    for name, current in climbs.battery_a:
        if current > rms:
            rms, worst = current, name
    return DesignCurrents(
        rms_a=rms,
        peak_a=drive.battery_limit_a,
        peak_s=drive.controller.number("peak_s"),
        motor_rms_a=motor_rms,
        motor_rms_kw=motor_w / 1000,
        least_fault_a=least_fault_a(context, drive.module, drive.figures),
        at_mass_g=context.reference_mass_g,
        profile=worst,
        rolling=rolling_loads(
            [answers[target.name] for target in asked], drive.controller.number("motor_a_peak")
        ),
        stall_a=climbs.stall_a,
    )


def no_mean_current(context: Context, drive: Drive) -> DesignCurrents:
    """What stands before any simulation: peak and fault currents, and no mean current at all."""
    return DesignCurrents(
        rms_a=0.0,
        peak_a=drive.battery_limit_a,
        peak_s=drive.controller.number("peak_s"),
        motor_rms_a=0.0,
        motor_rms_kw=0.0,
        least_fault_a=least_fault_a(context, drive.module, drive.figures),
        at_mass_g=context.reference_mass_g,
        profile="",
    )
