"""The side branches behind fuses of their own: charger, converter, heater, isolation monitor."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import cast

from bomplan.catalog.records import Part
from bomplan.design.bill.ends import bend_words
from bomplan.design.bill.rule import DesignCurrents, Rule, at_least, at_most, voltage_check
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.faults import greatest_fault_a
from bomplan.design.records import Check
from bomplan.design.spots import Spot, place_spot
from bomplan.sizing.copper import at_temperature
from bomplan.sizing.isolation import MONITOR_ADVISED_ABOVE_V
from bomplan.source import COMMON, seen

TAIL_MM = 500
"""From the clamp to the terminals, both ends of a branch together; common practice."""
TAPS_MM = 1000
"""For the pre-charge inside the junction box; common practice."""
RELAY_TAP_MM = 200
"""From the heater's fuse to its relay beside it; common practice."""
PRECHARGE_ENDS, RELAY_ENDS = 4, 2
"""Ends of wire at the pre-charge's resistor and relay, and at the relay of the heater."""
DEVICES_BRING = (
    "the entries of the devices themselves are not counted: they come with a device, or are to be"
    " bought to its thread"
)
"""Said wherever glands are counted."""
# Where the families of the branches stand, if the project gives them no place of their own.
PLACES = {
    "charger": "charger",
    "dcdc": "charger",
    "heater": "other",
    "isolation_monitor": "controller",
}


def isolation_watched(drive: Drive) -> bool:
    """Whether a permanent isolation monitor is fitted."""
    return drive.figures.charge_v > MONITOR_ADVISED_ABOVE_V


def branches(context: Context, drive: Drive) -> tuple[str, ...]:
    """The families that hang on a branch of their own, each behind its own fuse."""
    heater = any(condition.heater_w > 0 for condition in context.project.conditions)
    found = ["charger", "dcdc"]
    if heater:
        found.append("heater")
    if isolation_watched(drive):
        found.append("isolation_monitor")
    return tuple(found)


def branch_run_mm(context: Context, family: str) -> int:
    """One pole of a branch from the junction box to its device, slack included.

    Along, across and up, as cable follows the body; a coordinate that nobody measured counts
    as none.
    """
    key = ("branch run", family)
    known = context.remembered.get(key)
    if known is None:
        box = place_spot(context, "junction_box", "controller")
        device = place_spot(context, family, PLACES[family])
        slack = 1 + context.project.house_rules.cable_slack
        known = context.remembered[key] = math.ceil((apart_mm(box, device) + TAIL_MM) * slack)
    return cast(int, known)


def apart_mm(first: Spot, second: Spot) -> int:
    """Along, across and up between two places; a coordinate that nobody measured counts none."""
    return sum(
        abs(one - other)
        for one, other in (
            (first.x_mm, second.x_mm),
            (first.y_mm, second.y_mm),
            (first.z_mm, second.z_mm),
        )
        if one is not None and other is not None
    )


def longest_loop_m(context: Context, drive: Drive) -> float:
    """Both poles of the longest branch, in metres."""
    return max(2 * branch_run_mm(context, one) for one in branches(context, drive)) / 1000


def loop_ohm(cable: Part, metres: float, temperature_c: float) -> float:
    """Resistance of so much of a cable at this temperature of the copper."""
    per_m = at_temperature(cable.number("resistance_mohm_per_m"), temperature_c) * 1e-3
    return per_m * metres


class BranchFuse(Rule):
    family = "branch_fuse"
    side = "pack"
    system = "traction circuit"
    place = "controller"
    too_few = "a thin branch behind the main fuse alone burns before that fuse blows"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return len(branches(context, drive))

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        margins = context.project.margins
        yield voltage_check(context, drive, "branch_fuse", part.number("v_dc"))
        yield at_least(
            "branch_fuse.breaking",
            "the branch fuse breaks the pack's short-circuit current",
            part.number("breaking_ka") * 1000,
            greatest_fault_a(context, drive) * (1 + margins.fault_current),
            "A",
            COMMON,
        )
        heat = max(condition.heater_w for condition in context.project.conditions)
        converter = context.project.donor.worst_12v_w / context.project.house_rules.dcdc_efficiency
        largest = max(heat, converter) / drive.figures.least_v
        yield at_least(
            "branch_fuse.continuous",
            "the branch fuse carries the heater or the converter with a quarter to spare",
            part.number("rated_a"),
            1.25 * largest,
            "A",
            COMMON,
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"one for each branch: {_named(context, drive)}"


class BranchFuseHolder(Rule):
    family = "branch_fuse_holder"
    side = "pack"
    system = "traction circuit"
    place = "controller"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return len(branches(context, drive))

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield voltage_check(context, drive, "branch_fuse_holder", part.number("v_dc"))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "one for each branch fuse"


class BranchCable(Rule):
    """Both poles of every branch, by the metre: one size for all, as its fuse is."""

    family = "branch_cable"
    side = "pack"
    system = "traction circuit"
    place = "controller"
    unit = "m"
    least_ever = 2
    too_few = "a branch on whatever wire is at hand burns before its fuse blows"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        found = branches(context, drive)
        runs = sum(2 * branch_run_mm(context, one) for one in found)
        relay = RELAY_TAP_MM if "heater" in found else 0
        return math.ceil((runs + TAPS_MM + relay) / 1000)

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield voltage_check(context, drive, "branch_cable", part.number("v_rating"))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"both poles from the junction box to {_named(context, drive)}; {bend_words(part)}"


class BranchLug(Rule):
    """Both ends of every conductor of the branches, of the pre-charge and of the heater's relay."""

    family = "branch_lug"
    side = "pack"
    system = "traction circuit"
    place = "controller"
    too_few = "a thin wire clamped bare under a screw works loose, and arcs"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        found = branches(context, drive)
        return 4 * len(found) + PRECHARGE_ENDS + (RELAY_ENDS if "heater" in found else 0)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "both ends of every branch conductor, pre-charge and relay included"


class BranchGland(Rule):
    """Where both poles of a branch leave the junction box; entries of devices are not counted."""

    family = "branch_gland"
    side = "pack"
    system = "traction circuit"
    place = "controller"
    too_few = "a cable that rubs on the rim of a hole puts the pack on the chassis"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 2 * len(branches(context, drive))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"both poles of every branch, out of the junction box; {DEVICES_BRING}"


def branch_drop(context: Context, drive: Drive, fuse: Part, cable: Part) -> Check:
    """Volts lost in the longest branch when it carries what its fuse lets through for hours."""
    lost = 0.8 * fuse.number("rated_a") * loop_ohm(cable, longest_loop_m(context, drive), 70.0)
    return at_most(
        "branch_cable.drop",
        "volts lost in the longest branch at four fifths of its fuse (cable at 70 °C)",
        100.0 * lost / drive.figures.nominal_v,
        3.0,
        "% of pack",
        seen("NEC informational note, 3 % of a branch (seen in reproduction, for buildings)"),
    )


_WORDS = {
    "charger": "charger",
    "dcdc": "12 V converter",
    "heater": "heater",
    "isolation_monitor": "isolation monitor",
}


def _named(context: Context, drive: Drive) -> str:
    return ", ".join(_WORDS[one] for one in branches(context, drive))


RULES: tuple[Rule, ...] = (
    BranchFuse(),
    BranchFuseHolder(),
    BranchCable(),
    BranchLug(),
    BranchGland(),
)
