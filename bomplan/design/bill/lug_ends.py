"""Where the ends of the traction cable are: how many, and what each of them is screwed to.

Counted by place and not by wire: both poles of every string at fuse, module and junction box,
the service disconnect, the driver's disconnect, controller and motor. The audit counts the
wires of the plan's own circuit instead.
"""

from __future__ import annotations

import math

from bomplan.design.bill.branches import TAIL_MM, apart_mm
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.sections import cut_inside
from bomplan.design.spots import place_spot

STUB_ENDS = 4
"""Both poles from the contactors to the controller."""


def motor_conductors(drive: Drive) -> int:
    """Cables between controller and motor: two of a chopper, one for each phase of an inverter."""
    return 2 if drive.controller.text("kind") == "chopper" else 3


def drivers_way_mm(context: Context) -> int:
    """From the junction box to the driver's disconnect, one way; 0 without a place of its own.

    Along, across and up. A disconnect that the project gives no place stands in the junction box.
    """
    if context.project.places.own("emergency_disconnect") is None:
        return 0
    box = place_spot(context, "junction_box", "controller")
    away = apart_mm(box, place_spot(context, "emergency_disconnect", "other"))
    return away + TAIL_MM


def drivers_cable_mm(context: Context) -> int:
    """One of the two cables to the driver's disconnect, slack included."""
    slack = 1 + context.project.house_rules.cable_slack
    return math.ceil(drivers_way_mm(context) * slack)


def lug_ends(context: Context, drive: Drive, rows: tuple[int, ...]) -> dict[str, int]:
    """Ends of traction cable by the family that they are screwed to, for this placement."""
    strings = drive.strings
    runs = strings * sum(count > 0 for count in rows)
    inside = any(cut_inside(count, drive.core.series) is not None for count in rows if count)
    away = 2 if drivers_way_mm(context) else 0
    found = {
        "junction_box": 2 * runs - (0 if inside else 2 * strings) + away,
        "fuse_holder": runs,
        "module": runs + (2 * strings if inside else 0),
        "service_disconnect": 2 * strings,
        "emergency_disconnect": away,
        "contactor": STUB_ENDS // 2,
        "controller": STUB_ENDS // 2 + motor_conductors(drive),
        "motor": motor_conductors(drive),
    }
    return {family: count for family, count in found.items() if count}
