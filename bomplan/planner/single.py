"""Drives and packs of a search: all that there are, or those of a single core alone.

Whether one core has a plan hangs on no other. So of its pack and its drive alone the figures are
asked that a search has of all, and they are found by the same screen under choices that name them.
"""

from __future__ import annotations

from bomplan.design.context import Context
from bomplan.design.records import Core
from bomplan.planner.screen import DriveRow, Packs, Screened, drives, packs
from bomplan.project.records import Choices

FIXED = ("motor", "controller", "module", "series", "parallel", "topology")


def drives_and_packs(
    context: Context, seen: Screened, only: Core | None = None
) -> tuple[list[DriveRow], Packs]:
    """Every drive and every pack, each screened by itself; with ``only`` those of this core."""
    if only is None:
        return drives(context, seen), packs(context, seen)
    choices = context.project.choices
    some = context.choosing(**{name: getattr(only, name) for name in FIXED})
    found = [row for row in drives(some, seen) if row.ratio == only.final_ratio]
    # What the builder's own choices leave out stays out, though it is named here.
    return (found if _chosen(choices, only) else []), packs(some, seen)


def _chosen(choices: Choices, core: Core) -> bool:
    """Whether choices leave all parts of a core; those that are named are never excluded."""
    for name in FIXED:
        chosen, own = getattr(choices, name), getattr(core, name)
        if chosen != own and (chosen is not None or own in choices.excluded):
            return False
    return choices.parallel is not None or core.parallel <= choices.parallel_max


__all__ = ["drives_and_packs"]
