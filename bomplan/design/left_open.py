"""What a plan leaves open for want of a figure, in sentences that stand among its cautions."""

from __future__ import annotations

from collections.abc import Mapping

from bomplan.catalog.records import Part
from bomplan.design.bill import DesignCurrents
from bomplan.design.bill.brakes import unheld
from bomplan.design.bill.fits import unchecked
from bomplan.design.bill.interlock import reach_open
from bomplan.design.bill.links import cables_listed
from bomplan.design.bill.lug_ends import detour_words, fuse_joint_words
from bomplan.design.bill.peak_drop import peak_drop_words
from bomplan.design.bill.studs import holes_words
from bomplan.design.bill.supply_12v import unblown
from bomplan.design.bill.traction import Cable
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import BayUse


def left_open(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    placement: tuple[BayUse, ...],
    parts: Mapping[str, Part],
) -> tuple[str, ...]:
    """Places and reach that could not be checked, links that the bill's bars do not reach, and
    what is no fault but more than the trade takes.

    ``parts``: the chosen rows by family.
    """
    stands = {use.bay: use.series for use in placement}
    rows = tuple(stands.get(bay.name, 0) for bay in context.bays)
    cable, peak_a = parts["cable"], currents.peak_a
    lost = Cable.lost_share(context, drive, cable, peak_a)
    return (
        *peak_drop_words(context, cable, lost, peak_a),
        *holes_words(context, drive, rows, parts),
        *detour_words(context, parts.get("emergency_disconnect")),
        *fuse_joint_words(drive, sum(count > 0 for count in rows), parts.get("fuse_holder")),
        *unchecked(context, parts),
        *reach_open(context, parts.get("emergency_disconnect")),
        *(() if cables_listed(context) else long_links(placement, parts.get("link"))),
        *unheld(context.project.donor, parts.get("vacuum_set")),
        *unblown(context.project),
    )


def long_links(placement: tuple[BayUse, ...], bar: Part | None) -> tuple[str, ...]:
    """A sentence where links of the series order are longer than the bill's bar.

    For catalogues without cable for links. Nothing is said where the row gives no length.
    """
    if bar is None or bar.length_mm is None:
        return ()
    lengths = [link.length_mm for use in placement for link in use.links]
    long = [one for one in lengths if one > bar.length_mm]
    if not long:
        return ()
    return (
        f"Not in the bill: {len(long)} of {len(lengths)} links between modules are longer than"
        f" {bar.id} ({bar.length_mm} mm), {sum(long) / 1000:.1f} m from terminal to terminal"
        " altogether. Make them of longer bar, or of traction cable with two lugs each.",
    )
