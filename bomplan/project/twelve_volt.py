"""What the car keeps on its 12 V side: named loads with watts and duty, and their sums.

Usual figures stand in ``loads_12v.csv``, country by country where they differ, each with where
it is from; a project names what its car has and may give watts, amperes or duties of its own.
A load's duty is the share of the time that it takes its power, in each circumstance: by day,
at night, in rain, in winter. In several at once the greatest of them holds.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Iterable, Iterator
from functools import cache
from importlib import resources
from math import ceil
from typing import Any, Final, Literal

from pydantic import Field

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.record import Name, Record
from bomplan.project.units import Amperes, Figure, Fraction, Watts
from bomplan.quantities import QuantityError

Circumstance = Literal["night", "rain", "winter"]
LoadKind = Literal["continuous", "intermittent", "gone", "bill"]

WORST: Final[tuple[Circumstance, ...]] = ("night", "rain", "winter")
SYSTEM_V: Final = 13.8
"""Voltage of the 12 V side while the converter runs; common practice."""
WINTER_BELOW_C: Final = 5.0
"""A colder condition counts as winter: blower, heated window; common practice."""
_DUTIES: Final = ("day", "night", "rain", "winter")
_POWER: Final = Figure("power", "W", "W")
_CURRENT: Final = Figure("current", "A", "A")
_TEMPERATURE: Final = Figure("temperature", "degC", "°C")
_FRACTION: Final = Figure("fraction", "", "%")


class Load12V(Record):
    """A load of the 12 V side: one of the usual ones by name, or one of your own with its power.

    What is left out is filled in from the table of usual loads.
    """

    name: Name = Field(alias="load", description="a usual load, or a name of your own")
    power_w: Watts = Field(0.0, alias="power", ge=0, description="what it takes while it is on")
    current_a: Amperes | None = Field(
        None, alias="current", ge=0, description="in place of power, at 13.8 V"
    )
    peak_w: Watts = Field(
        0.0, alias="peak", ge=0, description="its greatest; the battery gives what is above power"
    )
    duty: Fraction | None = Field(
        None, description="share of the time that it is on, in place of the four below"
    )
    day: Fraction = 0.0
    night: Fraction = 0.0
    rain: Fraction = 0.0
    winter: Fraction = 0.0
    reserve: Fraction = Field(
        0.0, description="share that must go on when the DC-DC converter has failed"
    )
    kind: LoadKind = Field(
        "continuous",
        description="gone: it left with the engine; bill: its row of the bill counts it",
    )
    title: str = Field("", description="how sheets call it")
    source: str = Field("", description="where power and duty are from")

    def duty_in(self, circumstances: Iterable[Circumstance]) -> float:
        """The share of the time that it is on; in several circumstances the greatest."""
        return max(self.day, *(float(getattr(self, one)) for one in circumstances), 0.0)

    def mean_w(self, circumstances: Iterable[Circumstance]) -> float:
        """Power times duty."""
        return self.power_w * self.duty_in(circumstances)


def mean_w(loads: Iterable[Load12V], circumstances: Iterable[Circumstance]) -> int:
    """Mean of all loads in these circumstances together, rounded up to the watt."""
    told = tuple(circumstances)
    return ceil(round(sum(load.mean_w(told) for load in loads), 6))


def on_w(loads: Iterable[Load12V], kind: LoadKind) -> int:
    """Power of all loads of a kind while every one of them is on."""
    return ceil(round(sum(load.power_w for load in loads if load.kind == kind), 6))


def peak_w(loads: Iterable[Load12V]) -> int:
    """Everything at its greatest at once; the battery gives what the converter does not."""
    return ceil(round(sum(max(load.peak_w, load.power_w) for load in loads), 6))


def reserve_w(loads: Iterable[Load12V]) -> int:
    """What must go on when the converter has failed: lamps, hazards, wipers, steering."""
    return ceil(round(sum(load.power_w * load.reserve for load in loads), 6))


@cache
def usual_loads(country: str) -> dict[str, dict[str, str]]:
    """Every row of the table by name; a country's own row stands in place of the general one."""
    text = (resources.files("bomplan.project") / "loads_12v.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    general = {row["load"]: row for row in rows if not row["country"]}
    return general | {row["load"]: row for row in rows if row["country"] == country}


def fill_loads(tree: dict[str, Any], comma: bool) -> Iterator[tuple[KeyPath, Fault]]:
    """Put the usual figures into ``donor.loads_12v``, and their mean into ``donor.load_12v``.

    In place, on the file's own tables. A mean that the file gives is measured, and stays.
    """
    donor = tree.get("donor")
    if not isinstance(donor, dict) or not isinstance(donor.get("loads_12v"), list):
        return
    usual = usual_loads(str(tree.get("country", "general")))
    named: set[str] = set()
    for number, entry in enumerate(donor["loads_12v"]):
        if not isinstance(entry, dict) or not isinstance(entry.get("load"), str):
            continue
        path: KeyPath = ("donor", "loads_12v", number)
        faults = list(_fill(entry, usual, named, comma))
        yield from (((*path, key), fault) for key, fault in faults)
        named.add(entry["load"])
    if donor["loads_12v"] and "load_12v" not in donor:
        seen_in = _circumstances(tree, donor, comma)
        sums = [_mean(entry, seen_in, comma) for entry in donor["loads_12v"]]
        donor["load_12v"] = f"{ceil(round(sum(sums), 6))} W"


def _fill(
    entry: dict[str, Any], usual: dict[str, dict[str, str]], named: set[str], comma: bool
) -> Iterator[tuple[str, Fault]]:
    name = entry["load"]
    row = usual.get(name)
    own = [key for key in ("power", "current") if key in entry]
    if name in named:
        yield "load", Fault(
            "project.load-twice", "stands in the list already", value=name,
            hint="give one entry with the power of both",
        )  # fmt: skip
    if len(own) == 2:
        yield "current", Fault(
            "project.load-two-figures", "gives a current, and a power besides",
            value=str(entry["current"]), allowed="either power or current",
        )  # fmt: skip
    if row is None and not own:
        near = difflib.get_close_matches(name, usual, n=1, cutoff=0.5)
        hint = f'did you mean "{near[0]}"? ' if near else ""
        yield "load", Fault(
            "project.no-such-load", "is no usual 12 V load, and has no power of its own",
            value=name,
            allowed=", ".join(one for one in usual if usual[one]["kind"] not in ("gone", "bill")),
            hint=hint + 'a load of your own says its power: power = "45 W"',
        )  # fmt: skip
    if "current" in entry:
        amps = _read(entry["current"], _CURRENT, comma)
        if amps is not None and "power" not in entry:
            entry["power"] = f"{amps * SYSTEM_V:.10g} W"
    if row is not None:
        entry.setdefault("power", f"{float(row['amps']) * SYSTEM_V:.10g} W")
        if not own:
            entry.setdefault("peak", f"{float(row['peak_amps']) * SYSTEM_V:.10g} W")
        entry.setdefault("kind", row["kind"])
        entry.setdefault("title", row["title"])
        entry.setdefault("reserve", float(row["reserve"]))
    entry.setdefault("peak", entry.get("power", "0 W"))
    entry.setdefault("title", name)
    duty = entry.get("duty", None if row is not None else 1.0)
    for key in _DUTIES:
        entry.setdefault(key, float(row[key]) if duty is None and row is not None else duty)
    if row is None:
        entry.setdefault("source", "the project")
    elif own:
        entry.setdefault("source", "power: the project; duty: common practice")
    else:
        entry.setdefault("source", row["source"])


def _circumstances(
    tree: dict[str, Any], donor: dict[str, Any], comma: bool
) -> tuple[Circumstance, ...]:
    """Those that the project names; else night, and rain and winter where a condition has them."""
    told = donor.get("load_12v_in")
    if isinstance(told, list):
        return tuple(one for one in WORST if one in told)
    found: set[Circumstance] = {"night"}
    conditions = tree.get("conditions")
    for condition in conditions if isinstance(conditions, list) else ():
        if not isinstance(condition, dict):
            continue
        if condition.get("wet") is True:
            found.add("rain")
        degrees = _read(condition.get("temperature"), _TEMPERATURE, comma)
        if degrees is not None and degrees < WINTER_BELOW_C:
            found.add("winter")
    return tuple(one for one in WORST if one in found)


def _mean(entry: object, circumstances: tuple[Circumstance, ...], comma: bool) -> float:
    """Mean of one entry as the file has it; what cannot be read is told where it is read."""
    if not isinstance(entry, dict):
        return 0.0
    power = _read(entry.get("power"), _POWER, comma) or 0.0
    duties = [_read(entry.get(key), _FRACTION, comma) or 0.0 for key in ("day", *circumstances)]
    return power * max(duties)


def _read(value: object, figure: Figure, comma: bool) -> float | None:
    try:
        return figure.read(value, from_file=True, decimal_comma=comma)
    except (QuantityError, ValueError, TypeError):
        return None
