"""``bomplan plan``: from a project to the cheapest sound plan and its files."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from bomplan.project import LoadedProject
    from bomplan.report.files import Written
    from bomplan.report.units import Units


def plan(
    project: Annotated[
        str,
        typer.Argument(
            metavar="PROJECT",
            help="Project file, its folder, or a shipped example such as example:garden-pickup.",
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="DIR", help="Folder for the outputs [default: out-NAME beside it]."
        ),
    ] = None,
    catalog: Annotated[
        list[str] | None,
        typer.Option(
            "--catalog",
            metavar="NAME|DIR",
            help="Catalogue instead of the project's; give it again to stack more on top.",
        ),
    ] = None,
    workers: Annotated[
        int,
        typer.Option(
            "--workers",
            min=1,
            max=64,
            metavar="N",
            help="Processes to search with; the plan is the same with any number.",
        ),
    ] = 1,
    units: Annotated[
        str, typer.Option("--units", metavar="metric|us", help="Units of the summary.")
    ] = "metric",
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the plan as JSON instead of the summary.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing but faults.")] = False,
    certify: Annotated[
        bool, typer.Option("--certify", help="Prove the result a second time, another way.")
    ] = False,
    verbose: Annotated[
        bool, typer.Option("--verbose", help="Say how figures were read and what is tried.")
    ] = False,
) -> int:
    """Find the cheapest plan that works, and write plan.json and bom.xlsx.

    Ctrl-C once stops the search and writes the best plan so far; twice ends at once.

    \b
    Exit status: 0 a sound plan, 1 no plan or a failed check, 2 an input cannot be
    used, 3 a bug of ours, 4 stopped early.

    \b
    Example:
      bomplan plan example:garden-pickup --out garden
    """
    from bomplan import api
    from bomplan.cli.interrupt import Interrupts, run_aside
    from bomplan.cli.progress import Progress
    from bomplan.cli.run_record import Clock
    from bomplan.cli.show import show
    from bomplan.cli.status import status_of
    from bomplan.planner.events import Stop
    from bomplan.report.terminal import summary_rows

    clock = Clock()
    shown_in = check_units(units)
    loaded = api.open_project(project)
    folder = out if out is not None else _default_folder(project, loaded)
    if not quiet:
        _tell_reading(loaded, verbose=verbose)
    stop = Stop()
    progress = Progress(
        loaded.project.currency, live=not quiet and sys.stderr.isatty(), verbose=verbose
    )
    with Interrupts(stop):
        try:
            found = run_aside(
                lambda: api.plan(
                    loaded,
                    catalog or None,
                    workers=workers,
                    certify=certify,
                    listener=progress,
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
            workers=workers,
            stopped=stopped,
            exit_status=int(status),
        )
        written = api.write_outputs(found, folder, run)
    if as_json:
        from bomplan.design import plan_bytes

        sys.stdout.write(plan_bytes(found).decode("utf-8"))
    elif not quiet:
        show(summary_rows(found, shown_in))
    _tell_files(written, quiet=quiet)
    return int(status)


def check_units(units: str) -> Units:
    """``metric`` or ``us``; a usage error for anything else."""
    if units == "metric":
        return "metric"
    if units == "us":
        return "us"
    raise typer.BadParameter(f"units are metric or us, not {units!r}", param_hint="--units")


def _default_folder(asked: str, loaded: LoadedProject) -> Path:
    """``out-NAME`` beside the project; for a shipped example, here."""
    from bomplan.api import EXAMPLE_PREFIX

    if asked.startswith(EXAMPLE_PREFIX):
        return Path(f"out-{asked.removeprefix(EXAMPLE_PREFIX)}")
    return loaded.path.parent / f"out-{folder_name(loaded.project.name)}"


def folder_name(name: str) -> str:
    """A project's name as a folder name: letters and digits of any script, joined by ``-``."""
    kept = "".join(letter if letter.isalnum() else " " for letter in name.lower())
    return "-".join(kept.split())[:60] or "plan"


def _tell_reading(loaded: LoadedProject, *, verbose: bool) -> None:
    if verbose:
        for line in loaded.echo:
            print(line, file=sys.stderr)
    for caution in loaded.cautions:
        print(f"mind: {caution.text()}", file=sys.stderr)


def _tell_files(written: tuple[Written, ...], *, quiet: bool) -> None:
    for one in written:
        if one.kept is not None:
            print(
                f"mind: {one.path.name} had been changed since it was written here; "
                f"the changed one is kept as {one.kept}",
                file=sys.stderr,
            )
    if not quiet:
        names = ", ".join(one.path.name for one in written)
        print(f"\nwritten: {names} in {written[0].path.parent}", file=sys.stderr)
