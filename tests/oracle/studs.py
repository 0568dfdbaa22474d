"""Studs of the small cases: none while a case is drawn, then some that lugs fit and some not."""

from __future__ import annotations

from random import Random

from bomplan.catalog.records import Catalog, Part

SCREWED = ("contactor", "emergency_disconnect", "service_disconnect", "fuse_holder")
"""Families whose studs a lug is held against."""
NO_LUG_MM = 12.0


def without_studs(catalog: Catalog) -> Catalog:
    """The catalogue with no stud known: cases get theirs when their lugs are chosen."""
    families = {
        family: {part.id: _unscrewed(part) for part in rows.values()}
        for family, rows in catalog.families.items()
    }
    return catalog.model_copy(update={"families": families})


def _unscrewed(part: Part) -> Part:
    if part.family.endswith("lug"):
        return part
    figures = {key: value for key, value in part.figures.items() if key != "stud_mm"}
    return part.model_copy(update={"figures": figures})


def screw(families: dict[str, dict[str, Part]]) -> None:
    """Studs that the lugs fit or nobody knows; a second row may have one that no lug fits.

    Drawn from a stream of their own, so that every seed stays the case that it was.
    """
    stream = Random(" ".join(families["module"]) + " ".join(families["cable"]))
    holes = sorted({lug.number("stud_mm") for lug in families["lug"].values()})
    for family in sorted(families):
        if family not in SCREWED:
            continue
        rows = families[family]
        for number, (part_id, part) in enumerate(rows.items()):
            if stream.random() < 0.6:
                fits = number == 0 or stream.random() < 0.5
                stud = stream.choice(holes) if fits else NO_LUG_MM
                figures = {**part.figures, "stud_mm": stud}
                rows[part_id] = part.model_copy(update={"figures": figures})
