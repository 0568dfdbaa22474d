"""``bomplan audit``: every check of a plan or of a typed parts list, without the planner."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bomplan.cli.options import CONTEXT, as_json, catalogs, complete_projects, shown, verbose
from bomplan.cli.plan_file import plan_file
from bomplan.cli.status import Status

if TYPE_CHECKING:
    from bomplan.cli.settings import Resolved
    from bomplan.design.records import Check, Topology

_LISTS: Final = (".csv", ".tsv", ".txt", ".xlsx")


@click.command("audit", context_settings=CONTEXT)
@click.argument("plan", type=click.Path(path_type=Path), metavar="PLAN|LIST")
@click.option(
    "--project",
    metavar="PROJECT",
    shell_complete=complete_projects,
    help="The project that a parts list is for.",
)
@catalogs
@click.option("--sheet", default="", metavar="NAME", help="Sheet of the workbook with the list.")
@click.option(
    "--placement",
    multiple=True,
    metavar="BAY=PLACES",
    help="Places in series in this bay, instead of a column bay; give it for each.",
)
@click.option("--parallel", type=click.IntRange(1, 99), help="Modules side by side [default: 1].")
@click.option(
    "--topology", type=click.Choice(["groups", "strings"]), help="How modules are put together."
)
@click.option("--ratio", type=float, metavar="RATIO", help="Final drive, of those in the project.")
@click.option(
    "--battery-current",
    type=click.FloatRange(1),
    metavar="AMPS",
    help="What the controller is set to take from the pack [default: as much as may be].",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write plan.json, bom.xlsx and report.html of a whole list there.",
)
@shown
@as_json
@verbose
def COMMAND(  # noqa: N802
    plan: Path,
    project: str | None,
    catalogs: tuple[str, ...],
    sheet: str,
    placement: tuple[str, ...],
    parallel: int | None,
    topology: Topology | None,
    ratio: float | None,
    battery_current: float | None,
    out: Path | None,
    units: str | None,
    decimal_comma: bool | None,
    as_json: bool,
    verbose: bool,
) -> int:
    """Check a saved plan again, or a parts list that you typed.

    A plan.json (or the folder that it is in) carries its project and its parts. A list is a
    CSV file or a workbook with the columns part and quantity, and if you like family,
    supplier and bay; it needs --project. Masses, axle loads, voltages, currents, energy,
    range and money are worked out anew; the planner has no part in it.

    \b
    Exit status: 0 every check passes, 1 one fails, 2 an input cannot be used.

    \b
    Example:
      bomplan audit out-garden-pickup
      bomplan audit my-list.csv --project my-pickup --placement bed=24
    """
    del verbose
    if plan.suffix.lower() not in _LISTS:
        flags = (project, placement, sheet, topology, parallel, out)
        if any(flags) or ratio is not None or battery_current is not None:
            raise click.UsageError("those flags belong to a parts list (.csv or .xlsx)")
        return _saved(plan, {"units": units, "decimal_comma": decimal_comma}, as_json=as_json)
    if project is None:
        raise click.UsageError("a parts list needs --project, the car that it is for")
    from bomplan import api
    from bomplan.cli.settings import resolve
    from bomplan.design.planfile import of_our_own

    loaded = api.open_project(project)
    settings = resolve({"units": units, "decimal_comma": decimal_comma}, loaded.project)
    found = api.audit_list(
        loaded,
        plan,
        list(catalogs) or None,
        sheet=sheet,
        placement=_placement(placement),
        parallel=parallel,
        topology=topology,
        final_ratio=ratio,
        battery_current=battery_current,
    )
    _tell(found.checks, settings, as_json=as_json, missing=found.missing)
    if out is not None and found.plan is not None:
        from bomplan.report.page.plotting import load_alone

        load_alone()
        with of_our_own():
            api.write_outputs(found.plan, out, show=settings.show())
        print(f"\nwritten: plan.json, bom.xlsx, report.html in {out}", file=sys.stderr)
    elif out is not None:
        print("\nnothing written: the list is not whole", file=sys.stderr)
    return _status(found.checks)


def _saved(path: Path, flags: dict[str, Any], *, as_json: bool) -> int:
    from bomplan import api
    from bomplan.cli.settings import resolve
    from bomplan.design.planfile import held_together

    file = plan_file(path, api.PLAN_FILE)
    saved = api.read_plan(file)
    if saved.core is None:
        print(f"this plan holds no choice to check (status {saved.status})", file=sys.stderr)
        return int(Status.NO_PLAN)
    with held_together(file):
        checks = api.audit(saved)
    _tell(checks, resolve(flags), as_json=as_json)
    return _status(checks)


def _placement(words: Sequence[str]) -> dict[str, int] | None:
    if not words:
        return None
    found: dict[str, int] = {}
    for word in words:
        bay, equals, places = word.rpartition("=")
        if not equals or not bay or not places.isdecimal():
            raise click.BadParameter(
                f"such as --placement bed=24, not {word!r}", param_hint="--placement"
            )
        found[bay] = found.get(bay, 0) + int(places)
    return found


def _tell(
    checks: Sequence[Check], settings: Resolved, *, as_json: bool, missing: tuple[str, ...] = ()
) -> None:
    from bomplan.cli.show import show
    from bomplan.report.lines import Row
    from bomplan.report.terminal import check_rows

    wrong = sum(not check.passed for check in checks)
    if as_json:
        answer = {
            "format": "bomplan-audit",
            "version": 1,
            "passed": wrong == 0,
            "missing": list(missing),
            "checks": [{**check.model_dump(), "margin": check.margin} for check in checks],
        }
        print(json.dumps(answer, indent=1, ensure_ascii=False))
        return
    colour = settings.values["colour"]
    show(check_rows(checks, settings.show()), colour=colour)
    words = "every check passes" if not wrong else f"{wrong} of {len(checks)} checks FAIL"
    rows = [Row(""), Row(f"{words} ({len(checks)} made)", "bad" if wrong else "good")]
    if missing:
        rows.append(Row("The list lacks parts, so masses, range and money were not checked."))
    show(rows, colour=colour)


def _status(checks: Sequence[Check]) -> int:
    passed = all(check.passed for check in checks)
    return int(Status.SOUND if passed else Status.NO_PLAN)
