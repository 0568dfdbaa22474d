"""The currents that conductors are sized for, from the core alone at the reference mass."""

from __future__ import annotations

import math

from bomplan.design.adapter import Simulator
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.faults import least_fault_a
from bomplan.design.rolling import rolling_loads

# Ten minutes: about the time in which cable of these sizes warms up (common practice).
ROLLING_S = 600.0
HOUR_S = 3600.0


def design_currents(context: Context, drive: Drive, simulator: Simulator) -> DesignCurrents:
    """The worst of every range profile and of every climb or speed held for ten minutes.

    Taken at the reference mass (the most that plate and axles allow), so that the sizes do
    not depend on what the plan itself weighs.
    """
    targets = context.project.targets
    rms = motor_rms = motor_w = 0.0
    worst = ""
    answers = [simulator.at_reference_mass(target) for target in targets.range]
    for target, answer in zip(targets.range, answers, strict=True):
        current = answer.battery_rms_a[ROLLING_S]
        if current > rms:
            rms, worst = current, target.profile
        motor_rms = max(motor_rms, answer.motor_rms_a[HOUR_S])
        motor_w = max(motor_w, answer.motor_rms_w[HOUR_S])
    external = context.project.house_rules.reference_circuit_ohm
    auxiliary = context.project.donor.load_12v_w / context.project.house_rules.dcdc_efficiency
    mass_kg = context.reference_mass_g / 1000
    starts = [
        simulator.climb_at(climb, mass_kg, external, auxiliary).motor_current_a
        for climb in targets.climb
        if climb.speed_m_s == 0
    ]
    for climb in targets.climb:
        if climb.hold_s < ROLLING_S:
            continue
        found = simulator.climb_at(climb, mass_kg, external, auxiliary)
        if found.battery_current_a > rms:
            rms, worst = found.battery_current_a, climb.name
    return DesignCurrents(
        rms_a=rms,
        peak_a=drive.battery_limit_a,
        peak_s=drive.controller.number("peak_s"),
        motor_rms_a=motor_rms,
        motor_rms_kw=motor_w / 1000,
        least_fault_a=least_fault_a(context, drive.module, drive.figures),
        at_mass_g=context.reference_mass_g,
        profile=worst,
        rolling=rolling_loads(answers, drive.controller.number("motor_a_peak")),
        stall_a=max((amps for amps in starts if not math.isnan(amps)), default=0.0),
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
