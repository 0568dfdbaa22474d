"""A country that the table does not have, or one that needs to know the ends of the car."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.errors import Fault
from bomplan.project.countries import countries
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project

Finding = tuple[KeyPath, Fault]


def country_figures(project: Project) -> Iterator[Finding]:
    """Faults of ``country`` and of the overhangs that it asks for."""
    known = countries()
    country = known.get(project.country)
    if country is None:
        yield (
            ("country",),
            Fault(
                "project.country-unknown",
                "is not in the table of countries",
                value=project.country,
                allowed=", ".join(known),
                hint="leave it out for the strictest guideline figures in common use",
            ),
        )
        return
    donor = project.donor
    if (
        donor.kind == "car"
        and country.crush_rule == "forbid"
        and (donor.front_overhang_mm is None or donor.rear_overhang_mm is None)
    ):
        yield (
            ("country",),
            Fault(
                "project.overhangs-missing",
                f"{country.title}: no cells may stand near the ends of the car, so its ends are"
                " needed",
                value=project.country,
                allowed="donor.front_overhang and donor.rear_overhang",
                hint='measure from each axle to its end of the car: front_overhang = "780 mm"',
            ),
        )
