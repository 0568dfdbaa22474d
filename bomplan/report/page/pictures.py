"""The drawings of space and of the power circuit, each in a section of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bomplan.design.records import Plan
from bomplan.report.drawings.bay import file_name
from bomplan.report.page.blocks import Picture, Section, Words
from bomplan.report.page.inline import inline_svg
from bomplan.report.text import clean
from bomplan.report.units import Show

CIRCUIT: Final = "drawings/circuit.svg"


def space(plan: Plan, show: Show, drawings: Mapping[str, str]) -> Section | None:
    """Each bay in use with the place of every module."""
    found = []
    for number, use in enumerate(plan.placement, start=1):
        name = f"drawings/{file_name(number, use.bay)}"
        if name in drawings:
            found.append(
                Picture(
                    inline_svg(drawings[name], f"draw-bay-{number}", say=show.drawn),
                    f"Bay {clean(use.bay, 60)}",
                    f"Bay {clean(use.bay, 60)}, {use.modules} modules. Check it with cardboard"
                    f" before buying. The file {name} prints at full size.",
                    wide=True,
                )
            )
    if not found:
        return None
    return Section("space", "Where the modules stand", "Space", tuple(found))


def circuit(show: Show, drawings: Mapping[str, str]) -> Section | None:
    """The power circuit as one drawing."""
    if CIRCUIT not in drawings:
        return None
    return Section(
        "circuit",
        "The power circuit",
        "Circuit",
        (
            Words(
                "From the pack to the motor, with every fuse, contactor and cable of the bill. The"
                " key in the drawing leads to the lines of the bill."
            ),
            Picture(
                inline_svg(drawings[CIRCUIT], "draw-circuit", say=show.drawn),
                "Power circuit",
                "The power circuit. The file drawings/circuit.svg beside this page prints at full"
                " size.",
                wide=True,
            ),
        ),
    )
