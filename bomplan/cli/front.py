"""``bomplan front``: cost against range, mass or rear axle load."""

from __future__ import annotations

import click

from bomplan.cli.options import CONTEXT
from bomplan.cli.study import Asked, Flags, json_of, run_study, status_of_study, study_flags


@click.command("front", context_settings=CONTEXT)
@study_flags
@click.option(
    "--against",
    type=click.Choice(["range", "mass", "rear-axle"]),
    default="range",
    show_default=True,
    help="The figure to set against cost.",
)
@click.option("--target", default="", metavar="NAME", help="Range target to move [first one].")
@click.option(
    "--most",
    type=click.IntRange(2, 200),
    default=8,
    show_default=True,
    help="How many points, from the cheapest on.",
)
@click.option(
    "--apart",
    type=click.FloatRange(min=0.001),
    metavar="AMOUNT",
    help="Least step between two points, in km or kg [default: 1].",
)
def COMMAND(  # noqa: N802
    flags: Flags,
    against: str,
    target: str,
    most: int,
    apart: float | None,
) -> int:
    """List the plans that no other plan beats both in cost and in one figure.

    From the cheapest plan on, each point is the cheapest plan that does better than the
    point before it.

    \b
    Exit status: 0 an answer, 1 the project has no plan, 2 an input cannot be
    used, 4 stopped early.

    \b
    Example:
      bomplan front example:courier-motorcycle --against range --most 4
    """
    from bomplan.cli.study import cheapest
    from bomplan.design.studies import Front
    from bomplan.outlook import front
    from bomplan.outlook.fronts import range_target
    from bomplan.report.studies import front_rows

    def study(asked: Asked) -> Front:
        if against == "range":
            # before the search, which nobody should wait for with a misspelt name
            try:
                range_target(asked.project, target)
            except ValueError as error:
                raise click.BadParameter(str(error), param_hint="--target") from None
        cheapest(asked)
        return front(
            asked.project,
            asked.solver,
            against,  # type: ignore[arg-type]
            most=most,
            target=target,
            apart=apart,
        )

    found = run_study(
        flags,
        study,
        lambda found, show: front_rows("What more costs", found, show),
        json_of,
    )
    return status_of_study(found)
