"""For each family the limit that its chosen row keeps with least to spare."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from bomplan.design.assemble import Chosen
from bomplan.design.bill import JOINTS, RULE_OF, DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.line_records import Slack
from bomplan.design.records import Check

# Checks of the whole plan that a family's row answers for, by the beginning of their ids.
_OF_THE_PLAN: Final[Mapping[str, tuple[str, ...]]] = {
    "motor": ("motor.", "current.motor-", "power.motor-", "climb.", "speed.", "acceleration."),
    "controller": ("voltage.controller-", "current.controller-"),
    "module": ("module.", "current.pack-", "bay.room.", "range.", "confidence."),
    "box": ("box.load.",),
    "dcdc": ("twelve-volt.",),
    "fasteners": ("restraint.",),
}
# Stands for a figure that is not limited at all (JSON knows no infinity).
_UNLIMITED: Final = 1e11


def tightest(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    chosen: Mapping[str, Chosen],
    family: str,
    checks: Iterable[Check],
) -> Slack | None:
    """The tightest check of this family's row; None where no figure limits it.

    Counted are the row's own checks, those beside its neighbours, and of ``checks`` (all of
    the plan) those that the row answers for. Tight is a small distance as a share of the
    limit; of equal ones the first. Checks of yes or no have no distance.
    """
    found: Slack | None = None
    for check in _checks_of(context, drive, currents, chosen, family, checks):
        slack = _slack(check)
        if slack is not None and (found is None or slack.share < found.share):
            found = slack
    return found


def _checks_of(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    chosen: Mapping[str, Chosen],
    family: str,
    checks: Iterable[Check],
) -> Iterator[Check]:
    yield from RULE_OF[family].suits(context, drive, currents, chosen[family].part)
    for joint in JOINTS:
        if family in (joint.first, joint.second) and {joint.first, joint.second} <= chosen.keys():
            first, second = chosen[joint.first].part, chosen[joint.second].part
            yield from joint.judge(context, drive, currents, first, second)
    mine = _OF_THE_PLAN.get(family, ())
    yield from (check for check in checks if check.id.startswith(mine))


def _slack(check: Check) -> Slack | None:
    if check.unit == "yes/no" or not check.limit:
        return None
    if max(abs(check.value), abs(check.limit)) > _UNLIMITED:
        return None
    return Slack(
        check=check.id,
        words=check.words,
        value=check.value,
        limit=check.limit,
        unit=check.unit,
        sense=check.sense,
        share=round(check.margin / abs(check.limit), 6),
    )
