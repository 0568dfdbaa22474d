"""What differs by country or class of vehicle: data in ``countries.csv``, never code.

The figures are guidelines, each with its source and whether that was seen in print; they are no
law by themselves. Local codes, inspection and licensed practice decide.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal, cast


@dataclass(frozen=True)
class Country:
    """Guideline accelerations in multiples of gravity, crush planes in mm, circuits, empty mass.

    ``crush_front_mm`` is measured back from the front end of the car, ``crush_rear_mm``
    forward from its rear end. ``supply_rule`` is what share of a circuit a charger may take
    for hours, empty where none is known; ``mode_1`` whether cars may be charged without a
    pilot contact. ``driver_kg`` is in the empty mass by definition.
    """

    id: str
    title: str
    forward_g: float
    side_g: float
    rear_g: float
    up_g: float
    restraint_source: str
    restraint_seen: bool
    crush_front_mm: int
    crush_rear_mm: int
    crush_rule: Literal["warn", "forbid"]
    crush_source: str
    crush_seen: bool
    supply_rule: Literal["", "continuous-80", "as-rated"]
    supply_source: str
    supply_seen: bool
    mode_1: bool
    driver_kg: int
    empty_mass: str

    @property
    def greatest_g(self) -> float:
        """What bolts in shear are sized for: the greatest of all directions."""
        return max(self.forward_g, self.side_g, self.rear_g, self.up_g)


@cache
def countries() -> dict[str, Country]:
    """Every row of the table, by id."""
    text = (resources.files("bomplan.project") / "countries.csv").read_text(encoding="utf-8")
    return {row["country"]: _country(row) for row in csv.DictReader(io.StringIO(text))}


def _country(row: dict[str, str]) -> Country:
    return Country(
        id=row["country"],
        title=row["title"],
        forward_g=float(row["forward_g"]),
        side_g=float(row["side_g"]),
        rear_g=float(row["rear_g"]),
        up_g=float(row["up_g"]),
        restraint_source=row["restraint_source"],
        restraint_seen=row["restraint_seen"] == "yes",
        crush_front_mm=int(row["crush_front_mm"]),
        crush_rear_mm=int(row["crush_rear_mm"]),
        crush_rule=cast(Literal["warn", "forbid"], row["crush_rule"]),
        crush_source=row["crush_source"],
        crush_seen=row["crush_seen"] == "yes",
        supply_rule=cast(Literal["", "continuous-80", "as-rated"], row["supply_rule"]),
        supply_source=row["supply_source"],
        supply_seen=row["supply_seen"] == "yes",
        mode_1=row["mode_1"] == "yes",
        driver_kg=int(row["driver_kg"]),
        empty_mass=row["empty_mass"],
    )
