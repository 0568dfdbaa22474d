"""``bomplan report``: a saved plan as one page to look at."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from bomplan.cli.options import CONTEXT, shown, verbose
from bomplan.cli.plan_file import plan_file
from bomplan.cli.status import Status


@click.command("report", context_settings=CONTEXT)
@click.argument("plan", type=click.Path(path_type=Path), metavar="PLAN")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Where to write it [default: report.html beside the plan].",
)
@shown
@verbose
def COMMAND(  # noqa: N802
    plan: Path, out: Path | None, units: str | None, decimal_comma: bool | None, verbose: bool
) -> int:
    """Write a saved plan as a page to look at, to print and to hand on.

    PLAN is a plan.json or the folder that it is in. The page is one file that needs no
    network and no other file; bomplan plan writes it, too. Ask for it again in other units or
    with another decimal mark; figures and plan stay the same.

    \b
    Example:
      bomplan report out-garden-pickup
      bomplan report out-garden-pickup --units us --out for-the-inspector.html
    """
    del verbose
    from bomplan import api
    from bomplan.cli.settings import resolve
    from bomplan.design.planfile import held_together, project_of
    from bomplan.errors import InputError
    from bomplan.report.page.plotting import load_alone

    file = plan_file(plan, api.PLAN_FILE)
    saved = api.read_plan(file)
    try:
        project = project_of(saved)
    except InputError:  # a plan put together by hand; the report says what there is
        project = None
    show = resolve({"units": units, "decimal_comma": decimal_comma}, project).show()
    if saved.core is not None:
        load_alone()
    with held_together(file):
        written = api.write_report(saved, out or file.with_name(api.REPORT_FILE), show)
    if written.kept is not None:
        print(
            f"mind: {written.path.name} had been changed since it was written here; "
            f"the changed one is kept as {written.kept}",
            file=sys.stderr,
        )
    print(f"written: {written.path}", file=sys.stderr)
    return int(Status.SOUND)
