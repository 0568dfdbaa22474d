"""The bolts of a box: what they hold, and what a box asks of them when it is full."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import DesignCurrents, at_least, at_most
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.project.countries import Country, countries
from bomplan.sizing import Accelerations, combined_share, design_shear_n, force_n
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


def rolled_over_share(context: Context, mass_g: int, fasteners: Part) -> float:
    """Share of a set's bolts that a box takes, counted twice, at the side and the upward force.

    In a roll-over both act at once: the box shears its bolts sideways and pulls at them.
    """
    country, mass_kg = country_of(context), mass_g / 1000
    return combined_share(
        TWICE * force_n(mass_kg, country.side_g),
        TWICE * force_n(mass_kg, country.up_g),
        int(fasteners.number("bolts")),
        round(fasteners.number("bolt_mm")),
        fasteners.text("bolt_class"),
    )


def rolled_over_check(
    context: Context, name: str, what: str, mass_g: int, fasteners: Part
) -> Iterator[Check]:
    """Whether the bolts hold a box in a roll-over; nothing where no upward figure is known."""
    country = country_of(context)
    if not fasteners.has("bolts") or country.up_g <= 0:
        return
    yield at_most(
        f"restraint-over.{name}",
        f"share of its bolts that {what} ({mass_g / 1000:.0f} kg) takes in a roll-over, twice over:"
        f" shear at {country.side_g:g} g and tension at {country.up_g:g} g together",
        rolled_over_share(context, mass_g, fasteners),
        1.0,
        "of 1",
        recalled(
            f"{country.restraint_source}; Fv/Fv,Rd + Ft/(1.4 Ft,Rd): EN 1993-1-8 Table 3.4 (from"
            " memory); both at once, twice: common practice"
        ),
        "a box that hangs from its bolts when the car lies on its roof comes down on people",
    )


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
    full_g = round(box.number("max_mass_kg") * 1000) + box.mass_g
    yield from rolled_over_check(context, "full-box", "the fullest box", full_g, fasteners)
    yield at_least(
        "restraint.bolts",
        "no box hangs on fewer bolts than this",
        fasteners.number("bolts"),
        LEAST_BOLTS,
        "bolts",
        COMMON,
        "a box that hangs on two or three bolts tears loose when one fails",
    )
