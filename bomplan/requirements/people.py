"""Protection of people: voltage class, isolation, what is handled in one piece, tools."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.people import (
    enclosure_checks,
    isolation_wanted_ohm,
    tool_checks,
)
from bomplan.design.bill.rule import at_most, highest_v
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.sizing.isolation import (
    CLASS_B_DC_V,
    FAULTY_BELOW_OHM,
    OHM_PER_V_AC,
    OHM_PER_V_DC,
)
from bomplan.source import practice, recalled


def people_checks(context: Context, drive: Drive) -> Iterator[Check]:
    """What a core means for whoever builds, drives and mends it; by its parts alone."""
    yield at_most(
        "people.voltage-class",
        "highest voltage of the pack with its margin against the top of class B, which all"
        " protection here is made for (class A ends at 60 V)",
        highest_v(context, drive),
        CLASS_B_DC_V,
        "V",
        recalled("ISO 6469-3, UN R100 (60 V seen as a hazard line; 1,500 V from memory)"),
        "above class B nothing here protects anybody",
    )
    if not drive.touchable:
        yield _isolation(drive)
        yield section_check(context, drive.module)
    yield from enclosure_checks(context, drive, drive.controller)
    yield from tool_checks(context, drive)


def _isolation(drive: Drive) -> Check:
    """The ohms that this circuit must keep, against what a sound new build shows at least."""
    series = drive.motor.text("kind") == "series_dc"
    per_volt = OHM_PER_V_DC if series else OHM_PER_V_AC
    why = "direct current alone" if series else "an inverter joins alternating parts to the pack"
    return at_most(
        "people.isolation",
        f"isolation from the chassis that this pack must keep, {per_volt:g} Ω for each of its"
        f" {drive.figures.charge_v:.1f} V ({why}), against what a dry new build shows at least",
        isolation_wanted_ohm(drive),
        FAULTY_BELOW_OHM,
        "Ω",
        practice(
            "UN R100 5.1.3.1 and 5.1.3.2 (seen); 1 MΩ of a dry new build, a fault below half of it:"
            " common practice"
        ),
        "what a new build shows does not reach the isolation that keeps a touch harmless",
    )


def section_check(context: Context, module: Part) -> Check:
    """Sections are made of whole modules: none can be below the voltage of one."""
    volts = module.number("cells_series") * module.number("cell_v_charge")
    return at_most(
        "people.section",
        f"charge voltage of one {module.id}, the least that can be handled in one piece"
        " while building",
        volts,
        context.project.house_rules.section_v,
        "V",
        recalled(
            "sections of at most 60 V while building: common practice; class A, ISO 6469-3 (from"
            " memory)"
        ),
        f"a module of {volts:.0f} V can kill before it is part of a pack: it cannot be split, and"
        " no link can be left open inside it",
    )
