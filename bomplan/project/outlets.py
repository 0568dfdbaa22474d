"""Usual supply outlets by country: data in ``outlets.csv``, never code.

Each says what a charger may draw for hours, where that is from and whether it was seen in print.
Local codes, inspection and licensed practice decide what a circuit may carry.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal, cast

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath

GIVEN = ("supply", "supply_current", "supply_rule")


@dataclass(frozen=True)
class Outlet:
    """``supply_a`` is the circuit's rating, or what a household outlet is held to for hours;
    ``countries`` are ids of the table of countries."""

    id: str
    title: str
    countries: tuple[str, ...]
    supply_v: int
    supply_a: int
    supply_rule: Literal["continuous-80", "as-rated"]
    source: str


@cache
def outlets() -> dict[str, Outlet]:
    """Every row of the table, by id."""
    text = (resources.files("bomplan.project") / "outlets.csv").read_text(encoding="utf-8")
    return {
        row["outlet"]: Outlet(
            id=row["outlet"],
            title=row["title"],
            countries=tuple(row["countries"].split("|")),
            supply_v=int(row["supply_v"]),
            supply_a=int(row["supply_a"]),
            supply_rule=cast(Literal["continuous-80", "as-rated"], row["supply_rule"]),
            source=row["source"],
        )
        for row in csv.DictReader(io.StringIO(text))
    }


def outlets_of(country: str) -> tuple[Outlet, ...]:
    """The outlets of a country; all of them where none is named."""
    return tuple(
        one for one in outlets().values() if country == "general" or country in one.countries
    )


def fill_outlet(tree: dict[str, Any]) -> Iterator[tuple[KeyPath, Fault]]:
    """Put an outlet's figures into the table ``charging`` of a project file, in place."""
    charging = tree.get("charging")
    if not isinstance(charging, dict) or not isinstance(charging.get("outlet"), str):
        return
    path: KeyPath = ("charging", "outlet")
    here = {one.id: one for one in outlets_of(str(tree.get("country", "general")))}
    outlet = here.get(charging["outlet"])
    if outlet is None:
        yield (
            path,
            Fault(
                "project.no-such-outlet",
                "is no outlet of the project's country",
                value=charging["outlet"],
                allowed=", ".join(here),
                hint="or say it in figures: supply, supply_current and supply_rule",
            ),
        )
        return
    both = [key for key in GIVEN if key in charging]
    if both:
        yield (
            path,
            Fault(
                "project.outlet-twice",
                f"names an outlet, and {', '.join(both)} besides",
                value=outlet.id,
                allowed="either an outlet or figures of its own",
                hint=f"{outlet.id} stands for {outlet.supply_v} V, {outlet.supply_a} A,"
                f" {outlet.supply_rule}",
            ),
        )
    charging["supply"] = f"{outlet.supply_v} V"
    charging["supply_current"] = f"{outlet.supply_a} A"
    charging["supply_rule"] = outlet.supply_rule
