"""``bomplan chances``: how sure a plan is, and what to find out before buying."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from bomplan.cli.keeping import keep_answer, keep_option
from bomplan.cli.options import CONTEXT, as_json, shown, verbose
from bomplan.cli.plan_file import plan_file
from bomplan.cli.status import Status


@click.command("chances", context_settings=CONTEXT)
@click.argument("plan", type=click.Path(path_type=Path), metavar="PLAN")
@click.option(
    "--draws",
    type=click.IntRange(100, 100_000),
    default=2_000,
    show_default=True,
    help="How often every uncertain figure is drawn.",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**31 - 1),
    default=1,
    show_default=True,
    help="Other draws; the same seed gives the same answer.",
)
@click.option(
    "--workers",
    type=click.IntRange(1, 64),
    metavar="N",
    help="Draws driven side by side; the answer is the same with any number.",
)
@keep_option
@shown
@as_json
@verbose
def COMMAND(  # noqa: N802
    plan: Path,
    draws: int,
    seed: int,
    workers: int | None,
    keep: Path | None,
    units: str | None,
    decimal_comma: bool | None,
    as_json: bool,
    verbose: bool,
) -> int:
    """Say how sure each target and mass limit of a plan is.

    PLAN is a plan.json or the folder that it is in. Drag, rolling resistance, losses, 12 V
    load, scale readings, the modules' capacity and resistance and the weather are drawn anew
    many times within what may be, and the car is driven each time. Nothing is planned again.

    \b
    Exit status: 0 an answer, 1 the plan chose nothing, 2 an input cannot be
    used, 4 stopped early.

    \b
    Example:
      bomplan chances out-garden-pickup --draws 500
      bomplan chances out-garden-pickup --keep out-garden-pickup
    """
    del verbose
    from bomplan import api
    from bomplan.cli.interrupt import Interrupts, run_aside
    from bomplan.cli.settings import resolve
    from bomplan.cli.show import show
    from bomplan.cli.study import STOPPED, json_of
    from bomplan.design.planfile import held_together, project_of
    from bomplan.outlook import StudyStoppedError, processes
    from bomplan.outlook import chances as study
    from bomplan.planner.events import Stop
    from bomplan.report.chances import chance_rows
    from bomplan.report.kept_studies import CHANCES_FILE

    file = plan_file(plan, api.PLAN_FILE)
    saved = api.read_plan(file)
    if saved.core is None:
        print(f"this plan holds no choice to judge (status {saved.status})", file=sys.stderr)
        return int(Status.NO_PLAN)
    asked = {"units": units, "decimal_comma": decimal_comma, "workers": workers}
    settings = resolve(asked, project_of(saved))
    stop = Stop()
    with Interrupts(stop, doing=STOPPED), processes(settings.workers, stop) as executor:
        try:
            with held_together(file):
                failed = sum(not check.passed for check in api.audit(saved))
                found = run_aside(
                    lambda: study(saved, draws=draws, seed=seed, executor=executor, stop=stop)
                )
        except StudyStoppedError:
            print("stopped: nothing can be said yet", file=sys.stderr)
            return int(Status.STOPPED)
    if failed:
        words = "check fails" if failed == 1 else "checks fail"
        print(
            f"mind: {failed} {words} in the audit of this plan, so its chances say little;"
            " see bomplan audit\n",
            file=sys.stderr,
        )
    if as_json:
        sys.stdout.write(json_of(found) + "\n")
    else:
        show(chance_rows(found, settings.show()), colour=settings.values["colour"])
    keep_answer(keep, CHANCES_FILE, json_of(found))
    return int(Status.SOUND)
