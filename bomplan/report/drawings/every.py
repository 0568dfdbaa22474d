"""Every drawing of a plan by the name of its file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bomplan.design.records import Plan
from bomplan.report.drawings.bay import bay_drawings
from bomplan.report.drawings.car import car_svg
from bomplan.report.drawings.circuit import circuit_svg
from bomplan.report.units import METRIC, Show

CAR_DRAWING: Final = "drawings/car.svg"
CIRCUIT_DRAWING: Final = "drawings/circuit.svg"


def every_drawing(plan: Plan, show: Show = METRIC, bays: Show | None = None) -> dict[str, str]:
    """File name to SVG: car, power circuit and each bay in use; empty without a choice.

    Masses of the car in the units of ``show``; lengths to cut and set by stay in mm, in the bays
    with inches behind them where ``bays``, or else ``show``, asks for US units.

    Without a weighing it is an older plan, or one whose project is not whole: then neither car
    nor circuit is drawn.
    """
    found: dict[str, str] = {}
    car = car_svg(plan, show)
    if car is not None:
        found[CAR_DRAWING] = car
        found[CIRCUIT_DRAWING] = circuit_svg(plan)
    found.update(
        {f"drawings/{name}": svg for name, svg in bay_drawings(plan, bays or show).items()}
    )
    return found


def as_shown(drawings: Mapping[str, str], plan: Plan, show: Show) -> dict[str, str]:
    """The drawings as a page shows them: those of the files, masses in the page's units."""
    if not show.us or CAR_DRAWING not in drawings:
        return dict(drawings)
    return {**drawings, CAR_DRAWING: car_svg(plan, show) or ""}
