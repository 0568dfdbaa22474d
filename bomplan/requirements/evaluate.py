"""Every check of a whole plan, in one list: the same for planner, audit and report."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, fitted_rules, needed_rules
from bomplan.design.bill import JOINTS, DesignCurrents, at_least, at_most
from bomplan.design.bill.body import box_holds_g
from bomplan.design.bill.fits import row_checks
from bomplan.design.bill.rule import same
from bomplan.design.bill.shared_places import shared_checks
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.project.records import Bay
from bomplan.requirements.core import core_checks
from bomplan.requirements.loads import MassRow, mass_rows
from bomplan.requirements.mounting import crush_checks, restraint_checks
from bomplan.requirements.own_rules import own_rules
from bomplan.requirements.simulated import simulated_checks
from bomplan.requirements.sustained import sustained_checks
from bomplan.source import COMMON, computed, given, practice


def static_checks(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    rows: tuple[int, ...],
    chosen: dict[str, Chosen],
    bill: Bill,
) -> Iterator[Check]:
    """Every check that needs no simulation of the finished plan."""
    yield from core_checks(context, drive)
    yield from sustained_checks(context, drive, currents)
    yield from fitted_checks(context, drive, rows, chosen, bill)
    yield from part_checks(context, drive, currents, chosen, rows)
    yield from supply_and_budget(context, bill)


def fitted_checks(
    context: Context,
    drive: Drive,
    rows: tuple[int, ...],
    chosen: dict[str, Chosen],
    bill: Bill,
) -> Iterator[Check]:
    """Checks of bays, boxes and masses, in which the chosen rows and the placement meet."""
    yield from bay_checks(context, drive, rows, bill, chosen["box"].part)
    for bay, count in zip(context.bays, rows, strict=True):
        if count:
            held_g = count * drive.core.parallel * drive.module.mass_g + chosen["box"].part.mass_g
            yield from restraint_checks(context, bay, held_g, chosen["fasteners"].part)
    for limit in mass_rows(context):
        yield mass_check(limit, bill)


def supply_and_budget(context: Context, bill: Bill) -> Iterator[Check]:
    """Checks that read nothing but the bill as a whole."""
    donor = context.project.donor
    yield at_least(
        "twelve-volt.supply",
        "the converter carries the 12 V loads at night, in rain and in winter with a fifth to spare"
        if donor.loads_12v
        else "the converter carries the mean 12 V load with a fifth to spare",
        bill.supply_12v_w,
        bill.couplers.mean_12v_w + donor.beyond_mean_12v_w,
        "W",
        COMMON,
        "a converter that is too small sags: lamps dim, and contactors drop out while driving"
        if donor.loads_12v
        else "",
    )
    budget = context.project.targets.budget
    if budget is not None:
        yield at_most(
            "money.budget",
            "price of the whole bill against the budget",
            bill.price,
            budget,
            f"smallest units of {context.project.currency}",
            given("project"),
        )


def part_checks(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    chosen: dict[str, Chosen],
    rows: tuple[int, ...] | None = None,
) -> Iterator[Check]:
    """What each chosen row must pass alone and beside its neighbours.

    Of a placement only the families that are fitted there; without one all that are needed.
    """
    rules = needed_rules(context, drive) if rows is None else fitted_rules(context, drive, rows)
    chosen = {rule.family: chosen[rule.family] for rule in rules}
    for rule in rules:
        yield from row_checks(context, drive, currents, rule, chosen[rule.family].part)
    for joint in JOINTS:
        if joint.first in chosen and joint.second in chosen:
            yield from joint.judge(
                context,
                drive,
                currents,
                chosen[joint.first].part,
                chosen[joint.second].part,
            )
    yield from shared_checks(context, drive, {name: pick.part for name, pick in chosen.items()})
    yield from own_rules(context.project.choices, {pick.part.id for pick in chosen.values()})


def bay_checks(
    context: Context, drive: Drive, rows: tuple[int, ...], bill: Bill, box: Part
) -> Iterator[Check]:
    """Room and floor of every bay that holds modules, and nobody left outside."""
    yield at_least(
        "bay.all-placed",
        "series places that stand in a bay",
        sum(rows),
        drive.core.series,
        "places",
        computed("every module needs a place"),
    )
    for bay, count in enumerate(rows):
        if count == 0:
            continue
        record = context.bays[bay]
        yield at_most(
            f"bay.room.{record.name}",
            f"modules in bay {record.name} against what fits",
            count * drive.core.parallel,
            context.layout(bay, drive.module).count,
            "modules",
            computed("layout with walls, gaps and clearances"),
        )
        yield at_most(
            f"box.load.{record.name}",
            f"modules in bay {record.name} against what its box holds",
            count * drive.core.parallel * drive.module.mass_g / 1000,
            box_holds_g(box) / 1000,
            "kg",
            given("box's own figure"),
        )
        if record.mass_limit_g is not None:
            yield at_most(
                f"bay.mass.{record.name}",
                f"modules, box and hold-down in bay {record.name} against its floor",
                bill.bay_mass_g[bay] / 1000,
                record.mass_limit_g / 1000,
                "kg",
                given("project"),
            )
    for floor, bays in context.floors():
        if any(rows[bay] for bay in bays):
            yield at_most(
                f"floor.mass.{floor.name}",
                f"modules, boxes and hold-down on floor {floor.name} against what it carries",
                sum(bill.bay_mass_g[bay] for bay in bays) / 1000,
                floor.mass_limit_g / 1000,
                "kg",
                given("project"),
            )
    yield from bay_dangers(context, drive, rows)


def bay_dangers(context: Context, drive: Drive, rows: tuple[int, ...]) -> Iterator[Check]:
    """What the place of a bay makes dangerous, whatever else is fitted."""
    gassing = drive.module.number_or("gassing_a_per_100ah", 0) > 0
    for record, count in zip(context.bays, rows, strict=True):
        if count and record.inside_cabin and gassing:
            yield gas_check(record, drive.module)
        if count:
            yield from crush_checks(context, record)


def gas_check(bay: Bay, module: Part) -> Check:
    """Gassing cells in a bay inside the cabin."""
    return same(
        f"bay.gas.{bay.name}",
        f"gassing cells in bay {bay.name} inside the cabin need a vent to the outside",
        not gas_gathers(bay, module),
        practice("IEC 62485-3 / EN 50272-3; common practice"),
        "hydrogen in the cabin: one spark is enough",
    )


def gas_gathers(bay: Bay, module: Part) -> bool:
    """Whether gassing modules in this bay would fill the cabin: nobody may place them there."""
    gassing = module.number_or("gassing_a_per_100ah", 0) > 0
    return gassing and bay.inside_cabin and not bay.vented


def mass_check(limit: MassRow, bill: Bill) -> Check:
    """One exact mass row as a check in kilograms (or as a share)."""
    value = limit.value(bill.added_g, bill.moment_gmm, bill.lateral_gmm, bill.cross_gmm2)
    if limit.id.startswith("share."):
        return at_most(
            limit.id, limit.words, value / limit.divisor / 1000, 0.0, "kg over", limit.source
        )
    return Check(
        id=limit.id,
        words=limit.words,
        value=round(-(-value // limit.divisor) / 1000, 3),
        limit=limit.limit // limit.divisor / 1000,
        unit="kg",
        sense="at most",
        passed=value <= limit.limit,
        source=limit.source.words
        + (f"; plate {limit.plate_g / 1000:.0f} kg" if limit.plate_g else ""),
        source_kind=limit.source.kind,
        caution="an overloaded axle breaks wheels, tyres and the law",
    )


def all_checks(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    rows: tuple[int, ...],
    chosen: dict[str, Chosen],
    bill: Bill,
    simulator: Simulator,
) -> tuple[Check, ...]:
    """Every check of the finished plan, the simulated ones first."""
    # Core and row of the controller are judged by the same rules of its place: told once.
    return tuple(
        dict.fromkeys(
            (
                *simulated_checks(simulator, bill.couplers),
                *static_checks(context, drive, currents, rows, chosen, bill),
            )
        )
    )
