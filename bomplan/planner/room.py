"""Whether the bays take a core's modules at all."""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.planner.screen import Screened
from bomplan.requirements.evaluate import gas_check, gas_gathers
from bomplan.requirements.mounting import crush_forbids


@dataclass(frozen=True)
class Wanting:
    """The bays do not suffice: what is too little, and whether a denser layout may exist."""

    reason: str
    may_be_denser: bool


def room_for(context: Context, drive: Drive, seen: Screened) -> tuple[int, ...] | Wanting:
    """Series places that each bay takes, or why they do not suffice; ``seen`` keeps examples."""
    core = drive.core
    capacity: list[int] = []
    fitting = at_most = 0
    for bay, record in enumerate(context.bays):
        found = context.layout(bay, drive.module)
        places = found.count // core.parallel
        fitting += places
        limit = core.series
        if record.mass_limit_g is not None:
            limit = min(limit, record.mass_limit_g // (core.parallel * drive.module.mass_g))
        if gas_gathers(record, drive.module) or crush_forbids(context, record):
            limit = 0
        capacity.append(min(limit, places))
        if not found.exact:
            places = context.rows_at_most(bay, drive.module, core.parallel)
        at_most += min(limit, places)
    if sum(capacity) >= core.series:
        return tuple(capacity)
    reason = _shut_out(context, drive, seen)
    if reason is None:
        reason = "bay.room" if fitting < core.series else "bay.mass"
    return Wanting(reason, at_most >= core.series)


def _shut_out(context: Context, drive: Drive, seen: Screened) -> str | None:
    """The rule that keeps these modules out of a bay, if one does."""
    gassed = [record for record in context.bays if gas_gathers(record, drive.module)]
    if gassed:
        seen.keep(gas_check(gassed[0], drive.module), "bay.gas")
        return "bay.gas"
    for record in context.bays:
        crushed = crush_forbids(context, record)
        if crushed is not None:
            seen.keep(crushed, "bay.crush")
            return "bay.crush"
    return None


__all__ = ["Wanting", "room_for"]
