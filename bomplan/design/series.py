"""The series order of a placement: every module's number and polarity, the links, the sections.

Nothing is chosen here: the order follows from where the modules stand
(:mod:`bomplan.packing.series`), the sections from the voltage of one series place.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, pairwise

from bomplan import packing
from bomplan.design.bill.links import begins_at_rear, terminal_spacing_mm
from bomplan.design.bill.traction import ServiceDisconnect
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import BayUse, Stand
from bomplan.design.sections import split_places
from bomplan.design.series_records import ModuleLink, Section, module_label
from bomplan.sizing.isolation import sections


@dataclass(frozen=True)
class _Cuts:
    """After which series places of the pack a disconnect leads on, and a section ends."""

    disconnects: frozenset[int]
    sections: tuple[tuple[int, int], ...]


def in_series_order(context: Context, drive: Drive, uses: tuple[BayUse, ...]) -> tuple[BayUse, ...]:
    """The same placement with the series order of every box."""
    ends = tuple(accumulate(use.series for use in uses))
    breaks = ServiceDisconnect().base(context, drive, drive.module) // drive.strings
    disconnects = split_places([use.series for use in uses], breaks)
    each_v = drive.module.number("cells_series") * drive.module.number("cell_v_charge")
    at, found = 0, []
    for use, end in zip(uses, ends, strict=True):
        inside = [cut for cut in disconnects if at < cut < end]
        parts = list(_sections([at, *inside, end], each_v))
        found.append(_ordered(context, drive, use, at, frozenset(inside), tuple(parts), each_v))
        at = end
    return tuple(found)


def _sections(cuts: list[int], each_v: float) -> list[tuple[int, int]]:
    """First and last series place of each section; none lies across a cut."""
    found = []
    for start, end in pairwise(cuts):
        at = start
        for size in sections(end - start, each_v):
            found.append((at + 1, at + size))
            at += size
    return found


def _ordered(
    context: Context,
    drive: Drive,
    use: BayUse,
    offset: int,
    disconnects: frozenset[int],
    parts: tuple[tuple[int, int], ...],
    each_v: float,
) -> BayUse:
    parallel, strings = drive.core.parallel, drive.core.topology == "strings"
    bay = next(n for n, one in enumerate(context.bays) if one.name == use.bay)
    run = packing.series_run(
        tuple(geometry(stand) for stand in use.stands),
        parallel,
        strings=strings,
        from_rear=begins_at_rear(context, bay),
        spacing_mm=terminal_spacing_mm(drive.module),
        open_after=tuple(cut - offset for cut in sorted(disconnects)),
    )
    labels = [module_label(offset + one.place, one.beside, parallel) for one in run.modules]
    place = [offset + one.place for one in run.modules]
    ends = {last for _, last in parts[:-1]}
    numbered = {one.index: one for one in run.modules}
    return use.model_copy(
        update={
            "stands": tuple(
                stand.model_copy(
                    update={
                        "place": offset + numbered[index].place,
                        "beside": numbered[index].beside,
                        "plus": numbered[index].plus,
                    }
                )
                for index, stand in enumerate(use.stands)
            ),
            "links": tuple(
                ModuleLink(
                    first=labels[link.first],
                    first_pole=link.first_pole,
                    second=labels[link.second],
                    second_pole=link.second_pole,
                    way="series" if link.series else "across",
                    joins=link.joins,
                    length_mm=link.length_mm,
                    last=link.series and place[link.first] in ends,
                )
                for link in run.links
            ),
            "sections": tuple(
                Section(first=first, last=last, full_v=round((last - first + 1) * each_v, 2))
                for first, last in parts
            ),
            "disconnects": tuple(sorted(disconnects)),
            "places_apart": run.places_apart,
        }
    )


def geometry(stand: Stand) -> packing.Stand:
    """A recorded stand as the packing room sees it."""
    return packing.Stand(
        stand.x_mm,
        stand.y_mm,
        stand.z_mm,
        stand.length_mm,
        stand.width_mm,
        stand.height_mm,
        stand.layer,
        stand.terminals,
    )
