"""The whole job from Python, in five lines::

    from bomplan import api

    project = api.load_project("pickup/project.toml")
    plan = api.plan(project)
    print(api.summary(plan))
    api.write_outputs(plan, "pickup/out")

What stands in ``__all__`` is public: a name or an argument goes away only after one minor
version in which using it warns. ``docs/reference/python.md`` lists it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from bomplan.api_studies import alternatives, binds, clash, front
from bomplan.opening import (
    EXAMPLE_PREFIX,
    check_references,
    load_catalog,
    load_project,
    open_project,
)

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from bomplan.audit.parts_list import ListAudit
    from bomplan.catalog.difference import Change
    from bomplan.design.chances import Chances
    from bomplan.design.comparison import Comparison
    from bomplan.design.records import Check, Plan, Topology
    from bomplan.measure import WeighIn
    from bomplan.outlook.narrowed import By
    from bomplan.planner.events import Listener, Stop
    from bomplan.project import LoadedProject, Project
    from bomplan.project.edit import Value
    from bomplan.report.files import Written
    from bomplan.report.spending import Taken
    from bomplan.report.units import Show, Units

__all__ = [
    "EXAMPLE_PREFIX",
    "alternatives",
    "audit",
    "audit_list",
    "binds",
    "chances",
    "change_project",
    "check_references",
    "clash",
    "compare",
    "compare_catalogs",
    "export_catalog",
    "front",
    "load_catalog",
    "load_project",
    "migrate_project",
    "open_project",
    "plan",
    "read_plan",
    "report",
    "sheets",
    "summary",
    "take_entries",
    "weigh",
    "weigh_template",
    "write_outputs",
    "write_report",
]

PLAN_FILE: Final = "plan.json"
WORKBOOK_FILE: Final = "bom.xlsx"
REPORT_FILE: Final = "report.html"
SHEETS_FOLDER: Final = "sheets"
RUN_FILE: Final = "run.json"
LOG_FILE: Final = "run.log"


def plan(
    project: Project | LoadedProject | str | Path,
    catalogs: Sequence[str | Path] | None = None,
    *,
    workers: int = 1,
    certify: bool = False,
    other_drives: bool = False,
    listener: Listener | None = None,
    stop: Stop | None = None,
) -> Plan:
    """The cheapest plan that meets the project, with the audit's checks in it.

    ``catalogs`` replaces the ones that the project names. ``certify`` proves the optimum a
    second time with another model. ``other_drives`` finds the next best motor, controller and
    module, too, which takes about as long again. ``listener`` hears of progress; ``stop`` ends
    the search early with the best plan so far. The result's ``status`` says how far it is
    proven; "no plan" is a result, not an error. Raises InputError for what cannot be read, and
    for ids in the project that the catalogues do not have.
    """
    from bomplan.audit import audit_plan
    from bomplan.planner import find_plan

    project, catalog = check_references(project, catalogs)
    found = find_plan(
        project,
        catalog,
        workers=workers,
        listener=listener,
        stop=stop,
        certify=certify,
        other_drives=other_drives,
    )
    if found.core is None:
        return found
    return found.model_copy(update={"checks": audit_plan(found)})


def compare(
    projects: Sequence[Project | LoadedProject | str | Path],
    by: By | Literal["scenario"] | None = None,
    catalogs: Sequence[str | Path] | None = None,
    *,
    why: bool = False,
    workers: int = 1,
    executor: Executor | None = None,
    stop: Stop | None = None,
) -> Comparison:
    """The cheapest plans side by side, with what each costs over the years of use.

    One project is planned once for each chemistry, or as ``by`` says (``"chemistry"``,
    ``"motor"``, ``"supplier"``, ``"voltage"``, or ``"scenario"`` for a project from a file);
    several are compared as they stand. ``why`` looks into what clashes where there is no
    plan. ``executor`` is anything with the standard interface
    (:class:`concurrent.futures.Executor`), a cluster's as well; without one, ``workers``
    processes of this computer. The result is the same with any of them. Raises
    InputError; ValueError without a project, or where ``by`` does not fit them.
    """
    from bomplan.outlook import Solver, processes
    from bomplan.outlook import compare as side
    from bomplan.outlook.narrowed import narrowed, scenarios, side_by_side
    from bomplan.project import Project

    if not projects:
        raise ValueError("no project to compare")
    checked = [check_references(one, catalogs) for one in projects]
    if by == "scenario" and len(checked) == 1:
        one = projects[0]
        if isinstance(one, (str, Path)):
            one = open_project(one)
        if isinstance(one, Project):
            raise ValueError("scenarios are read from a file; hand over its path")
        wanted = scenarios(one, checked[0][1])
    elif by != "scenario" and len(checked) == 1:
        wanted = narrowed(*checked[0], by or "chemistry")
    elif by is None:
        wanted = side_by_side(checked)
    else:
        raise ValueError("by narrows one project; several are compared as they stand")
    with processes(workers if executor is None else 1, stop) as own:
        return side(wanted, Solver(checked[0][1], executor or own, stop), why=why)


def audit_list(
    project: Project | LoadedProject | str | Path,
    path: str | Path,
    catalogs: Sequence[str | Path] | None = None,
    *,
    sheet: str = "",
    placement: Mapping[str, int] | None = None,
    parallel: int | None = None,
    topology: Topology | None = None,
    final_ratio: float | None = None,
    battery_current: float | None = None,
) -> ListAudit:
    """Every check of a parts list typed by hand (CSV or workbook), without the planner.

    ``placement`` gives the places in series of each bay where the list has no column
    ``bay``; ``battery_current`` in A is what the controller is set to. The result's ``checks``
    are all that can be made, ``missing`` the families that the list lacks, ``plan`` what it
    comes to when it lacks none. Raises InputError.
    """
    from bomplan.audit.parts_list import PackSaid, audit_parts_list
    from bomplan.audit.typed_list import read_typed_list

    project, catalog = check_references(project, catalogs)
    parts = read_typed_list(Path(path), catalog, sheet)
    said = PackSaid(placement, parallel, topology, final_ratio, battery_current)
    return audit_parts_list(project, catalog, parts, said)


def change_project(path: str | Path, changes: Mapping[str, Value]) -> LoadedProject:
    """Set keys of a project file (``{"bays[bed].length": "580 mm"}``); None takes one out.

    Comments and order stay. The file is checked as a whole first and written whole: raises
    InputError with every fault, and then nothing has changed.
    """
    from bomplan.project import edit_project
    from bomplan.project import load_project as load
    from bomplan.project.text import read_raw

    file = Path(path)
    before = read_raw(file, kind="project")
    write_files({file: edit_project(before, file, changes).encode("utf-8")})
    return load(file)


def migrate_project(path: str | Path) -> bool:
    """Rewrite an older project file in the newest format; whether anything changed.

    Comments and order stay. Raises InputError for what cannot be read or checked.
    """
    from bomplan.project import read_project, upgrade_text
    from bomplan.project.text import read_raw

    file = Path(path)
    before = read_raw(file, kind="project")
    read_project(before, file)
    after = upgrade_text(before, file.name)
    if after == before:
        return False
    write_files({file: after.encode("utf-8")})
    return True


def compare_catalogs(old: str | Path, new: str | Path) -> tuple[Change, ...]:
    """What is dearer, cheaper, new, retired or otherwise changed from ``old`` to ``new``."""
    from bomplan.catalog.difference import compare

    return compare(load_catalog([old]), load_catalog([new]))


def export_catalog(names: Sequence[str | Path], target: str | Path) -> tuple[Written, ...]:
    """The catalogues, stacked, as a workbook (``target`` ends in .xlsx) or a folder of CSV."""
    from bomplan.catalog.exchange import export_files
    from bomplan.report.files import write_outputs as write

    files = export_files(names, Path(target))
    folder = next(iter(files)).parent
    return write(folder, {path.name: content for path, content in files.items()})


def write_files(files: Mapping[Path, bytes]) -> None:
    """Put contents in the place of files, each whole. Raises InputError."""
    from bomplan.report.files import replace_files

    replace_files(files)


def audit(plan: Plan) -> tuple[Check, ...]:
    """Every check of a plan, made anew from the parts and the project that it embeds.

    As every call on a plan: raises InputError for one whose figures contradict each other.
    """
    from bomplan.audit import audit_plan
    from bomplan.design.planfile import in_one_piece

    with in_one_piece():
        return audit_plan(plan)


def read_plan(path: str | Path) -> Plan:
    """A saved plan. Raises InputError for a file that is none, or of a newer major version."""
    from bomplan.design import read_plan as read

    return read(Path(path))


def weigh(plan: Plan, readings: str | Path) -> tuple[WeighIn, ...]:
    """Scale readings (a TOML file) against the plan, one result for each time on the scales.

    Each says what the car weighs above the plan, where that must sit, and carries every mass
    limit of the finished car with the figures found and the spread of the scales. Raises
    InputError with every fault of the file, and for names that the plan does not have.
    """
    from bomplan.design.planfile import in_one_piece
    from bomplan.measure import weigh_in
    from bomplan.measure.readings import look_at

    path = Path(readings)
    found, faults = look_at(path)
    with in_one_piece():
        return weigh_in(plan, found, path.name, faults)


def weigh_template(plan: Plan) -> str:
    """A commented readings file to start from, with the names that this plan knows.

    Raises InputError for a plan that does not hold together.
    """
    from bomplan.design.planfile import in_one_piece
    from bomplan.measure import readings_template

    with in_one_piece():
        return readings_template(plan)


def chances(
    plan: Plan, draws: int = 2000, seed: int = 1, executor: Executor | None = None
) -> Chances:
    """How sure the plan is: its targets and mass limits with every uncertain figure drawn anew.

    ``executor`` spreads the draws; the same seed gives the same answer with any. ValueError
    for a plan that chose nothing or for fewer than 100 draws; InputError for one that does
    not hold together.
    """
    from bomplan.design.planfile import in_one_piece
    from bomplan.outlook import chances as study
    from bomplan.outlook.chances import check_asked

    check_asked(plan, draws)
    with in_one_piece():
        return study(plan, draws=draws, seed=seed, executor=executor)


def summary(plan: Plan, units: Units | Show = "metric") -> str:
    """The plan as a page of plain text, in ``"metric"`` or ``"us"`` units (or as Show says).

    Raises InputError for a plan that does not hold together.
    """
    from bomplan.design.planfile import in_one_piece
    from bomplan.report.terminal import summary as text

    with in_one_piece():
        return text(plan, units)


def report(plan: Plan, show: Show | None = None) -> str:
    """The plan as one HTML page that needs no network and no other file.

    Units and decimal mark as the plan's project says unless ``show`` says otherwise. Raises
    InputError for a plan that does not hold together.
    """
    from bomplan.design.planfile import in_one_piece
    from bomplan.report.drawings.every import every_drawing
    from bomplan.report.page import report_bytes, wished

    with in_one_piece():
        drawings = every_drawing(plan, show or wished(plan))
        return report_bytes(plan, show, drawings).decode("utf-8")


def write_report(plan: Plan, path: str | Path, show: Show | None = None) -> Written:
    """Write :func:`report` to ``path``; a file there that somebody changed is kept beside.

    It shows the studies that were kept in that folder, too. Raises InputError when it cannot
    be written, and for a plan that does not hold together.
    """
    from bomplan.design.planfile import in_one_piece
    from bomplan.report.drawings.every import every_drawing
    from bomplan.report.files import write_outputs as write
    from bomplan.report.kept_studies import kept_studies
    from bomplan.report.page import report_bytes, wished

    file = Path(path)
    with in_one_piece():
        drawings = every_drawing(plan, show or wished(plan))
        content = report_bytes(plan, show, drawings, kept_studies(file.parent, plan))
    (written,) = write(file.parent, {file.name: content})
    return written


def sheets(plan: Plan, show: Show | None = None) -> dict[str, str]:
    """File name and HTML of every sheet to print: for builder, driver and inspector.

    Units and decimal mark as the plan's project says unless ``show`` says otherwise; empty
    without a plan. Raises InputError for a plan that does not hold together.
    """
    from bomplan.design.planfile import in_one_piece
    from bomplan.report.sheets.render import sheets as made

    with in_one_piece():
        return made(plan, show)


def take_entries(
    workbook: str | Path, ledger: str | Path | None = None, currency: str = ""
) -> Taken:
    """What was recorded in an edited ``bom.xlsx``, taken into ``ledger.csv``, which is written.

    ``ledger`` blank is the one that belongs to the workbook. Only cells that were touched
    count. Raises InputError with every fault; then the ledger is as it was.
    """
    from bomplan.report.spending import ledger_of_workbook
    from bomplan.report.spending import take_entries as take

    path = Path(workbook)
    return take(path, ledger_of_workbook(path) if ledger is None else Path(ledger), currency)


def write_outputs(
    plan: Plan,
    folder: str | Path,
    run: Mapping[str, Any] | None = None,
    log: str | None = None,
    *,
    ledger: str | Path | None = None,
    show: Show | None = None,
) -> tuple[Written, ...]:
    """Write ``plan.json``, ``bom.xlsx``, ``report.html``, ``drawings/`` and ``sheets/``.

    The drawings are ``car.svg``, ``circuit.svg`` and one ``bay-N-NAME.svg`` for every bay in
    use, the sheets to print stand in ``sheets``; neither without a plan. ``run.json`` and
    ``run.log`` if ``run`` and ``log`` are given. Report and sheets write figures as ``show``
    says, or as the plan's project does.

    The workbook shows the entries of the file ``ledger`` (``ledger.csv``), which may be
    missing; :func:`take_entries` takes those of an edited workbook into it beforehand.
    Workbook and report show the studies that were kept in the folder, too.
    Each is written whole or not at all; a file that somebody changed since we wrote it is
    kept beside under a free name. Raises InputError when the folder cannot be written, and
    for a plan that does not hold together.
    """
    from bomplan.buying.ledger import read_ledger
    from bomplan.design import plan_bytes
    from bomplan.design.planfile import in_one_piece
    from bomplan.report.drawings.every import CAR_DRAWING, as_shown, every_drawing
    from bomplan.report.files import write_outputs as write
    from bomplan.report.kept_studies import kept_studies
    from bomplan.report.page import report_bytes, wished
    from bomplan.report.workbook import workbook_bytes

    entries = None if ledger is None else read_ledger(Path(ledger), plan.currency)
    with in_one_piece():
        drawings = every_drawing(plan, bays=show or wished(plan))
        studies = kept_studies(Path(folder), plan)
        units = None if show is None else show.units
        files = {
            PLAN_FILE: plan_bytes(plan),
            WORKBOOK_FILE: workbook_bytes(plan, entries, studies, units),
            REPORT_FILE: report_bytes(
                plan, show, as_shown(drawings, plan, show or wished(plan)), studies
            ),
            **{name: svg.encode("utf-8") for name, svg in drawings.items()},
        }
        # Without a weighing it is an older plan, or one whose project is not whole.
        if CAR_DRAWING in drawings:
            for name, text in sheets(plan, show).items():
                files[f"{SHEETS_FOLDER}/{name}"] = text.encode("utf-8")
    if run is not None:
        told = json.dumps(run, indent=1, ensure_ascii=False, sort_keys=True)
        files[RUN_FILE] = (told + "\n").encode("utf-8")
    if log is not None:
        files[LOG_FILE] = log.encode("utf-8")
    return write(Path(folder), files, renewed="drawings")
