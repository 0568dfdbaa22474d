"""The battery current that a controller is set to, in whole amperes.

A controller can be set below its greatest battery current. Between the current that a fuse has
to hold for the peak's seconds and the least fault that it has to clear in time there must be
room for a rating; on a weak, cold pack there is only if the controller is set lower.
"""

from __future__ import annotations

from math import floor
from typing import Final, Literal

from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.design.drive import PackFigures
from bomplan.design.faults import least_fault_a

HeldBy = Literal["controller", "modules", "least fault", "project"]

WORDS: Final[dict[HeldBy, str]] = {
    "controller": "its own greatest",
    "modules": "what the modules give for ten seconds",
    "least fault": "more would leave no fuse that still clears a fault of the cold, worn pack",
    "project": "one of those that the project names",
}


def pack_limit_a(context: Context, module: Part, figures: PackFigures) -> dict[HeldBy, int]:
    """The greatest settings that this pack allows, by what holds each.

    What the modules give for ten seconds, and a share of the least fault. A full-range fuse
    holds its peak at about twice its rating and clears in time from about three and a half
    times on, so that below 0.45 of the fault a rating of the usual series lies between the two
    (computed from such a fuse's three points; the steps of the series are about 1.25). Far
    above half its fault current a pack gives less power, not more.
    """
    share = context.project.house_rules.peak_share_of_least_fault
    return {
        "modules": floor(figures.discharge_10s_a + 1e-9),
        "least fault": max(1, floor(share * least_fault_a(context, module, figures) + 1e-9)),
    }


def setting_a(
    context: Context,
    controller: Part,
    module: Part,
    figures: PackFigures,
    named_a: float | None = None,
) -> tuple[int, HeldBy]:
    """What the controller is set to, and what holds it down.

    The least of its own greatest, of what the pack allows, and of ``named_a``, one of the
    project's ``choices.battery_current``.
    """
    amps: dict[HeldBy, int] = {
        "controller": floor(controller.number("battery_a_max")),
        **pack_limit_a(context, module, figures),
    }
    if named_a is not None:
        amps["project"] = floor(named_a)
    held_by = min(amps, key=lambda reason: amps[reason])
    return amps[held_by], held_by


def named_settings(context: Context) -> tuple[int | None, ...]:
    """Those that the project names, ascending; or None alone: as much as goes."""
    named = sorted({floor(amps) for amps in context.project.choices.battery_current_a})
    return tuple(named) or (None,)
