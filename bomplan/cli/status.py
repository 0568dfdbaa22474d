"""The exit statuses, and which one a plan deserves."""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bomplan.design.records import Plan


class Status(IntEnum):
    SOUND = 0
    NO_PLAN = 1
    INPUT = 2
    BUG = 3
    STOPPED = 4


def status_of(plan: Plan, *, stopped: bool) -> Status:
    """A plan's failed check weighs more than having been stopped; a proven end more than a stop.

    Without a plan the checks are those of parts that were turned away.
    """
    failed = plan.core is not None and any(not check.passed for check in plan.checks)
    if failed or plan.status == "none":
        return Status.NO_PLAN
    if stopped and plan.status in ("feasible", "unknown"):
        return Status.STOPPED
    return Status.NO_PLAN if plan.core is None else Status.SOUND
