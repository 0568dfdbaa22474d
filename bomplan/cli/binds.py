"""``bomplan binds``: what one step more or less of each target and limit costs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bomplan.cli.keeping import keep_answer, keep_option
from bomplan.cli.options import CONTEXT
from bomplan.cli.study import (
    Asked,
    Flags,
    cheapest,
    json_of,
    run_study,
    status_of_study,
    study_flags,
)

if TYPE_CHECKING:
    from bomplan.design.records import Plan
    from bomplan.design.studies import Binding


@click.command("binds", context_settings=CONTEXT)
@study_flags
@click.option(
    "--only",
    multiple=True,
    metavar="ID",
    help="Just this target or limit, by the id that a check has; again for more.",
)
@keep_option
def COMMAND(  # noqa: N802
    flags: Flags,
    only: tuple[str, ...],
    keep: Path | None,
) -> int:
    """Say what each target and limit costs: one step easier, one step harder.

    Each figure comes from a plan that was searched for and proven anew, so this takes as
    long as some twenty plans. What costs most stands first.

    \b
    Exit status: 0 an answer, 1 the project has no plan, 2 an input cannot be
    used, 4 stopped early.

    \b
    Example:
      bomplan binds example:garden-pickup --only axle.rear
      bomplan binds my-pickup --keep out-my-pickup
    """
    from bomplan.outlook import what_binds
    from bomplan.outlook.levers import levers
    from bomplan.report.studies import binding_rows

    def study(asked: Asked) -> tuple[Plan, tuple[Binding, ...]]:
        known = [lever.id for lever in levers(asked.project)]
        for name in only:
            if name not in known:
                raise click.BadParameter(
                    f"{name!r} is no target or limit; there are: {', '.join(known)}",
                    param_hint="--only",
                )
        plan = cheapest(asked)
        return plan, what_binds(asked.project, plan, asked.solver, only)

    found = run_study(
        flags,
        study,
        lambda found, show: binding_rows(
            f"What binds: {found[0].project}",
            found[0].currency,
            found[0].objective.value or 0,
            found[1],
            show,
        ),
        lambda found: json_of(found[1]),
    )
    if found is not None:
        from bomplan.design.studies import Bindings
        from bomplan.outlook.headline import headline
        from bomplan.report.kept_studies import BINDINGS_FILE

        plan, bindings = found
        kept = Bindings(currency=plan.currency, chosen=headline(plan), bindings=bindings)
        keep_answer(keep, BINDINGS_FILE, json_of(kept))
    return status_of_study(found)
