"""A project and its catalogues from what a caller has: a path, an example's name, a record."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from bomplan.errors import Fault, InputError

if TYPE_CHECKING:
    from bomplan.catalog import Catalog
    from bomplan.project import LoadedProject, Project

EXAMPLE_PREFIX: Final = "example:"


def load_project(path: str | Path, scenario: str | None = None) -> Project:
    """The project at ``path``: a file, a folder with ``project.toml``, or ``example:NAME``.

    ``scenario`` is the name of one of its scenarios: then the project as that changes it.
    Raises InputError with every fault found in it.
    """
    return open_project(path, scenario).project


def open_project(path: str | Path, scenario: str | None = None) -> LoadedProject:
    """As :func:`load_project`, with where it lies, how figures were read, and cautions.

    Without ``scenario`` all of them are in its ``scenarios``, by name.
    """
    loaded = _open(path)
    return loaded if scenario is None else loaded.scenario(scenario)


def _open(path: str | Path) -> LoadedProject:
    from bomplan.project import load_project as load
    from bomplan.project import load_template

    text = str(path)
    if text.startswith(EXAMPLE_PREFIX):
        return load_template(text.removeprefix(EXAMPLE_PREFIX))
    file = Path(path)
    if file.is_dir():
        file /= "project.toml"
        if not file.is_file():
            raise InputError(
                [
                    Fault(
                        code="project.not-found",
                        message="there is no project.toml in this folder",
                        file=str(path),
                        hint="bomplan new writes one to start from",
                    )
                ]
            )
    return load(file)


def load_catalog(names: Sequence[str | Path], base: str | Path = ".") -> Catalog:
    """The catalogues, stacked in this order: shipped ones by name, own ones by path.

    An own one is a folder of CSV files or a workbook; a relative path counts from ``base``.
    Raises InputError with every fault found.
    """
    from bomplan.catalog import load_catalog as load
    from bomplan.catalog.sources import shipped_catalogs

    shipped = shipped_catalogs()
    own = {name: Path(base) / name for name in names if name not in shipped}
    # A path that is not there keeps its plain name, for the message to find a near one.
    return load([own[name] if name in own and own[name].exists() else name for name in names])


def check_references(
    project: Project | LoadedProject | str | Path, catalogs: Sequence[str | Path] | None = None
) -> tuple[Project, Catalog]:
    """The project with its catalogues (or ``catalogs``), when they belong together.

    Raises InputError with every id, name and exchange rate of the project that leads nowhere.
    """
    from bomplan.project import LoadedProject
    from bomplan.requirements.references import check_references as check

    if isinstance(project, (str, Path)):
        project = open_project(project)
    base, file = Path(), None
    if isinstance(project, LoadedProject):
        base, file, project = project.path.parent, project.path.name, project.project
    catalog = load_catalog(project.catalogs, base) if catalogs is None else load_catalog(catalogs)
    check(project, catalog, file)
    return project, catalog
