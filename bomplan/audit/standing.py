"""Whether each line's stated slack is the one that its own checks come to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bomplan.design.assemble import Chosen
from bomplan.design.bill import DesignCurrents
from bomplan.design.bill.rule import at_most
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check, Plan
from bomplan.requirements.slack import tightest
from bomplan.source import computed


def standing_checks(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    chosen: Mapping[str, Chosen],
    plan: Plan,
    checks: tuple[Check, ...],
) -> Iterator[Check]:
    """The slack of every line that states one, counted again from ``checks`` and the parts.

    Other rows that would do are not in the plan, so what is said of them is not looked at.
    """
    stated = [line for line in plan.lines if line.standing is not None]
    if not stated:
        return
    wrong = [
        line.family
        for line in stated
        if line.standing is not None
        and line.family in chosen
        and line.standing.slack != tightest(context, drive, currents, chosen, line.family, checks)
    ]
    yield at_most(
        "audit.slack",
        "lines whose stated slack differs" + (f": {', '.join(wrong)}" if wrong else ""),
        len(wrong),
        0,
        "lines",
        computed("counted again from the plan's own parts"),
    )
