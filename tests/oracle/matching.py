"""Rows of a kit put in front so that they may stand beside one another."""

from __future__ import annotations

from collections.abc import Callable

from bomplan.catalog.records import Part
from bomplan.design.bill import JOINTS, DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive

AFTER_CABLE = ("lug", "link_cable", "gland", "conduit")


def lead_with_matching(
    context: Context, drive: Drive, currents: DesignCurrents, kit: dict[str, list[Part]]
) -> bool:
    """Put rows in front that fit one another, found by following the joints from the cable."""
    judge = {(joint.first, joint.second): joint.judge for joint in JOINTS}

    def fits(first: str, part: Part, second: str, lead: Part) -> bool:
        checks = judge[first, second](context, drive, currents, part, lead)
        return all(check.passed for check in checks)

    def first_fitting(first: str, second: str, lead: Part) -> Part | None:
        return next((part for part in kit[first] if fits(first, part, second, lead)), None)

    inlet = first_fitting("charge_inlet", "charger", kit["charger"][0])
    if not _branches_fit(kit, fits) or not _feeds_fit(kit, fits):
        return False
    for cable in kit["cable"]:
        lead = {family: first_fitting(family, "cable", cable) for family in AFTER_CABLE}
        if None in lead.values() or inlet is None:
            continue
        for fuse in (part for part in kit["fuse"] if fits("fuse", part, "cable", cable)):
            holder = first_fitting("fuse_holder", "fuse", fuse)
            if holder is None:
                continue
            link_cable = lead["link_cable"]
            assert link_cable is not None
            lug = first_fitting("link_lug", "link_cable", link_cable)
            lead |= {
                "link_lug": lug,
                "cable": cable,
                "fuse": fuse,
                "fuse_holder": holder,
                "charge_inlet": inlet,
            }
            for family, part in lead.items():
                assert part is not None
                kit[family] = [part, *(other for other in kit[family] if other != part)]
            return True
    return False


def _branches_fit(kit: dict[str, list[Part]], fits: Callable[[str, Part, str, Part], bool]) -> bool:
    """Put a branch fuse in front that carries what hangs on it, with its holder and its cable."""
    loads = [(family, kit[family][0]) for family in ("charger", "heater", "dcdc")]
    for fuse in kit["branch_fuse"]:
        if not all(fits("branch_fuse", fuse, family, load) for family, load in loads):
            continue
        lead: dict[str, Part | None] = {
            "branch_fuse": fuse,
            "branch_fuse_holder": next(
                (
                    holder
                    for holder in kit["branch_fuse_holder"]
                    if fits("branch_fuse_holder", holder, "branch_fuse", fuse)
                ),
                None,
            ),
            "branch_cable": next(
                (
                    cable
                    for cable in kit["branch_cable"]
                    if fits("branch_fuse", fuse, "branch_cable", cable)
                ),
                None,
            ),
        }
        cable = lead["branch_cable"]
        if cable is not None:
            for family in ("branch_lug", "branch_gland"):
                lead[family] = next(
                    (part for part in kit[family] if fits(family, part, "branch_cable", cable)),
                    None,
                )
        if None in lead.values():
            continue
        for family, part in lead.items():
            assert part is not None
            kit[family] = [part, *(other for other in kit[family] if other != part)]
        return True
    return False


def _feeds_fit(kit: dict[str, list[Part]], fits: Callable[[str, Part, str, Part], bool]) -> bool:
    """Put a fuse of the 12 V feed in front that serves the strongest converter, with its wire.

    As far as the first battery can blow it.
    """
    battery = kit["battery_12v"][0]
    for converter in sorted(kit["dcdc"], key=lambda part: -part.number("output_a")):
        for fuse in kit["feed_fuse"]:
            if not fits("feed_fuse", fuse, "dcdc", converter):
                continue
            if not fits("feed_fuse", fuse, "battery_12v", battery):
                continue
            wire = next(
                (one for one in kit["feed_wire"] if fits("feed_fuse", fuse, "feed_wire", one)),
                None,
            )
            lug = wire and next(
                (one for one in kit["feed_lug"] if fits("feed_lug", one, "feed_wire", wire)), None
            )
            if wire is None or lug is None:
                continue
            for family, part in (("feed_fuse", fuse), ("feed_wire", wire), ("feed_lug", lug)):
                kit[family] = [part, *(other for other in kit[family] if other != part)]
            return True
    return False
