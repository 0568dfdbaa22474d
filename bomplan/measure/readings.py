"""The readings file: what the scales said, and what was in the car at that moment.

A TOML file with one ``[[weighing]]`` for each time on the scales, in the order in which they
were made. Figures stand in quotes with their unit, as in the project file.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from bomplan.errors import Fault, InputError
from bomplan.project.lines import KeyPath, key_lines, line_of
from bomplan.project.text import read_text
from bomplan.project.units import Figure
from bomplan.quantities import QuantityError
from bomplan.weighing import PlacedMass

Some = tuple[str, ...] | Literal["all", "none"]
CORNERS: Final = ("front_left", "front_right", "rear_left", "rear_right")
AXLES: Final = ("front", "rear")
_MASS: Final = Figure("mass", "g", "kg", whole=True)
_LENGTH: Final = Figure("length", "mm", "mm", whole=True)
_KEYS: Final = (
    "name", "removed", "fitted", "added", "without", "load_case", "aboard", "fuel", "fuel_x",
    "spread", *AXLES, *CORNERS,
)  # fmt: skip
_ABOARD: Final = ("name", "mass", "x", "y")


@dataclass(frozen=True)
class Reading:
    """One time on the scales; masses in g, positions in mm.

    ``removed``, ``fitted`` and ``added`` say how far the build is: all, none, or names.
    ``without`` are kept things that were not in the car. ``corners_g`` is front left, front
    right, rear left, rear right. ``spread_g`` is how far one axle reading may be off.
    """

    name: str
    removed: Some
    fitted: Some
    added: Some
    without: tuple[str, ...]
    load_case: str | None
    aboard: tuple[PlacedMass, ...]
    fuel_g: int
    fuel_x_mm: int | None
    front_g: int
    rear_g: int
    corners_g: tuple[int, int, int, int] | None
    spread_g: int


def read_readings(path: Path) -> tuple[Reading, ...]:
    """Every weighing of the file. Raises InputError with every fault found."""
    found, faults = look_at(path)
    if faults:
        raise InputError(faults)
    return found


def look_at(path: Path) -> tuple[tuple[Reading, ...], list[Fault]]:
    """Every weighing of the file as far as it can be read, and every fault found.

    Raises InputError where nothing can be read at all.
    """
    text = read_text(path, kind="readings")
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise InputError(
            [
                Fault(
                    "readings.syntax",
                    f"is no valid TOML: {error}",
                    path.name,
                    hint='text and figures with a unit stand in quotes: front = "412 kg"',
                )
            ]
        ) from None
    reader = _Reader(path.name, key_lines(text))
    found = reader.file(raw)
    return found, reader.faults


class _Reader:
    def __init__(self, name: str, lines: dict[KeyPath, int]) -> None:
        self.name, self.lines = name, lines
        self.faults: list[Fault] = []

    def fault(
        self,
        path: KeyPath,
        code: str,
        message: str,
        value: object = None,
        allowed: str | None = None,
        hint: str | None = None,
    ) -> None:
        line = line_of(self.lines, path)
        shown = ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
        where = ", ".join(part for part in (f"line {line}" if line else "", shown) if part)
        said = None if value is None else str(value)
        self.faults.append(Fault(code, message, self.name, where or None, said, allowed, hint))

    def file(self, raw: dict[str, Any]) -> tuple[Reading, ...]:
        if raw.get("format") != 1:
            self.fault(
                ("format",), "readings.format", "does not say the format that this program reads",
                raw.get("format"), "format = 1",
            )  # fmt: skip
        self.unknown((), raw, ("format", "weighing"))
        tables = raw.get("weighing")
        if not isinstance(tables, list) or not tables:
            self.fault(
                (), "readings.missing", "holds no weighing",
                hint="write one [[weighing]] for each time on the scales",
            )  # fmt: skip
            return ()
        found = []
        for number, table in enumerate(tables):
            path: KeyPath = ("weighing", number)
            if not isinstance(table, dict):
                self.fault(path, "readings.value", "is not a table", table)
                continue
            found.append(self.weighing(path, table))
        return tuple(found)

    def weighing(self, path: KeyPath, table: dict[str, Any]) -> Reading:
        self.unknown(path, table, _KEYS)
        name = table.get("name", f"weighing {int(path[-1]) + 1}")
        corners = self.corners(path, table)
        front = self.axle(path, table, "front", None if corners is None else corners[:2])
        rear = self.axle(path, table, "rear", None if corners is None else corners[2:])
        fuel = self.mass((*path, "fuel"), table.get("fuel", "0 kg"))
        fuel_x = table.get("fuel_x")
        if fuel and fuel_x is None:
            self.fault(
                (*path, "fuel"), "readings.missing", "has no place", table["fuel"],
                hint='add fuel_x, its distance behind the front axle, such as "1500 mm"',
            )  # fmt: skip
        return Reading(
            name=self.text((*path, "name"), name),
            removed=self.some((*path, "removed"), table.get("removed", "all")),
            fitted=self.some((*path, "fitted"), table.get("fitted", "all")),
            added=self.some((*path, "added"), table.get("added", "all")),
            without=self.names((*path, "without"), table.get("without", [])),
            load_case=(
                self.text((*path, "load_case"), table["load_case"])
                if "load_case" in table
                else None
            ),
            aboard=tuple(self.aboard((*path, "aboard"), table.get("aboard", []))),
            fuel_g=fuel,
            fuel_x_mm=None if fuel_x is None else self.length((*path, "fuel_x"), fuel_x),
            front_g=front,
            rear_g=rear,
            corners_g=corners,
            spread_g=self.mass((*path, "spread"), table.get("spread", "10 kg")),
        )

    def corners(self, path: KeyPath, table: dict[str, Any]) -> tuple[int, int, int, int] | None:
        given = [key for key in CORNERS if key in table]
        if not given:
            return None
        if len(given) < len(CORNERS):
            missing = ", ".join(key for key in CORNERS if key not in table)
            self.fault(
                (*path, given[0]), "readings.corners", "is one corner, and others are missing",
                ", ".join(given), "all four corners, or none", f"add {missing}",
            )  # fmt: skip
            return None
        one, two, three, four = (self.mass((*path, key), table[key]) for key in CORNERS)
        return one, two, three, four

    def axle(
        self, path: KeyPath, table: dict[str, Any], axle: str, corners: tuple[int, ...] | None
    ) -> int:
        if axle not in table:
            if corners is None and not any(key in table for key in CORNERS):
                self.fault(
                    path, "readings.missing", f"lacks the reading of the {axle} axle",
                    allowed=f'{axle} = "412 kg", or all four corners',
                )  # fmt: skip
            return 0 if corners is None else sum(corners)
        stated = self.mass((*path, axle), table[axle])
        if corners is not None and stated != sum(corners):
            self.fault(
                (*path, axle), "readings.corners", "is not what its two corners add up to",
                f"{stated / 1000:g} kg", f"{sum(corners) / 1000:g} kg", f"leave {axle} out",
            )  # fmt: skip
        return stated

    def aboard(self, path: KeyPath, value: object) -> Iterator[PlacedMass]:
        if not isinstance(value, list):
            self.fault(path, "readings.value", "is not a list of tables", value)
            return
        for number, item in enumerate(value):
            here = (*path, number)
            if not isinstance(item, dict):
                self.fault(here, "readings.value", "is not a table", item)
                continue
            self.unknown(here, item, _ABOARD)
            missing = [key for key in ("name", "mass", "x") if key not in item]
            if missing:
                self.fault(
                    here, "readings.missing", f"lacks {', '.join(missing)}",
                    allowed='{ name = "driver", mass = "80 kg", x = "1180 mm" }',
                )  # fmt: skip
                continue
            yield PlacedMass(
                self.text((*here, "name"), item["name"]),
                self.mass((*here, "mass"), item["mass"]),
                self.length((*here, "x"), item["x"]),
                self.length((*here, "y"), item.get("y", "0 mm")),
            )

    def some(self, path: KeyPath, value: object) -> Some:
        if value == "all":
            return "all"
        if value == "none":
            return "none"
        return self.names(path, value)

    def names(self, path: KeyPath, value: object) -> tuple[str, ...]:
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(value)
        self.fault(
            path, "readings.value", "is no list of names", value,
            'a list such as ["motor", "controller"]'
            + ("" if path[-1] == "without" else ', or "all", or "none"'),
        )  # fmt: skip
        return ()

    def text(self, path: KeyPath, value: object) -> str:
        if isinstance(value, str) and 0 < len(value) <= 80:
            return value
        self.fault(path, "readings.value", "is no short text", value, "1 to 80 characters")
        return ""

    def mass(self, path: KeyPath, value: object) -> int:
        return self.figure(path, value, _MASS)

    def length(self, path: KeyPath, value: object) -> int:
        return self.figure(path, value, _LENGTH)

    def figure(self, path: KeyPath, value: object, kind: Figure) -> int:
        try:
            return int(kind.read(value, from_file=True))
        except QuantityError as error:
            fault = error.fault
            self.fault(path, fault.code, fault.message, fault.value, fault.allowed, fault.hint)
            return 0

    def unknown(self, path: KeyPath, table: dict[str, Any], keys: tuple[str, ...]) -> None:
        for key in table:
            if key not in keys:
                near = difflib.get_close_matches(key, keys, n=1, cutoff=0.5)
                self.fault(
                    (*path, key), "readings.unknown-key", "is no key of this table", key,
                    ", ".join(keys), f'did you mean "{near[0]}"?' if near else None,
                )  # fmt: skip
