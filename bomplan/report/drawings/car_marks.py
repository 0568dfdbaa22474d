"""What stands where in the car, numbered for the drawing: bays, parts, what comes out, load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from bomplan.design.records import Plan
from bomplan.design.weight_records import WeightItem, Weights
from bomplan.project.records import LoadCase, Project
from bomplan.report.text import clean

Kind = Literal["bay", "part", "own", "out", "load"]
# Lighter removed or own things are in the sums and only crowd the drawing.
LEAST_KG: Final = 1.0


@dataclass(frozen=True)
class Mark:
    """A numbered thing: mass in kg, its middle in mm; None where nobody measured."""

    label: str
    kind: Kind
    words: str
    mass_kg: float
    x_mm: float
    y_mm: float | None
    z_mm: float | None


def marks(plan: Plan, project: Project, weights: Weights, heaviest: LoadCase) -> list[Mark]:
    """Bays by letter, everything else by number; each kind from front to rear."""
    found: list[Mark] = []
    for number, bay in enumerate(project.bays):
        items = [item for item in weights.items if item.bay == bay.name]
        mass = sum(item.mass_kg for item in items)
        count = next((use.modules for use in plan.placement if use.bay == bay.name), 0)
        found.append(
            Mark(
                chr(ord("A") + number) if number < 26 else f"A{number}",
                "bay",
                f"{clean(bay.name, 28)}: " + (f"{count} modules" if count else "empty"),
                mass,
                _middle(items, bay.x_mm + bay.length_mm / 2),
                None if bay.y_mm is None else bay.y_mm + bay.width_mm / 2,
                None if bay.z_mm is None else bay.z_mm + bay.height_mm / 2,
            )
        )
    numbered: list[Mark] = []
    numbered += sorted(_parts(weights), key=lambda mark: mark.x_mm)
    kinds: tuple[tuple[Kind, str], ...] = (("own", "own part"), ("out", "taken out"))
    for kind, signs in kinds:
        items = [
            item for item in weights.items if item.kind == signs and abs(item.mass_kg) >= LEAST_KG
        ]
        numbered += [
            Mark("", kind, clean(item.what, 120), abs(item.mass_kg), item.x_mm, item.y_mm,
                 item.z_mm)
            for item in sorted(items, key=lambda item: item.x_mm)
        ]  # fmt: skip
    numbered += [
        Mark("", "load", clean(item.name, 120), item.mass_g / 1000, float(item.x_mm),
             item.y_mm, item.z_mm)
        for item in sorted(heaviest.items, key=lambda item: item.x_mm)
    ]  # fmt: skip
    found += [
        Mark(str(number), m.kind, m.words, m.mass_kg, m.x_mm, m.y_mm, m.z_mm)
        for number, m in enumerate(numbered, 1)
    ]
    return found


def _middle(items: list[WeightItem], otherwise: float) -> float:
    mass = sum(item.mass_kg for item in items)
    return sum(item.mass_kg * item.x_mm for item in items) / mass if mass else otherwise


def _parts(weights: Weights) -> list[Mark]:
    """Bought parts outside of the bays, those of one place together."""
    places: dict[tuple[float, float | None, float | None], list[WeightItem]] = {}
    for item in weights.items:
        if item.kind == "bought" and not item.bay and item.mass_kg > 0:
            places.setdefault((item.x_mm, item.y_mm, item.z_mm), []).append(item)
    found = []
    for (x_mm, y_mm, z_mm), items in places.items():
        items.sort(key=lambda item: (-item.mass_kg, item.what))
        names = ", ".join(item.what.replace("_", " ") for item in items[:2])
        more = len(items) - 2
        found.append(
            Mark("", "part", names + (f" and {more} more" if more > 0 else ""),
                 sum(item.mass_kg for item in items), x_mm, y_mm, z_mm)
        )  # fmt: skip
    return found
