"""What of the bill keeps people from the pack's voltage: covers, orange, labels, straps, tools."""

from __future__ import annotations

from collections.abc import Iterator
from math import isinf

from bomplan.catalog.extras import Extra
from bomplan.catalog.records import Part
from bomplan.design.bill.lug_ends import most_boxes
from bomplan.design.bill.rule import at_least, at_most, from_finding, highest_v, same
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.faults import greatest_fault_a, least_fault_a
from bomplan.design.records import Check
from bomplan.sizing.bonding import STRAP_SOURCE, strap_mm2, strap_ohm
from bomplan.sizing.enclosure import TOUCH_CAUTION, WATER_CAUTION, check_enclosure
from bomplan.sizing.fuse import FuseData, let_through_a2s
from bomplan.sizing.isolation import BONDING_OHM, least_isolation_ohm
from bomplan.source import recalled

# Families whose closed covers hold the pack's voltage.
ENCLOSED = ("box", "junction_box", "controller", "charger", "dcdc", "heater")
BARE_HANDS = (
    "gloves and meters below the pack's voltage break down in the hand: a meter explodes, a glove"
    " is no glove"
)


def isolation_wanted_ohm(drive: Drive) -> float:
    """Isolation that the closed circuit of this drive must keep from the chassis, in ohm.

    An inverter joins alternating to direct parts without separation; a chopper has none.
    """
    joined = drive.motor.text("kind") != "series_dc"
    return least_isolation_ohm(drive.figures.charge_v, ac_joined=joined)


def enclosure_checks(context: Context, drive: Drive, part: Part) -> Iterator[Check]:
    """A row's degree of protection against its place; nothing where the row gives none."""
    if part.family not in ENCLOSED or not part.has("protection") or drive.touchable:
        return
    inside, outside = _stands(context, part.family)
    for finding in check_enclosure(
        part.family, part.id, part.text("protection"), in_cabin=inside, outside=outside
    ):
        yield from_finding(
            finding, TOUCH_CAUTION if finding.id.endswith("-touch") else WATER_CAUTION
        )


def _stands(context: Context, family: str) -> tuple[bool, bool]:
    """Whether pieces may stand in the cabin, and outside of it: one row serves every bay."""
    if family == "box":
        places = {bay.inside_cabin for bay in context.bays}
    else:
        own = context.project.places.own(family)
        if own is not None and own.water is not None:
            return own.inside_cabin, False  # held against what its place says of water
        places = {own is not None and own.inside_cabin}
    return True in places, False in places


def orange_checks(drive: Drive, conduit: Part) -> Iterator[Check]:
    """Cable with the pack's voltage is orange where it can be seen."""
    if conduit.has("colour") and not drive.touchable:
        yield same(
            "conduit.orange",
            f"the cover of the traction cable outside its boxes is orange ({conduit.id} is"
            f" {conduit.text('colour')})",
            conduit.text("colour") == "orange",
            recalled("orange outer covering: AIS draft 5.1.1.5.3 (seen), ISO 6469-3 (from memory)"),
            "who cuts into a car after a crash knows the pack's cables by their colour alone",
        )


def label_places(context: Context, drive: Drive, boxes: int) -> tuple[str, ...]:
    """Where a warning label belongs, one each: every cover behind which the pack's voltage is.

    UN R100 5.1.1.5 (seen; the symbol from memory); where rescuers look first: common practice.
    """
    motorcycle = context.project.donor.kind == "motorcycle"
    return (
        *("lid of a box" for _ in range(boxes)),
        "junction box",
        "controller",
        "motor's terminal cover",
        "charge inlet",
        *("service disconnect" for _ in range(drive.strings)),
        "driver's disconnect",
        *(("frame, for rescuers",) if motorcycle else ("under the bonnet", "rear lid")),
    )


def label_checks(context: Context, drive: Drive, labels: Part) -> Iterator[Check]:
    """As many labels in the set as there are covers, with a box in every bay that may have one."""
    if not labels.has("pieces") or drive.touchable:
        return
    yield at_least(
        "labels.pieces",
        "labels of the set against the covers that need one, a box in every bay",
        labels.number("pieces"),
        len(label_places(context, drive, most_boxes(context, drive))),
        "labels",
        recalled(
            "symbol on every cover of a class B circuit: UN R100 5.1.1.5 (seen; the symbol from"
            " memory); rescuers' places: common practice"
        ),
        "a cover without its label is opened by somebody who does not know what is behind it",
    )


def bonding_checks(context: Context, drive: Drive, fuse: FuseData) -> Iterator[Check]:
    """The strap of the box that is farthest away, behind this fuse."""
    square_mm = bonding_strap_mm2(context, drive, fuse)
    if isinf(square_mm):
        return  # the fuse never clears such a fault: a check of its own
    run_mm = max(bay.cable_run_mm for bay in context.bays)
    yield at_most(
        "bonding.strap",
        f"resistance of a strap of {square_mm:.3g} mm² to the box that is farthest away"
        f" ({run_mm / 1000:.1f} m): so thick that it outlasts the fuse",
        strap_ohm(square_mm, run_mm),
        BONDING_OHM,
        "Ω",
        STRAP_SOURCE,
        "a metal box that is not bonded stands at the pack's voltage after one fault, and nobody"
        " sees it",
    )


def bonding_strap_mm2(context: Context, drive: Drive, fuse: FuseData) -> float:
    """Section of every bonding strap behind this fuse, in mm²; infinite if it never clears.

    At the least fault, with its margin taken off, and at the greatest: whichever lets more
    through.
    """
    least = least_fault_a(context, drive.module, drive.figures) / drive.strings
    least *= 1.0 - context.project.margins.fault_current
    faults = (least, greatest_fault_a(context, drive))
    return strap_mm2(max(let_through_a2s(fuse, amps) for amps in faults))


def kit_checks(context: Context, drive: Drive, kit: Part) -> Iterator[Check]:
    """Gloves and tester of the safety kit, where its row says for how many volts they are."""
    if drive.touchable:
        return
    for column, words in (("gloves_v_dc", "gloves"), ("tester_v_dc", "tester")):
        if kit.has(column):
            yield at_least(
                f"safety_kit.{words}",
                f"direct voltage that the {words} of {kit.id} are made for against the pack's",
                kit.number(column),
                highest_v(context, drive),
                "V",
                recalled(
                    "class 0 gloves 1,000 V alternating, 1,500 V direct: IEC 60903 (from memory);"
                    " meters: CAT III at the pack's voltage, IEC 61010 (from memory)"
                ),
                BARE_HANDS,
            )


def tool_checks(context: Context, drive: Drive) -> Iterator[Check]:
    """Every tool of the table of extras that says for how many volts it is made."""
    if drive.touchable:
        return
    for tool in context.catalog.extras.values():
        if tool.v_dc is None or not _wanted(tool, context):
            continue
        yield at_least(
            f"tool.{tool.id}",
            f"direct voltage that it is made for against the pack's: {tool.description}",
            tool.v_dc,
            highest_v(context, drive),
            "V",
            recalled(
                "class 0 gloves 1,500 V direct: IEC 60903 (from memory); meters CAT III at the"
                " pack's voltage: IEC 61010 (from memory); insulation tested at the working"
                " voltage at least: UN R100 annex 4 (from memory)"
            ),
            BARE_HANDS,
        )


def _wanted(tool: Extra, context: Context) -> bool:
    return tool.vehicle in ("any", context.project.donor.kind)
