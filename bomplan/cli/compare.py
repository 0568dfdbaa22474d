"""``bomplan compare``: the best plan of each chemistry, motor, supplier, voltage or project."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bomplan.cli.keeping import keep_answer, keep_option
from bomplan.cli.options import CONTEXT, complete_projects
from bomplan.cli.status import Status
from bomplan.cli.study import Asked, Flags, json_of, run_study, study_flags

if TYPE_CHECKING:
    from bomplan.design.comparison import Comparison
    from bomplan.project import Project

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
@click.option("--scenarios", is_flag=True, help="One row for each scenario of the project.")
@click.option(
    "--why", is_flag=True, help="Where there is no plan, find what clashes; takes many plans."
)
@click.option(
    "--chart",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Also draw the table as a picture, SVG.",
)
@keep_option
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV instead of text.")
def COMMAND(  # noqa: N802
    flags: Flags,
    others: tuple[str, ...],
    by: str | None,
    scenarios: bool,
    why: bool,
    chart: Path | None,
    as_csv: bool,
    keep: Path | None,
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
    from bomplan.outlook.narrowed import scenarios as rows_of_scenarios
    from bomplan.report.comparison import comparison_csv, comparison_rows

    if others and (by or scenarios):
        raise click.UsageError(
            "--by and --scenarios are about one project; several are compared as they stand"
        )
    if by and scenarios:
        raise click.UsageError("--by and --scenarios are two ways to make rows; take one")
    if as_csv and flags.as_json:
        raise click.UsageError("--csv and --json are two forms of one output")

    if chart is not None and chart.suffix != ".svg":
        raise click.BadParameter("the picture's file ends in .svg", param_hint="--chart")
    planned_for: list[Project] = []

    def study(asked: Asked) -> Comparison:
        planned_for.append(asked.project)
        if scenarios:
            wanted = rows_of_scenarios(asked.loaded, asked.catalog)
        elif not others:
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
    keep_answer(keep, "comparison.json", json_of(found))
    if chart is not None:
        _draw(chart, found, flags, planned_for[0])
    planned = any(one.plan is not None for one in found.rows)
    return int(Status.SOUND if planned else Status.NO_PLAN)


def _draw(file: Path, found: Comparison, flags: Flags, project: Project) -> None:
    """The picture beside the table, where there is a plan to be drawn."""
    from bomplan import api
    from bomplan.cli.settings import resolve
    from bomplan.report.comparison_chart import comparison_svg
    from bomplan.report.page.plotting import load_alone

    load_alone()
    asked = {"units": flags.units, "decimal_comma": flags.decimal_comma}
    show = resolve(asked, project).show()
    picture = comparison_svg(found, show)
    if picture is None:
        print("mind: no plan, so there is nothing to draw", file=sys.stderr)
        return
    api.write_files({file: picture.encode("utf-8")})
    print(f"written: {file}", file=sys.stderr)
