"""One project narrowed in turn to each chemistry, kind of motor, supplier or class of voltage.

Every narrowed project is one that the builder could write: the restriction stands in its
choices or targets, so that the planner proves the row and the plan says itself how it came
about. A lock on the very thing that is compared is set aside, and said to be.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, Literal, get_args

from bomplan.catalog.records import Catalog
from bomplan.errors import Fault, InputError
from bomplan.project import LoadedProject
from bomplan.project.records import Project
from bomplan.requirements.references import check_references

By = Literal["chemistry", "motor", "supplier", "voltage"]
# Steps of the charged pack's voltage: the first is where touching it is held to be dangerous
# (60 V direct voltage), the others lie between the usual classes of controllers.
VOLTS: Final = (60.0, 100.0, 170.0, 450.0)
_PACK: Final = ("module", "series", "parallel", "topology")
_KINDS: Final = {
    "series_dc": "series direct current",
    "induction": "induction",
    "permanent_magnet": "permanent magnet",
}


@dataclass(frozen=True)
class Candidate:
    """A project to be planned for one row; ``hard`` are its choices that make the row."""

    label: str
    project: Project
    catalog: Catalog
    adopt: str = ""
    hard: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Candidates:
    """The rows of one comparison, and what was set aside for it."""

    by: str
    words: str
    rows: tuple[Candidate, ...]
    notes: tuple[str, ...] = ()


def narrowed(
    project: Project, catalog: Catalog, by: By, volts: Sequence[float] = VOLTS
) -> Candidates:
    """The project narrowed to each value of ``by`` that the catalogue has and it allows."""
    return _BY[by](project, catalog, volts)


def side_by_side(projects: Sequence[tuple[Project, Catalog]]) -> Candidates:
    """Projects as they stand, each with its catalogue; those of one name are numbered."""
    names = [project.name for project, _ in projects]
    rows = tuple(
        Candidate(
            name if names.count(name) == 1 else f"{name} ({names[: number + 1].count(name)})",
            project,
            catalog,
        )
        for number, ((project, catalog), name) in enumerate(zip(projects, names, strict=True))
    )
    return Candidates("project", "the cheapest plan of each project", rows)


def scenarios(loaded: LoadedProject, catalog: Catalog) -> Candidates:
    """The project as it stands, then each of its scenarios by name.

    Raises InputError for names in a scenario that the catalogue does not have, and for a
    project without scenarios.
    """
    if not loaded.scenarios:
        fault = Fault(
            "compare.no-scenarios",
            "the project has no scenarios",
            loaded.path.name,
            "scenarios",
            hint="add them as [[scenarios]], each with a name and its changes",
        )
        raise InputError([fault])
    rows = [Candidate("as it stands", loaded.project, catalog)]
    for name, one in loaded.scenarios.items():
        check_references(one.project, catalog, f"{loaded.path.name}, scenario {name}")
        rows.append(Candidate(name, one.project, catalog))
    return Candidates(
        "scenario", "the cheapest plan of each scenario, every one for itself", tuple(rows)
    )


def _by_chemistry(project: Project, catalog: Catalog, _: Sequence[float]) -> Candidates:
    allowed = project.choices.chemistries
    offered = _in_order(part.text("chemistry") for part in catalog.family("module").values())
    free, notes = _freed(project, _PACK)
    return Candidates(
        "chemistry",
        "the cheapest plan with each cell chemistry",
        tuple(
            Candidate(
                chemistry,
                _chosen(free, chemistries=(chemistry,)),
                catalog,
                f'choices.chemistries = ["{chemistry}"]',
                frozenset({"choices.chemistries"}),
            )
            for chemistry in offered
            if not allowed or chemistry in allowed
        ),
        notes,
    )


def _by_motor(project: Project, catalog: Catalog, _: Sequence[float]) -> Candidates:
    motors = catalog.family("motor")
    free, notes = _freed(project, ("motor", "controller"))
    kinds = _in_order(part.text("kind") for part in motors.values())
    rows = []
    for kind in kinds:
        others = {name for name, part in motors.items() if part.text("kind") != kind}
        excluded = tuple(sorted({*project.choices.excluded, *others}))
        rows.append(
            Candidate(
                _KINDS.get(kind, kind),
                _chosen(free, excluded=excluded),
                catalog,
                "choices.excluded with every motor of another kind",
                frozenset({"choices.excluded"}),
            )
        )
    return Candidates("motor", "the cheapest plan with each kind of motor", tuple(rows), notes)


def _by_supplier(project: Project, catalog: Catalog, _: Sequence[float]) -> Candidates:
    allowed = project.choices.suppliers
    names = [name for name in sorted(catalog.suppliers) if not allowed or name in allowed]
    rows = [
        Candidate(
            f"only {name}",
            _chosen(project, suppliers=(name,)),
            catalog,
            f'choices.suppliers = ["{name}"]',
            frozenset({"choices.suppliers"}),
        )
        for name in names
    ]
    whole = Candidate("all of them", project, catalog)
    return Candidates(
        "supplier",
        "the cheapest plan from each supplier alone; parts that none of them offers are bought"
        " at their list price",
        (whole, *rows),
    )


def _by_voltage(project: Project, catalog: Catalog, volts: Sequence[float]) -> Candidates:
    targets = project.targets
    lowest, highest = targets.charged_voltage_min_v, targets.pack_voltage_max_v
    notes: tuple[str, ...] = ()
    if targets.pack_voltage_min_v > 0:
        # Itself a class of voltage: with it the lower ones would all be empty.
        notes = (
            f"set aside for this table: targets.pack_voltage_min ="
            f" {targets.pack_voltage_min_v:g} V",
        )
    rows = []
    steps = [0.0, *sorted({*volts, max(highest, *volts)})]
    for low, high in pairwise(steps):
        if high <= lowest or low >= highest:
            continue
        floor, ceiling = max(low, lowest), min(high, highest)
        changed = targets.model_copy(
            update={
                "charged_voltage_min_v": floor,
                "pack_voltage_max_v": ceiling,
                "pack_voltage_min_v": 0.0,
            }
        )
        rows.append(
            Candidate(
                f"up to {ceiling:g} V" if not floor else f"{floor:g} to {ceiling:g} V",
                project.model_copy(update={"targets": changed}),
                catalog,
                'targets.pack_voltage_min = "0 V",'
                f' targets.charged_voltage_min = "{floor:g} V",'
                f' targets.pack_voltage_max = "{ceiling:g} V"',
                frozenset({"voltage.project-most"}),
            )
        )
    return Candidates(
        "voltage", "the cheapest plan in each class of voltage when charged", tuple(rows), notes
    )


_BY: Final[dict[str, Callable[[Project, Catalog, Sequence[float]], Candidates]]] = {
    "chemistry": _by_chemistry,
    "motor": _by_motor,
    "supplier": _by_supplier,
    "voltage": _by_voltage,
}
BYS: Final[tuple[By, ...]] = get_args(By)


def _in_order(values: Any) -> tuple[str, ...]:
    """Each once, by name: rows of a catalogue may be permuted, the table may not."""
    return tuple(sorted(set(values)))


def _freed(project: Project, keys: Sequence[str]) -> tuple[Project, tuple[str, ...]]:
    """The project without these locks, and a note where there were any."""
    choices = project.choices
    locked = [key for key in keys if getattr(choices, key) is not None]
    if not locked:
        return project, ()
    names = ", ".join(f"choices.{key} = {getattr(choices, key)}" for key in locked)
    return _chosen(project, **dict.fromkeys(locked)), (f"set aside for this table: {names}",)


def _chosen(project: Project, **changes: Any) -> Project:
    choices = project.choices.model_copy(update=changes)
    return project.model_copy(update={"choices": choices})
