"""What a finished plan weighs and does, as the records that the plan file keeps."""

from __future__ import annotations

import math
from fractions import Fraction

from bomplan.catalog.records import Part
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen
from bomplan.design.bill import DesignCurrents
from bomplan.design.bill.charging import charge_hours, charge_wall_kwh, refill_hours
from bomplan.design.context import Context
from bomplan.design.drive import Drive, charge_return
from bomplan.design.driving_figures import kilometres
from bomplan.design.pack_life import driven, usual_target
from bomplan.design.records import (
    AxleLoad,
    DayCharge,
    LoadCaseMass,
    Mass,
    Performance,
    RangeResult,
)
from bomplan.design.weights import weights_record
from bomplan.physics import gradeability, top_speed, wall_wh_per_km


def mass_record(context: Context, bill: Bill) -> Mass:
    """Kerb and laden masses, and axle loads in every load case, to the gram."""
    donor, limits = context.project.donor, context.limits
    base = context.base
    cases, axles = [], []
    for load in context.loads:
        mass = base.mass_g + load.mass_g + bill.added_g
        rear = Fraction(base.moment_gmm + load.moment_gmm + bill.moment_gmm, context.wheelbase_mm)
        front = mass - rear
        cases.append(
            LoadCaseMass(
                name=load.name,
                laden_kg=mass / 1000,
                front_kg=_kilograms(front),
                rear_kg=_kilograms(rear),
            )
        )
        for name, load_g, plate, allowed in (
            ("front", front, donor.front_axle_limit_g, limits.front_g),
            ("rear", rear, donor.rear_axle_limit_g, limits.rear_g),
        ):
            axles.append(
                AxleLoad(
                    name=name,
                    load_case=load.name,
                    load_kg=_kilograms(load_g),
                    limit_kg=plate / 1000,
                    allowed_kg=allowed / 1000,
                )
            )
    heaviest = max(cases, key=lambda case: case.laden_kg)
    return Mass(
        base_kg=base.mass_g / 1000,
        added_kg=bill.added_g / 1000,
        kerb_kg=(base.mass_g + bill.added_g) / 1000,
        laden_kg=heaviest.laden_kg,
        axles=tuple(sorted(axles, key=lambda axle: axle.load_case != heaviest.name)),
        load_cases=tuple(cases),
        weights=weights_record(context, bill),
    )


def performance_record(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    bill: Bill,
    chosen: dict[str, Chosen],
    simulator: Simulator,
) -> Performance:
    """Range per target, speed, hill and the pack's own figures."""
    project, figures = context.project, drive.figures
    charger = chosen["charger"].part
    ranges = []
    for target in project.targets.range:
        answer = simulator.range(target, bill.couplers)
        ranges.append(
            RangeResult(
                target=target.name,
                profile=target.profile,
                condition=target.condition,
                load_case=target.load_case,
                range_km=kilometres(answer.distance_m) if answer.followed else 0.0,
                wanted_km=target.distance_m / 1000,
                energy_wh_per_km=round(answer.energy_battery_wh_km, 1) + 0.0,
                wheel_wh_per_km=round(answer.energy_wheel_wh_km, 1) + 0.0,
                wall_wh_per_km=round(
                    wall_wh_per_km(
                        answer.energy_battery_wh_km,
                        charger.number("efficiency"),
                        charge_return(drive),
                    ),
                    1,
                ),
                usable_kwh=round(answer.usable_wh / 1000, 2),
                min_voltage_v=round(answer.min_voltage_v, 1),
                peak_battery_a=round(answer.peak_battery_a, 1),
                end_cause=answer.end_cause,
            )
        )
    worst = min(ranges, key=lambda result: (result.range_km / result.wanted_km, result.target))
    condition = project.conditions[0]
    load_case = max(context.loads, key=lambda load: load.mass_g).name
    system = simulator.system(condition, load_case)
    mass_kg = simulator.mass_kg(load_case, bill.couplers)
    external = bill.couplers.external_uohm * 1e-6
    auxiliary = simulator.auxiliary_w(bill.couplers) + condition.heater_w
    soc = project.targets.power_state_of_charge
    top = top_speed(
        system,
        soc=soc,
        mass_kg=mass_kg,
        external_resistance_ohm=external,
        auxiliary_w=auxiliary,
        hold_s=1800.0,
    )
    grade = gradeability(
        system,
        speed_m_s=0.0,
        hold_s=10.0,
        soc=soc,
        mass_kg=mass_kg,
        external_resistance_ohm=external,
        auxiliary_w=auxiliary,
    )
    return Performance(
        range_km=worst.range_km,
        energy_wh_per_km=worst.energy_wh_per_km,
        top_speed_kmh=int(top.speed_m_s * 36 + 1e-6) / 10,
        top_speed_cause=top.cause,
        # A car that does not even hold the flat starts on no slope.
        gradeability=0.0 if math.isnan(grade) else int(grade * 1000 + 1e-6) / 1000,
        nominal_v=round(figures.nominal_v, 1),
        charge_v=round(figures.charge_v, 2),
        capacity_ah=round(figures.capacity_ah, 1),
        nominal_kwh=round(figures.nominal_wh / 1000, 2),
        usable_kwh=worst.usable_kwh,
        design_rms_a=round(currents.rms_a, 1),
        design_peak_a=round(currents.peak_a, 1),
        charge_hours=round(charge_hours(context, drive, charger), 1),
        ranges=tuple(ranges),
        charge_wall_kwh=round(charge_wall_kwh(drive, charger), 2),
        day=_day(context, drive, charger, ranges),
    )


def _day(context: Context, drive: Drive, charger: Part, ranges: list[RangeResult]) -> DayCharge:
    """The distance between two charges of the usual target, as far as the car gets."""
    project = context.project
    usual = usual_target(project)
    result = next(one for one in ranges if one.target == usual.name)
    wanted_km = driven(project).between_charges_m / 1000
    km = min(wanted_km, result.range_km)
    return DayCharge(
        target=usual.name,
        km=km,
        hours=round(refill_hours(context, drive, charger, km * result.energy_wh_per_km), 1),
        wall_kwh=round(km * result.wall_wh_per_km / 1000, 2),
    )


def _kilograms(grams: Fraction | int) -> float:
    return round(float(grams) / 1000, 3)
