"""``bomplan compare``: the best plan of each chemistry, motor, supplier, voltage or project."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from bomplan.cli.options import CONTEXT, complete_projects
from bomplan.cli.status import Status
from bomplan.cli.study import Asked, Flags, json_of, run_study, study_flags

if TYPE_CHECKING:
    from bomplan.design.comparison import Comparison

# The same words as in outlook.narrowed, which help must not load.
_BY: Final = ("chemistry", "motor", "supplier", "voltage")


@click.command("compare", context_settings=CONTEXT)
@study_flags
@click.argument("others", nargs=-1, metavar="[PROJECT]...", shell_complete=complete_projects)
@click.option(
    "--by",
    type=click.Choice(_BY),
    help="One row for each of these  [default: chemistry].",
)
@click.option(
    "--why", is_flag=True, help="Where there is no plan, find what clashes; takes many plans."
)
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV instead of text.")
def COMMAND(  # noqa: N802
    flags: Flags,
    others: tuple[str, ...],
    by: str | None,
    why: bool,
    as_csv: bool,
) -> int:
    """Set the cheapest plans side by side, and what each costs over the years.

    One project is planned once for each cell chemistry (or as --by says). Several projects,
    say of different donors, are compared as they stand. Distance a year, years and the price
    of electricity stand under [use] in the project.

    \b
    Exit status: 0 at least one plan, 1 no plan at all, 2 an input cannot be
    used, 4 stopped early.

    \b
    Example:
      bomplan compare example:courier-motorcycle --workers 2
    """
    from bomplan import api
    from bomplan.outlook import compare
    from bomplan.outlook.narrowed import narrowed, side_by_side
    from bomplan.report.comparison import comparison_csv, comparison_rows

    if others and by:
        raise click.UsageError("--by narrows one project; several are compared as they stand")
    if as_csv and flags.as_json:
        raise click.UsageError("--csv and --json are two forms of one output")

    def study(asked: Asked) -> Comparison:
        if not others:
            wanted = narrowed(asked.project, asked.catalog, by or "chemistry")  # type: ignore[arg-type]
        else:
            more = [api.check_references(one, list(flags.catalogs) or None) for one in others]
            wanted = side_by_side([(asked.project, asked.catalog), *more])
        return compare(wanted, asked.solver, why=why)

    found = run_study(
        flags,
        study,
        lambda found, show: comparison_rows("Side by side", found, show),
        json_of,
        comparison_csv if as_csv else None,
    )
    if found is None:
        return int(Status.STOPPED)
    planned = any(one.plan is not None for one in found.rows)
    return int(Status.SOUND if planned else Status.NO_PLAN)
