"""``bomplan audit``: every check of a saved plan, made anew without the planner."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from bomplan.cli.status import Status


def audit(
    plan: Annotated[
        Path, typer.Argument(metavar="PLAN", help="A plan.json, or the folder that it is in.")
    ],
    units: Annotated[
        str, typer.Option("--units", metavar="metric|us", help="Units of the figures.")
    ] = "metric",
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the checks as JSON instead of text.")
    ] = False,
    verbose: Annotated[  # noqa: ARG001 - read by main when something goes wrong
        bool, typer.Option("--verbose", help="Show where a bug struck, should there be one.")
    ] = False,
) -> int:
    """Check a saved plan again from the parts and the project that it embeds.

    Masses, axle loads, voltages, currents, energy, range and money are worked out anew; the
    planner has no part in it. Exit status 0 when every check passes, 1 when one fails.

    \b
    Example:
      bomplan audit out-garden-pickup/plan.json
    """
    from bomplan import api
    from bomplan.cli.plan import check_units
    from bomplan.cli.show import show
    from bomplan.report.terminal import Row, check_rows

    shown_in = check_units(units)
    saved = api.read_plan(plan / api.PLAN_FILE if plan.is_dir() else plan)
    if saved.core is None:
        print(f"this plan holds no choice to check (status {saved.status})", file=sys.stderr)
        return int(Status.NO_PLAN)
    checks = api.audit(saved)
    wrong = sum(not check.passed for check in checks)
    if as_json:
        answer = {
            "format": "bomplan-audit",
            "version": 1,
            "passed": wrong == 0,
            "checks": [{**check.model_dump(), "margin": check.margin} for check in checks],
        }
        print(json.dumps(answer, indent=1, ensure_ascii=False))
    else:
        show(check_rows(checks, shown_in))
        words = "every check passes" if not wrong else f"{wrong} of {len(checks)} checks FAIL"
        show([Row(""), Row(f"{words} ({len(checks)} made)", "bad" if wrong else "good")])
    return int(Status.NO_PLAN if wrong else Status.SOUND)
