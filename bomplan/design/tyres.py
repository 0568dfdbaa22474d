"""The donor's tyres, read from what stands on their sides."""

from __future__ import annotations

from bomplan.errors import Fault, InputError
from bomplan.project.records import Project
from bomplan.weighing import Tyre, parse_tyre


def tyres_of(project: Project) -> tuple[Tyre | None, Tyre | None]:
    """Tyres of the front and the rear axle; None where none is given.

    Raises InputError for what is no designation that gives the load.
    """
    found: list[Tyre | None] = []
    faults: list[Fault] = []
    for axle in ("front", "rear"):
        written = getattr(project.donor.tyres, axle)
        try:
            found.append(None if written is None else parse_tyre(written))
        except ValueError as error:
            faults.append(
                Fault(
                    "project.tyre",
                    "is no tyre designation that gives the load",
                    where=f"donor.tyres.{axle}",
                    value=written,
                    allowed='such as "185/65 R15 88H", "195/70 R15C 104/102R"'
                    ' or "120/70 ZR17 M/C 58W"',
                    hint=str(error),
                )
            )
    if faults:
        raise InputError(faults)
    return found[0], found[1]
