"""Where the ends of the traction cable are: how many, and what each of them is screwed to.

Counted by place and not by wire: both poles of every string at fuse, module and junction box,
the service disconnect, controller and motor; the driver's disconnect is bolted to the rail. The
audit counts the wires of the plan's own circuit instead.
"""

from __future__ import annotations

from bomplan.catalog.records import Part
from bomplan.design.bill.branches import apart_mm
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

    A disconnect that the project gives no place stands in the junction box.
    """
    if context.project.places.own("emergency_disconnect") is None:
        return 0
    box = place_spot(context, "junction_box", "controller")
    return apart_mm(box, place_spot(context, "emergency_disconnect", "other"))


def detour_words(context: Context, disconnect: Part | None) -> tuple[str, ...]:
    """A sentence where the driver's disconnect is away from the junction box, or has no place.

    The bill holds no cable to it: the positive cable of a box may lead past it anyway, which only
    who measures the runs can see.
    """
    if disconnect is None or disconnect.flag("pull_cable"):
        return ()
    away = drivers_way_mm(context)
    stud = f" (M{disconnect.number('stud_mm'):g})" if disconnect.has("stud_mm") else ""
    if context.project.places.own("emergency_disconnect") is None:
        return (
            f"Not in the bill: cable from the junction box to {disconnect.id}. The project gives it"
            " no place (places.parts, family emergency_disconnect), so it is counted as bolted in"
            " the junction box. At the seat it wants traction cable there and back and two lugs"
            f" for its studs{stud}; or work it in the junction box by a pull cable.",
        )
    if not away:
        return ()
    return (
        f"Not in the bill: the way of the pack's positive cable by {disconnect.id}, {away} mm from"
        " the junction box, along, across and up. Where no cable run passes it, measure the run of"
        " the box at the positive end that way (bays, cable_run), and buy two lugs more for its"
        f" studs{stud}; or work it in the junction box by a pull cable.",
    )


def fuse_joint_words(drive: Drive, boxes: int, holder: Part | None) -> tuple[str, ...]:
    """A sentence on what joins every main fuse to the cells behind it, which no line holds.

    The bill's bars join modules, and its cable ends at the holder. ``boxes``: how many are filled.
    """
    if holder is None or boxes < 1:
        return ()
    number = drive.strings * boxes
    stud = f" (M{holder.number('stud_mm'):g})" if holder.has("stud_mm") else ""
    each = "the main fuse" if number == 1 else f"each of the {number} main fuses"
    return (
        f"Not in the bill: what joins {each} to the positive pole of the modules behind it. Bolt"
        " its holder inside the box beside that pole, within reach of a bar from its second"
        f" stud{stud}, or join them by a short piece of traction cable with a lug at either end;"
        " the drawing of the bay does not show the holder.",
    )


def most_boxes(context: Context, drive: Drive) -> int:
    """Boxes that no placement of this core passes."""
    boxes, wanted = min(len(context.bays), drive.core.series), context.project.choices.bays_max
    return boxes if wanted is None else min(boxes, wanted)


def most_ends_elsewhere(context: Context, drive: Drive) -> int:
    """Ends outside the junction box that no placement of this core passes."""
    runs, motor = drive.strings * most_boxes(context, drive), motor_conductors(drive)
    of_boxes = 2 * runs + 4 * drive.strings  # fuse and module; a cut inside, the disconnect
    return of_boxes + STUB_ENDS + 2 * motor


def lug_ends(drive: Drive, rows: tuple[int, ...]) -> dict[str, int]:
    """Ends of traction cable by the family that they are screwed to, for this placement."""
    strings = drive.strings
    runs = strings * sum(count > 0 for count in rows)
    inside = any(cut_inside(count, drive.core.series) is not None for count in rows if count)
    found = {
        "junction_box": 2 * runs - (0 if inside else 2 * strings),
        "fuse_holder": runs,
        "module": runs + (2 * strings if inside else 0),
        "service_disconnect": 2 * strings,
        "contactor": STUB_ENDS // 2,
        "controller": STUB_ENDS // 2 + motor_conductors(drive),
        "motor": motor_conductors(drive),
    }
    return {family: count for family, count in found.items() if count}
