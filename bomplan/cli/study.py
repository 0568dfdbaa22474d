"""What the commands that plan many times have in common: one frame around one study."""

from __future__ import annotations

import dataclasses
import functools
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bomplan.cli.options import as_json, catalogs, complete_projects, shown, verbose
from bomplan.cli.status import Status

if TYPE_CHECKING:
    from bomplan.catalog import Catalog
    from bomplan.design.record import Record
    from bomplan.design.records import Plan
    from bomplan.outlook import Solver
    from bomplan.project import LoadedProject, Project
    from bomplan.report.lines import Row
    from bomplan.report.units import Show

Result = TypeVar("Result")
# What Ctrl-C comes to where a study has no half answer.
STOPPED: Final = "an answer that is not whole says nothing"


@dataclass(frozen=True)
class Asked:
    """A study's project with its catalogue, and what solves it."""

    loaded: LoadedProject
    project: Project
    catalog: Catalog
    solver: Solver


@dataclass(frozen=True)
class Flags:
    """The flags that every study takes."""

    project: str
    catalogs: tuple[str, ...]
    workers: int | None
    units: str | None
    decimal_comma: bool | None
    as_json: bool


def study_flags(study: Callable[..., int]) -> Callable[..., int]:
    """PROJECT and the flags of every study, handed on together as its first argument."""

    @functools.wraps(study)
    def gathered(verbose: bool, **given: Any) -> int:
        del verbose
        own = {one.name for one in dataclasses.fields(Flags)}
        flags = Flags(**{name: given.pop(name) for name in own})
        return study(flags, **given)

    command = verbose(gathered)
    command = as_json(command)
    command = shown(command)
    command = click.option(
        "--workers",
        type=click.IntRange(1, 64),
        metavar="N",
        help="Plans searched for side by side; the answer is the same with any number.",
    )(command)
    command = catalogs(command)
    return click.argument("project", metavar="PROJECT", shell_complete=complete_projects)(command)


class NothingToCompareError(Exception):
    """There is no cheapest plan that others could be held against; in words for the person."""


def run_study(
    flags: Flags,
    study: Callable[[Asked], Result],
    rows: Callable[[Result, Show], Iterable[Row]],
    json_of: Callable[[Result], str],
    csv_of: Callable[[Result], str] | None = None,
) -> Result | None:
    """Run a study in front of a person who may stop it; print what it found.

    ``csv_of`` is given where CSV is asked for. None where the person stopped it: then nothing
    is claimed.
    """
    from bomplan import api
    from bomplan.cli.interrupt import Interrupts, run_aside
    from bomplan.cli.progress import Progress
    from bomplan.cli.settings import resolve
    from bomplan.cli.show import show
    from bomplan.outlook import Solver, StudyStoppedError, processes
    from bomplan.planner.events import Stop

    loaded = api.open_project(flags.project)
    project, catalog = api.check_references(loaded, list(flags.catalogs) or None)
    asked = {
        "units": flags.units,
        "decimal_comma": flags.decimal_comma,
        "workers": flags.workers,
    }
    settings = resolve(asked, project)
    stop = Stop()
    progress = Progress(
        project.currency, live=not flags.as_json and sys.stderr.isatty(), verbose=False
    )
    with Interrupts(stop, doing=STOPPED), processes(settings.workers, stop) as executor:
        solver = Solver(catalog, executor, stop)
        try:
            found = run_aside(
                lambda: study(Asked(loaded, project, catalog, solver)),
                lambda: progress.searches(solver.solved),
            )
        except StudyStoppedError:
            progress.clear()
            print("stopped: nothing can be said yet", file=sys.stderr)
            return None
        except NothingToCompareError as error:
            progress.clear()
            print(error, file=sys.stderr)
            raise click.exceptions.Exit(int(Status.NO_PLAN)) from None
        finally:
            progress.clear()
    if flags.as_json:
        sys.stdout.write(json_of(found) + "\n")
    elif csv_of is not None:
        sys.stdout.write(csv_of(found))
    else:
        show(rows(found, settings.show()), colour=settings.values["colour"])
    return found


def cheapest(asked: Asked) -> Plan:
    """The project's cheapest plan; without one the command says so and ends with its status.

    Studies are about money, whatever the goal of the project.
    """
    from bomplan.outlook import by_cost

    plan = asked.solver.plan(by_cost(asked.project))
    if plan.core is None and plan.status == "none":
        raise NothingToCompareError(
            "no plan (proven), so there is nothing to compare\n\n"
            "hint: bomplan clash says which requirements clash"
        )
    if plan.core is None:
        raise NothingToCompareError("the search ended without a plan, so nothing can be compared")
    return plan


def json_of(record: Record | Sequence[Record]) -> str:
    """Records as JSON text."""
    import json

    data = (
        [one.model_dump(mode="json") for one in record]
        if isinstance(record, Sequence)
        else record.model_dump(mode="json")
    )
    return json.dumps(data, indent=1, ensure_ascii=False)


def status_of_study(found: object | None) -> int:
    """0 for an answer, 4 for a study that was stopped."""
    return int(Status.STOPPED if found is None else Status.SOUND)
