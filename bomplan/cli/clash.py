"""``bomplan clash``: which requirements cannot be had together, and what would have to give."""

from __future__ import annotations

import click

from bomplan.cli.options import CONTEXT
from bomplan.cli.status import Status
from bomplan.cli.study import Asked, Flags, json_of, run_study, study_flags


@click.command("clash", context_settings=CONTEXT)
@study_flags
@click.option(
    "--parts",
    is_flag=True,
    help="Also say which better part would do, and the figures that it would need.",
)
def COMMAND(  # noqa: N802
    flags: Flags,
    parts: bool,
) -> int:
    """Find the smallest set of requirements that no plan meets together.

    For a project without a plan: the set is proven smallest (give up any one of it and there
    is a plan for the rest), and for each of them it is said how far it alone must give. Where
    the catalogue itself is the cause, it says which figures a part would need, tried by
    planning with such a part.

    \b
    Exit status: 0 nothing clashes, 1 a clash, 2 an input cannot be used,
    4 stopped early.

    \b
    Example:
      bomplan clash my-pickup
      bomplan clash my-pickup --parts
    """
    from bomplan.design.studies import Clash
    from bomplan.outlook import find_clash
    from bomplan.report.studies import clash_rows

    def study(asked: Asked) -> Clash:
        return find_clash(asked.project, asked.solver, parts=parts or None)

    found = run_study(
        flags,
        study,
        lambda found, show: clash_rows("What clashes", found, show),
        json_of,
    )
    if found is None:
        return int(Status.STOPPED)
    return int(Status.SOUND if found.possible else Status.NO_PLAN)
