"""A project file read, checked and turned into records; every fault told at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from bomplan.errors import Fault, InputError
from bomplan.project import check
from bomplan.project.complaints import fault_from
from bomplan.project.complete import complete
from bomplan.project.digest import project_digest
from bomplan.project.lines import KeyPath, key_lines, line_of
from bomplan.project.migrate import upgrade
from bomplan.project.records import Known, Project, RoutePoint
from bomplan.project.route import read_route
from bomplan.project.scenario import no_such_scenario, scenario_tables
from bomplan.project.shape import Walk, show_path, walk_file
from bomplan.project.text import read_text
from bomplan.project.units import file_context

_UNQUOTED: Final = re.compile(
    r"\s*(?P<key>[\w.-]+)\s*=\s*(?P<value>[+\-]?\d[\d.,]*\s*(?!e\d)[A-Za-z°%µΩ][^#\"']*)"
)


@dataclass(frozen=True)
class ReadFigure:
    """One figure of the file: its key, what stands there, what it was understood as."""

    key: str
    written: str
    understood: str

    def text(self) -> str:
        return f"{self.key}: {self.written!r} read as {self.understood}"


@dataclass(frozen=True)
class LoadedProject:
    """A project with where it came from and how its figures were read."""

    project: Project
    path: Path
    digest: str
    figures: tuple[ReadFigure, ...]
    cautions: tuple[Fault, ...]
    scenarios: Mapping[str, LoadedProject] = field(default_factory=dict)

    @property
    def echo(self) -> list[str]:
        """One line per figure: what was written and what it was read as."""
        return [figure.text() for figure in self.figures]

    def scenario(self, name: str) -> LoadedProject:
        """The project as this scenario changes it. InputError for a name that it does not have."""
        found = self.scenarios.get(name)
        if found is None:
            raise InputError([no_such_scenario(self.path.name, name, self.scenarios)])
        return found


def load_project(path: Path | str) -> LoadedProject:
    """Read a project file and the route files it names, which stand beside it.

    Raises InputError with every fault found: file, line, key, value, what is allowed, the
    nearest valid name.
    """
    file = Path(path)
    return read_project(read_text(file, kind="project"), file)


def read_project(text: str, path: Path) -> LoadedProject:
    """The project written in ``text``; ``path`` names it and locates its routes.

    Every scenario is read and checked as a project of its own. Raises InputError with every
    fault found: those of the project itself, or else those of its scenarios.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    raw = _parse(text, path.name)
    upgrade(raw, path.name)
    lines = key_lines(text)
    loaded, faults = _read(raw, path, _Places(path.name, raw, lines))
    if faults or loaded is None:
        raise InputError(faults)
    scenarios: dict[str, LoadedProject] = {}
    for number, scenario in enumerate(loaded.project.scenarios):
        changed, wrong = scenario_tables(raw, number, scenario)
        places = _ScenarioPlaces(path.name, changed, lines, number, scenario.name)
        found, others = _read(changed, path, places)
        # What a key that leads nowhere would have changed is not judged.
        told = [_Places(path.name, raw, lines).put(*one) for one in wrong]
        faults += told or others
        if found is not None:
            scenarios[scenario.name] = found
    if faults:
        raise InputError(faults)
    return replace(loaded, scenarios=scenarios)


def _read(
    raw: dict[str, Any], path: Path, places: _Places
) -> tuple[LoadedProject | None, list[Fault]]:
    """One project without its scenarios, or every fault in it."""
    comma = raw.get("decimal_comma") is True
    walk = walk_file(raw, decimal_comma=comma)
    found = [*walk.faults, *complete(walk.tree, decimal_comma=comma), *check.names(walk.tree)]
    routes, unnamed, route_faults = _routes(walk.tree, path.parent)
    project, wrong = _build(walk, routes, places, comma)
    if project is not None:
        wrong += check.figures(project)
    faults = places.order([*found, *unnamed, *wrong]) + route_faults
    if faults or project is None:
        return None, faults
    figures = tuple(
        ReadFigure(places.key(where), str(value), figure.understood(value, decimal_comma=comma))
        for where, value, figure in walk.figures
    )
    loaded = LoadedProject(
        project=project,
        path=path,
        digest=project_digest(project),
        figures=figures,
        cautions=tuple(
            places.order([*check.retired(walk.retired), *check.cautions(project, walk.tree)])
        ),
    )
    return loaded, []


