"""What goes on the ends of a conductor and around it, and how it bends: one rule for every kind."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import DesignCurrents, at_least, at_most, same
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.sizing.copper import bend_radius_mm
from bomplan.source import COMMON, seen

BEND_SOURCE = seen("IEC 62440, flexible cable without a screen (seen in reproduction)")


def least_bend_mm(cable: Part, *, moving: bool = False) -> int:
    """Least inner radius of a bend in whole mm; ``moving``: towards what shakes on its mounts."""
    radius = bend_radius_mm(cable.number("outer_diameter_mm"), moving=moving)
    return ceil(round(radius, 6))


def bend_words(cable: Part, moves: str = "") -> str:
    """How tight a cable may be bent, for its line of the bill; ``moves``: where it does."""
    there = f" and {least_bend_mm(cable, moving=True)} mm {moves}" if moves else ""
    return f"bends inside no tighter than {least_bend_mm(cable)} mm{there} ({BEND_SOURCE.words})"


def barrel_fits(
    context: Context,  # noqa: ARG001
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    lug: Part,
    cable: Part,
) -> Iterator[Check]:
    """A lug is crimped onto the cross-section that it is made for, no other."""
    yield same(
        f"{lug.family}.area",
        f"the {_called(lug)}'s barrel fits the {_called(cable)}",
        lug.number("area_mm2") == cable.number("area_mm2"),
        COMMON,
    )


def gland_fits(
    context: Context,  # noqa: ARG001
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    gland: Part,
    cable: Part,
) -> Iterator[Check]:
    """A gland lets a cable through and still seals it."""
    diameter = cable.number("outer_diameter_mm")
    yield at_most(
        f"{gland.family}.thin",
        f"the {_called(gland)} still seals the {_called(cable)}",
        gland.number("cable_mm_min"),
        diameter,
        "mm",
        COMMON,
    )
    yield at_least(
        f"{gland.family}.thick",
        f"the {_called(gland)} lets the {_called(cable)} through",
        gland.number("cable_mm_max"),
        diameter,
        "mm",
        COMMON,
    )


def _called(part: Part) -> str:
    return part.family.replace("_", " ")
