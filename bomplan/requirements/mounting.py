"""How each box of modules is held, and whether it stands where a crash reaches it."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.restraint import country_of, held_n, rolled_over_check, wanted_n
from bomplan.design.bill.rule import at_least, at_most
from bomplan.design.context import Context
from bomplan.design.records import Check
from bomplan.project.records import Bay
from bomplan.sizing.restraint import crush_reach_mm
from bomplan.source import published, recalled

CRUSH_CAUTION = (
    "cells in the crush zone are hit first in a crash: place them elsewhere, or build a frame"
    " that an engineer has signed"
)
# A passed check of these ids still has something to mind.
WARNED = "crush-warned."


def restraint_checks(context: Context, bay: Bay, held_g: int, fasteners: Part) -> Iterator[Check]:
    """Bolts of one box against the force on what it holds, itself included."""
    if not fasteners.has("bolts"):
        return
    country = country_of(context)
    yield at_least(
        f"restraint.{bay.name}",
        f"{fasteners.number('bolts'):.0f} bolts M{fasteners.number('bolt_mm'):.0f} of class"
        f" {fasteners.text('bolt_class')} hold the box in bay {bay.name} ({held_g / 1000:.0f} kg)"
        f" at {country.greatest_g:g} g, twice over, through plates of 3 mm",
        held_n(fasteners) / 1000,
        wanted_n(context, held_g) / 1000,
        "kN",
        recalled(
            f"{country.restraint_source}; shear: EN 1993-1-8 Table 3.4 (from memory); twice the"
            " bolts and the plates: common practice"
        ),
        "a box that tears loose in a crash kills: bolt to structure or through spreader plates"
        " of 3 mm, never to bare sheet",
    )
    yield from rolled_over_check(context, bay.name, f"the box in bay {bay.name}", held_g, fasteners)


def crush_checks(context: Context, bay: Bay) -> Iterator[Check]:
    """How far a bay reaches into the zone at each end of a car that is known.

    Nothing for a motorcycle: the zones are those of categories M and N.
    """
    country, donor = country_of(context), context.project.donor
    if donor.kind == "motorcycle":
        return
    forbids = country.crush_rule == "forbid"
    ends = (
        ("front", donor.front_overhang_mm, country.crush_front_mm),
        ("rear", donor.rear_overhang_mm, country.crush_rear_mm),
    )
    for end, overhang, depth in ends:
        if overhang is None:
            continue
        reach = crush_reach_mm(
            end, bay.x_mm, bay.x_mm + bay.length_mm, donor.wheelbase_mm, overhang, depth
        )
        yield at_most(
            f"crush{'' if forbids else '-warned'}.{bay.name}.{end}",
            f"bay {bay.name} reaches into the {depth} mm at the {end} of the car"
            + ("" if forbids else ", a warning where no country forbids it"),
            reach,
            0 if forbids else depth,
            "mm",
            published(f"{country.title}: {country.crush_source}", country.crush_seen),
            CRUSH_CAUTION,
        )


def crush_forbids(context: Context, bay: Bay) -> Check | None:
    """The failed check where country data lets no cells stand in this bay."""
    return next((check for check in crush_checks(context, bay) if not check.passed), None)


def warned(check: Check) -> bool:
    """Whether a passed check has a caution all the same."""
    return check.passed and check.id.startswith(WARNED) and check.value > 0