class _Places:
    """Key paths of one file as people find them: line and dotted key."""

    def __init__(self, file: str, raw: dict[str, Any], lines: dict[KeyPath, int]) -> None:
        self.file, self.raw, self.lines = file, raw, lines

    def key(self, path: KeyPath) -> str:
        return show_path(path, self.raw)

    def put(self, path: KeyPath, fault: Fault) -> Fault:
        missing = fault.code == "project.missing-key"
        shown = self.key(path[:-1] if missing else path)
        line = line_of(self.lines, path)
        words = [f"line {line}" if line is not None else "", shown]
        return replace(fault, file=self.file, where=", ".join(w for w in words if w) or None)

    def order(self, found: list[check.Finding]) -> list[Fault]:
        """The faults with their places, in the order of the file, each once."""
        ordered = sorted(found, key=lambda item: line_of(self.lines, item[0]) or 0)
        return list(dict.fromkeys(self.put(path, fault) for path, fault in ordered))


class _ScenarioPlaces(_Places):
    """Key paths of a project as a scenario changes it: the scenario stands before the key."""

    def __init__(
        self,
        file: str,
        raw: dict[str, Any],
        lines: dict[KeyPath, int],
        number: int,
        name: str,
    ) -> None:
        super().__init__(file, raw, lines)
        self._at: KeyPath = ("scenarios", number)
        self._name = name

    def put(self, path: KeyPath, fault: Fault) -> Fault:
        shown = self.key(path[:-1] if fault.code == "project.missing-key" else path)
        line = line_of(self.lines, self._at)
        words = [f"line {line}" if line is not None else "", f"scenario {self._name}", shown]
        return replace(fault, file=self.file, where=", ".join(w for w in words if w))


def _parse(text: str, file: str) -> dict[str, Any]:
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(_syntax_faults(text, file, str(error))) from None
    except (RecursionError, ValueError):
        # A number of thousands of digits, or lists nested without end.
        fault = Fault("project.syntax", "holds something that no project file needs", file)
        raise InputError([fault]) from None
    if not raw:
        hint = "bomplan new writes a commented one"
        raise InputError([Fault("project.empty", "is empty", file, hint=hint)])
    return raw


def _syntax_faults(text: str, file: str, message: str) -> list[Fault]:
    unquoted = [
        Fault(
            "project.unquoted",
            "has a unit outside quotes",
            file,
            f"line {number}, {match['key']}",
            match["value"].strip(),
            hint=f'write {match["key"]} = "{match["value"].strip()}"',
        )
        for number, line in enumerate(text.split("\n"), 1)
        if (match := _UNQUOTED.fullmatch(line.split("#", 1)[0]))
    ]
    if unquoted:
        return unquoted
    match = re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", message, re.DOTALL)
    said, where = (match[1], f"line {match[2]}, column {match[3]}") if match else (message, None)
    value = text.split("\n")[int(match[2]) - 1].strip() if match else None
    lowered = said[:1].lower() + said[1:]
    return [
        Fault("project.syntax", f"is no valid TOML: {lowered}", file, where, value,
              hint='text and figures with a unit stand in quotes: mass = "1180 kg"')
    ]  # fmt: skip


def _routes(
    tree: dict[str, Any], folder: Path
) -> tuple[dict[str, tuple[RoutePoint, ...]], list[check.Finding], list[Fault]]:
    """The routes that targets name; what is wrong with naming them; what is wrong in them.

    Puts every profile's one spelling into ``tree``.
    """
    routes: dict[str, tuple[RoutePoint, ...]] = {}
    found: list[check.Finding] = []
    faults: list[Fault] = []
    failed: set[str] = set()
    for path, target, profile in check.profiles(tree):
        target["profile"] = profile.text
        if profile.kind != "route" or profile.text in routes or profile.file in failed:
            continue
        try:
            routes[profile.text] = read_route(folder / profile.file)
        except InputError as error:
            failed.add(profile.file)
            first = error.faults[0]
            if first.code == "route.no-file":
                found.append((path, replace(first, code="project.no-route", value=profile.file)))
            else:
                faults.extend(error.faults)
    return routes, found, faults


def _build(
    walk: Walk, routes: dict[str, tuple[RoutePoint, ...]], places: _Places, comma: bool
) -> tuple[Project | None, list[check.Finding]]:
    known: dict[str, Known] = {places.key(path): note for path, note in walk.known.items()}
    tree = {**walk.tree, "provenance": known, "routes": routes}
    currency = tree.get("currency")
    context = file_context(currency if isinstance(currency, str) else "EUR", comma)
    try:
        return Project.model_validate(tree, context=dict(context)), []
    except ValidationError as error:
        return None, [
            fault_from(problem, walk.tree)
            for problem in error.errors()
            # A misspelt key is told once, and a list whose entries are wrong is not empty.
            if not (problem["type"] == "missing" and tuple(problem["loc"]) in walk.meant)
            and not (problem["type"] == "too_short" and problem["input"])
        ]
