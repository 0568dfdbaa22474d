"""What follows from other keys of a project file, filled in before the figures are checked.

A mass that names a zone takes its place from it; an outlet by name gives volts and amperes;
four corner readings give both axles; how the car was weighed gives the spread. All of it
happens on the file's own tables, so that records and plan files hold plain figures and nobody
downstream asks twice.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from typing import Any, Final

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.outlets import fill_outlet
from bomplan.project.twelve_volt import fill_loads
from bomplan.project.units import Figure
from bomplan.quantities import QuantityError

Finding = tuple[KeyPath, Fault]

_MASS: Final = Figure("mass", "g", "kg", whole=True)
_AXES: Final = ("x", "y", "z")
_CORNERS: Final = {"front": ("front_left", "front_right"), "rear": ("rear_left", "rear_right")}
# Share of the greater axle reading, and the least spread in grams; common practice.
_SPREADS: Final = {
    "weighbridge": (0, 20_000),
    "wheel scales": (0, 5_000),
    "bathroom scales": (3, 10_000),
}


def complete(tree: dict[str, Any], *, decimal_comma: bool = False) -> list[Finding]:
    """Fill ``tree`` (the file without its notes) in place; what could not be filled."""
    found = list(fill_outlet(tree))
    donor = tree.get("donor")
    if not isinstance(donor, dict):
        return found
    found += _zones(tree, donor)
    found += fill_loads(tree, decimal_comma)
    weighing = donor.get("weighing")
    if isinstance(weighing, dict):
        found += _corners(weighing, decimal_comma)
        _spread(weighing, decimal_comma)
    return found


def _zones(tree: dict[str, Any], donor: dict[str, Any]) -> Iterator[Finding]:
    zones = {str(zone.get("name")): zone for _, zone in _tables(donor.get("zones"), ())}
    for path, item in _placed(tree, donor):
        name = item.get("zone")
        if name is None:
            continue
        zone = zones.get(str(name))
        if zone is None:
            near = difflib.get_close_matches(str(name), zones, n=1, cutoff=0.5)
            names = ", ".join(f'"{known}"' for known in zones) or "none is defined"
            hint = f'did you mean "{near[0]}"?' if near else "add it as [[donor.zones]]"
            yield (*path, "zone"), Fault(
                "project.no-such-name", "names a zone that the donor does not have",
                value=str(name), allowed=names, hint=hint,
            )  # fmt: skip
            # Told once: the place that could not be found is not missing as well.
            item.setdefault("x", "0 mm")
            continue
        both = [axis for axis in _AXES if axis in item]
        if both:
            yield (*path, "zone"), Fault(
                "project.place-twice", f"gives a zone, and {', '.join(both)} besides",
                value=str(name), allowed="either a zone or a position of its own",
            )  # fmt: skip
        for axis in _AXES:
            if axis in zone:
                item.setdefault(axis, zone[axis])


def _placed(
    tree: dict[str, Any], donor: dict[str, Any]
) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
    """Every table that may name a zone."""
    for key in ("removed", "kept", "added"):
        yield from _tables(donor.get(key), ("donor", key))
    for path, case in _tables(tree.get("load_cases"), ("load_cases",)):
        yield from _tables(case.get("items"), (*path, "items"))
    places = tree.get("places")
    if isinstance(places, dict):
        yield from _tables(places.get("parts"), ("places", "parts"))


def _tables(here: object, path: KeyPath) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
    if isinstance(here, list):
        for i, item in enumerate(here):
            if isinstance(item, dict):
                yield (*path, i), item


def _corners(weighing: dict[str, Any], comma: bool) -> Iterator[Finding]:
    """Axles from corners; where both stand they must agree to the gram."""
    named = [key for pair in _CORNERS.values() for key in pair]
    given = [key for key in named if key in weighing]
    if not given:
        return
    if len(given) < len(named):
        missing = ", ".join(key for key in named if key not in given)
        yield ("donor", "weighing", given[0]), Fault(
            "project.corners", "is one corner of the car, and others are missing",
            value=", ".join(given), allowed="all four corners, or none", hint=f"add {missing}",
        )  # fmt: skip
        for axle in _CORNERS:
            weighing.setdefault(axle, "1 kg")
        return
    for axle, pair in _CORNERS.items():
        masses = [_grams(weighing[key], comma) for key in pair]
        if None in masses:
            weighing.setdefault(axle, "1 kg")
            continue  # told where the figure itself is read
        total = sum(mass for mass in masses if mass is not None)
        stated = _grams(weighing[axle], comma) if axle in weighing else None
        if axle not in weighing:
            weighing[axle] = f"{total} g"
        elif stated is not None and stated != total:
            yield ("donor", "weighing", axle), Fault(
                "project.corners", "is not what its two corners add up to",
                value=f"{stated / 1000:g} kg", allowed=f"{total / 1000:g} kg",
                hint=f"leave {axle} out: it follows from {pair[0]} and {pair[1]}",
            )  # fmt: skip


def _spread(weighing: dict[str, Any], comma: bool) -> None:
    rule = _SPREADS.get(str(weighing.get("method")))
    if rule is None or "spread" in weighing:
        return
    percent, least_g = rule
    readings = [_grams(weighing.get(axle), comma) or 0 for axle in ("front", "rear")]
    spread_g = max(least_g, -(-percent * max(readings) // 100))
    weighing["spread"] = f"{spread_g} g"


def _grams(value: object, comma: bool) -> int | None:
    if not isinstance(value, str):
        return None
    try:
        return int(_MASS.read(value, from_file=True, decimal_comma=comma))
    except QuantityError:
        return None
