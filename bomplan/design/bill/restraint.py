"""The bolts of a box: what they hold, and what a box asks of them when it is full."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import DesignCurrents, at_least
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.project.countries import Country, countries
from bomplan.sizing import Accelerations, design_shear_n, force_n
from bomplan.source import COMMON, recalled

TWICE = 2.0
"""Bolts are counted at half: common practice."""
LEAST_BOLTS = 4
"""Of each box: common practice."""


def country_of(context: Context) -> Country:
    """The row of country data that the project names."""
    return countries()[context.project.country]


def accelerations_of(context: Context) -> Accelerations:
    """The guideline accelerations of the project's country, with where they are from."""
    country = country_of(context)
    return Accelerations(
        country.forward_g,
        country.side_g,
        country.rear_g,
        country.up_g,
        country.restraint_source,
        country.restraint_seen,
    )


def held_n(fasteners: Part) -> float:
    """Shear that all bolts of a set take together, in N."""
    size, strength = round(fasteners.number("bolt_mm")), fasteners.text("bolt_class")
    return fasteners.number("bolts") * design_shear_n(size, strength)


def wanted_n(context: Context, mass_g: int) -> float:
    """Twice the force on a mass at the greatest guideline acceleration of the country, in N."""
    return TWICE * force_n(mass_g / 1000, country_of(context).greatest_g)


def fasteners_and_box(
    context: Context,
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    fasteners: Part,
    box: Part,
) -> Iterator[Check]:
    """A set must hold its box as full as it may be, so that any placement is held."""
    if not fasteners.has("bolts"):
        return
    yield at_least(
        "restraint.full-box",
        "the bolts of a set hold the fullest box of this row, twice over",
        held_n(fasteners) / 1000,
        wanted_n(context, round(box.number("max_mass_kg") * 1000) + box.mass_g) / 1000,
        "kN",
        recalled(
            "country data; shear: EN 1993-1-8 Table 3.4 (from memory); twice: common practice"
        ),
        "a box that tears loose in a crash kills",
    )
    yield at_least(
        "restraint.bolts",
        "no box hangs on fewer bolts than this",
        fasteners.number("bolts"),
        LEAST_BOLTS,
        "bolts",
        COMMON,
        "a box that hangs on two or three bolts tears loose when one fails",
    )
