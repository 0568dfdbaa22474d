"""``bomplan plan``: from a project to the cheapest sound plan and its files."""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bomplan.cli.options import CONTEXT, as_json, catalogs, complete_projects, shown, verbose

if TYPE_CHECKING:
    from bomplan.cli.run_log import RunLog
    from bomplan.cli.settings import Resolved
    from bomplan.design.records import Plan
    from bomplan.planner.events import Event, Listener
    from bomplan.project import LoadedProject
    from bomplan.report.files import Written


@click.command("plan", context_settings=CONTEXT)
@click.argument("project", metavar="PROJECT", shell_complete=complete_projects)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for the outputs [default: out-NAME beside the project].",
)
@click.option(
    "--scenario", metavar="NAME", help="Plan this scenario of the project instead of itself."
)
@catalogs
@click.option(
    "--workers",
    type=click.IntRange(1, 64),
    metavar="N",
    help="Processes to search with; the plan is the same with any number.",
)
@shown
@as_json
@click.option("--quiet", is_flag=True, help="Print nothing but faults.")
@click.option("--certify", is_flag=True, help="Prove the result a second time, another way.")
@click.option(
    "--other-drives",
    is_flag=True,
    help="Find the next best motor, controller and module, too; takes about as long again.",
)
@click.option(
    "--lock",
    is_flag=True,
    help="Write motor, controller and pack of a sound plan into the project.",
)
@verbose
def COMMAND(  # noqa: N802
    project: str,
    out: Path | None,
    scenario: str | None,
    catalogs: tuple[str, ...],
    workers: int | None,
    units: str | None,
    decimal_comma: bool | None,
    as_json: bool,
    quiet: bool,
    certify: bool,
    other_drives: bool,
    lock: bool,
    verbose: bool,
) -> int:
    """Find the cheapest plan that works; write it down, to read, buy and build from.

    PROJECT is a project file, its folder, or a shipped example such as
    example:garden-pickup. Beside the plan, drawings/ has the pictures, and run.json and run.log
    say how the run went.
    What you have recorded in bom.xlsx is taken into ledger.csv, beside the project, first.
    Ctrl-C once stops the search and writes the best plan so far; twice ends at once.

    \b
    Exit status: 0 a sound plan, 1 no plan or a failed check, 2 an input cannot be
    used, 3 a bug of ours, 4 stopped early.

    \b
    Example:
      bomplan plan example:garden-pickup --out garden
    """
    from bomplan import api
    from bomplan.cli.entries import check_ledger, ledger_of, take_before_writing
    from bomplan.cli.interrupt import Interrupts, run_aside
    from bomplan.cli.progress import Progress
    from bomplan.cli.run_log import RunLog
    from bomplan.cli.run_record import Clock
    from bomplan.cli.settings import resolve
    from bomplan.cli.status import status_of
    from bomplan.design.planfile import of_our_own
    from bomplan.planner.events import Stop
    from bomplan.report.page.plotting import load_alone

    clock = Clock()
    log = RunLog()
    loaded = api.open_project(project, scenario)
    settings = resolve(
        {"units": units, "decimal_comma": decimal_comma, "workers": workers}, loaded.project
    )
    folder = out if out is not None else _default_folder(project, loaded)
    ledger = ledger_of(project, loaded, folder)
    check_ledger(ledger, loaded.project.currency)
    if lock and project.startswith(api.EXAMPLE_PREFIX):
        raise click.UsageError("an example is not changed; bomplan new makes it yours")
    _tell_reading(loaded, log, quiet=quiet, verbose=verbose)
    for name, value in settings.values.items():
        log.add("setting", f"{name} = {value} ({settings.homes[name]})")
    stop = Stop()
    progress = Progress(
        loaded.project.currency, live=not quiet and sys.stderr.isatty(), verbose=verbose
    )
    with Interrupts(stop):
        try:
            found = run_aside(
                lambda: api.plan(
                    loaded,
                    list(catalogs) or None,
                    workers=settings.workers,
                    certify=certify,
                    other_drives=other_drives,
                    listener=_both(progress, log),
                    stop=stop,
                )
            )
        finally:
            progress.clear()
        stopped = stop.requested
        status = status_of(found, stopped=stopped)
        run = clock.record(
            project=project,
            folder=folder,
            ledger=ledger,
            workers=settings.workers,
            stopped=stopped,
            exit_status=int(status),
        )
        _log_result(log, found, stopped=stopped, exit_status=int(status))
        take_before_writing(folder, ledger, found.currency, quiet=quiet)
        if found.core is not None:
            load_alone()
        with of_our_own():
            written = api.write_outputs(
                found, folder, run, log.text(), ledger=ledger, show=settings.show()
            )
    # Before anything is printed: whoever reads our output may stop reading.
    if lock and status == 0:
        _lock(loaded, found, quiet=quiet)
    # All is written and the answer stands: Ctrl-C from here on cuts off the printing only.
    with contextlib.suppress(KeyboardInterrupt):
        _tell(found, written, settings, as_json=as_json, quiet=quiet)
    return int(status)


