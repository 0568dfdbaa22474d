"""The schema of every catalogue table, which is data: two CSV files beside this module.

``schema/families.csv`` names the tables, ``schema/columns.csv`` their columns. The same
rows drive reading, checking, the page that explains the columns and the column help.
"""

from __future__ import annotations

import csv
import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final, Literal, cast

ColumnType = Literal["text", "number", "integer", "flag", "choice", "date", "money"]

_SCHEMA_FOLDER: Final = Path(__file__).parent / "schema"
_TABLES: Final = "tables"
_EVERY_FAMILY: Final = "*"


@dataclass(frozen=True)
class Column:
    """One column: ``required`` is always, or only where ``needed_when`` names this row."""

    name: str
    type: ColumnType
    unit: str
    required: bool
    needed_when: tuple[str, tuple[str, ...]] | None
    minimum: float | None
    maximum: float | None
    choices: tuple[str, ...]
    description: str

    def allowed(self) -> str:
        """What a cell of this column may hold, in words."""
        if self.type == "choice":
            return ", ".join(self.choices)
        if self.type == "flag":
            return "yes or no"
        if self.type == "date":
            return "a date such as 2026-09-15"
        if self.type == "text":
            return "text of at most 500 characters"
        noun = "a whole number" if self.type == "integer" else "a number"
        if self.minimum is not None and self.maximum is not None:
            noun += f" from {self.minimum:g} to {self.maximum:g}"
        elif self.minimum is not None:
            noun += f" of at least {self.minimum:g}"
        return f"{noun} ({self.unit})" if self.unit else noun


@dataclass(frozen=True)
class Family:
    """One table; ``per`` is what one row's price and mass are for."""

    name: str
    title: str
    system: str
    per: str
    columns: Mapping[str, Column]

    @property
    def is_table(self) -> bool:
        """Whether this is a table behind the parts (pairs, curves, ...), not a part family."""
        return self.system == _TABLES

    def nearest_column(self, name: str, among: Iterable[str] | None = None) -> str | None:
        """The column whose name is closest to ``name``, or None."""
        names = list(self.columns if among is None else among)
        found = difflib.get_close_matches(name.strip().lower(), names, n=1, cutoff=0.6)
        return found[0] if found else None


@lru_cache(maxsize=1)
def schema() -> Mapping[str, Family]:
    """Every table by name, in the order of ``families.csv``."""
    shared: dict[str, Column] = {}
    own: dict[str, dict[str, Column]] = {}
    for row in _rows("columns.csv"):
        column = _column(row)
        target = shared if row["family"] == _EVERY_FAMILY else own.setdefault(row["family"], {})
        target[column.name] = column
    families: dict[str, Family] = {}
    for row in _rows("families.csv"):
        mine = own.get(row["family"], {})
        # a family may narrow a shared column; the shared order is kept
        columns = mine if row["system"] == _TABLES else {**shared, **mine}
        families[row["family"]] = Family(
            name=row["family"],
            title=row["title"],
            system=row["system"],
            per=row["per"],
            columns=columns,
        )
    return families


def part_families() -> tuple[Family, ...]:
    """The families that hold parts, in the schema's order."""
    return tuple(family for family in schema().values() if not family.is_table)


def _rows(name: str) -> list[dict[str, str]]:
    with (_SCHEMA_FOLDER / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _column(row: Mapping[str, str]) -> Column:
    needed = None
    if "=" in row["required"]:
        name, values = row["required"].split("=", 1)
        needed = (name, tuple(values.split("|")))
    return Column(
        name=row["column"],
        type=cast("ColumnType", row["type"]),
        unit=row["unit"],
        required=row["required"] == "yes",
        needed_when=needed,
        minimum=float(row["minimum"]) if row["minimum"] else None,
        maximum=float(row["maximum"]) if row["maximum"] else None,
        choices=tuple(row["choices"].split("|")) if row["choices"] else (),
        description=row["description"],
    )
