"""What goes on the ends of a conductor and around it: the same rule for every kind of it."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import DesignCurrents, at_least, at_most, same
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.source import COMMON


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