def _tell(
    found: Plan, written: tuple[Written, ...], settings: Resolved, *, as_json: bool, quiet: bool
) -> None:
    if as_json:
        from bomplan.design import plan_bytes

        sys.stdout.write(plan_bytes(found).decode("utf-8"))
    elif not quiet:
        from bomplan.cli.show import show
        from bomplan.report.terminal import summary_rows

        show(summary_rows(found, settings.show()), colour=settings.values["colour"])
    _tell_files(written, quiet=quiet)
    if found.status == "feasible" and not quiet:
        print("mind: the best plan found, not proven the best", file=sys.stderr)


def _both(progress: Listener, log: RunLog) -> Listener:
    def hear(event: Event) -> None:
        log.event(event)
        progress(event)

    return hear


def _default_folder(asked: str, loaded: LoadedProject) -> Path:
    """``out-NAME`` beside the project; for a shipped example, here."""
    from bomplan.api import EXAMPLE_PREFIX

    if asked.startswith(EXAMPLE_PREFIX):
        # A scenario has its name behind the project's.
        _, _, scenario = loaded.project.name.partition(", ")
        own = f"{asked.removeprefix(EXAMPLE_PREFIX)} {scenario}"
        return Path(f"out-{folder_name(own)}")
    return loaded.path.parent / f"out-{folder_name(loaded.project.name)}"


def folder_name(name: str) -> str:
    """A project's name as a folder name: letters and digits of any script, joined by ``-``."""
    kept = "".join(letter if letter.isalnum() else " " for letter in name.lower())
    return "-".join(kept.split())[:60] or "plan"


def _tell_reading(loaded: LoadedProject, log: RunLog, *, quiet: bool, verbose: bool) -> None:
    for line in loaded.echo:
        log.add("read", line)
        if verbose and not quiet:
            print(line, file=sys.stderr)
    for caution in loaded.cautions:
        log.add("mind", caution.text())
        if not quiet:
            print(f"mind: {caution.text()}", file=sys.stderr)


def _log_result(log: RunLog, found: Plan, *, stopped: bool, exit_status: int) -> None:
    search = found.search
    log.add(
        "search",
        f"{search.screened} screened, {search.cut} cut off, {search.solved} solved,"
        f" {search.simulated} simulated",
    )
    log.add("found", f"{found.status}, {found.objective.value} {found.currency} (smallest units)")
    for reason in found.reasons:
        log.add("reason", reason)
    for check in found.checks:
        if not check.passed:
            log.add("FAILED", f"{check.id}: {check.words}: {check.value:g}, {check.limit:g}")
    if stopped:
        log.add("stopped", "on request; what was found by then is written")
    log.add("run", f"exit status {exit_status}")


def _tell_files(written: tuple[Written, ...], *, quiet: bool) -> None:
    for one in written:
        if one.kept is not None:
            print(
                f"mind: {one.path.name} had been changed since it was written here; "
                f"the changed one is kept as {one.kept}",
                file=sys.stderr,
            )
    if not quiet:
        folder = written[0].path.parent
        names = ", ".join(
            one.path.relative_to(folder).as_posix()
            if one.path.is_relative_to(folder)
            else str(one.path)
            for one in written
        )
        print(f"\nwritten: {names} in {folder}", file=sys.stderr)


def _lock(loaded: LoadedProject, found: Plan, *, quiet: bool) -> None:
    """The choice as the project's own, so that the next run keeps it."""
    from bomplan import api

    core = found.core
    assert core is not None
    api.change_project(
        loaded.path,
        {
            "choices.motor": core.motor,
            "choices.controller": core.controller,
            "choices.module": core.module,
            "choices.series": core.series,
            "choices.parallel": core.parallel,
            "choices.topology": core.topology,
        },
    )
    if not quiet:
        print(
            f"locked in {loaded.path}: {core.motor}, {core.controller}, ", end="", file=sys.stderr
        )
        print(f"{core.series} x {core.parallel} {core.module}", file=sys.stderr)
