"""What the parts of a project must be to each other.

Names and references are checked on the file as it stands, so that they are reported
together with faults in its figures; the figures are compared once all of them are read.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

from bomplan.errors import Fault
from bomplan.money import CURRENCY_DECIMALS
from bomplan.project.check_budget import budget_figures
from bomplan.project.check_chassis import chassis_cautions, chassis_figures
from bomplan.project.check_country import country_figures
from bomplan.project.check_goal import goal_figures, named_target
from bomplan.project.check_rates import rate_cautions
from bomplan.project.check_rooms import bay_figures, room_cautions, room_figures
from bomplan.project.check_use import use_cautions
from bomplan.project.lines import KeyPath
from bomplan.project.profiles import Profile, parse_profile
from bomplan.project.records import Project
from bomplan.quantities import QuantityError

Finding = tuple[KeyPath, Fault]

FARTHEST_MM: Final = 10_000
_NAMED: Final[tuple[tuple[str, ...], ...]] = (
    ("bays",), ("load_cases",), ("conditions",), ("targets", "range"), ("targets", "top_speed"),
    ("targets", "climb"), ("targets", "acceleration"), ("donor", "zones"), ("floors",),
    ("scenarios",),
)  # fmt: skip


def names(raw: dict[str, Any]) -> Iterator[Finding]:
    """Names given twice, references that lead nowhere, profiles and currencies unknown."""
    for group in _NAMED:
        yield from _unique(raw, group)
    conditions = [item.get("name") for _, item in _tables(raw, ("conditions",))]
    load_cases = [item.get("name") for _, item in _tables(raw, ("load_cases",))]
    comma = raw.get("decimal_comma") is True
    for group in _NAMED[3:7]:
        for path, target in _tables(raw, group):
            yield from _refers(path, target, "condition", conditions)
            yield from _refers(path, target, "load_case", load_cases)
            if group[-1] == "range" and isinstance(target.get("profile"), str):
                try:
                    parse_profile(target["profile"], decimal_comma=comma)
                except QuantityError as error:
                    yield (*path, "profile"), error.fault
    yield from named_target(raw, "use")
    yield from named_target(raw, "goal")
    floors = [item.get("name") for _, item in _tables(raw, ("floors",))]
    for path, bay in _tables(raw, ("bays",)):
        yield from _refers(path, bay, "floor", floors)
    yield from _currencies(raw)


def profiles(raw: dict[str, Any]) -> Iterator[tuple[KeyPath, dict[str, Any], Profile]]:
    """The profiles that range targets name rightly, with key path and target."""
    for path, target in _tables(raw, ("targets", "range")):
        try:
            profile = parse_profile(
                str(target.get("profile", "")), decimal_comma=raw.get("decimal_comma") is True
            )
        except QuantityError:
            continue
        yield (*path, "profile"), target, profile


def figures(project: Project) -> Iterator[Finding]:
    """Figures that cannot hold together."""
    yield from _weighing(project)
    yield from _road(project)
    yield from _driveline(project)
    yield from _positions(project)
    yield from chassis_figures(project)
    yield from country_figures(project)
    yield from room_figures(project)
    yield from bay_figures(project)
    yield from goal_figures(project)
    yield from budget_figures(project)
    for i, target in enumerate(project.targets.range):
        if target.reserve >= 1:
            yield (
                ("targets", "range", i, "reserve"),
                _fault("reserve", "keeps everything back", "100 %", "less than 100 %"),
            )
    low, high = project.targets.pack_voltage_min_v, project.targets.pack_voltage_max_v
    if low >= high:
        yield (
            ("targets", "pack_voltage_min"),
            _fault("order", "is not below pack_voltage_max", f"{low:g} V", f"less than {high:g} V"),
        )
    charged = project.targets.charged_voltage_min_v
    if charged >= high:
        yield (
            ("targets", "charged_voltage_min"),
            _fault("order", "is not below pack_voltage_max", f"{charged:g} V",
                   f"less than {high:g} V"),
        )  # fmt: skip


def retired(paths: list[KeyPath]) -> Iterator[Finding]:
    """Keys of an older file that nothing reads any more."""
    for path in paths:
        yield (
            path,
            _fault(
                "retired-key", "is read by nothing and is passed over", hint="take the line out"
            ),
        )


def cautions(project: Project, raw: dict[str, Any]) -> Iterator[Finding]:
    """What is possible but seldom meant; ``raw`` is the file, which tells silence from zero."""
    donor = project.donor
    axles = donor.front_axle_limit_g + donor.rear_axle_limit_g
    if axles < donor.gross_limit_g:
        yield ("donor", "gross_limit"), _fault(
            "axles-below-gross", "is more than both axles may carry together",
            _kg(donor.gross_limit_g), f"up to {_kg(axles)}",
            "check the plate: the two axle limits together are usually the greater",
        )  # fmt: skip
    if "fuel" not in raw["donor"]["weighing"] and any(
        "tank" in item.name.lower() for item in donor.removed
    ):
        yield ("donor", "weighing"), _fault(
            "no-fuel", "says nothing of the fuel that was in the tank", None, None,
            'write fuel = "0 kg" if it was empty; 45 l of petrol are 33 kg',
        )  # fmt: skip
    yield from rate_cautions(project)
    yield from chassis_cautions(project)
    yield from use_cautions(project)
    yield from room_cautions(project)
    if not any(condition.aged for condition in project.conditions):
        yield ("conditions",), _fault(
            "no-aged", "never looks at a worn pack", None, None,
            "add a condition with aged = true and a range target in it",
        )  # fmt: skip


def _road(project: Project) -> Iterator[Finding]:
    """One road load, whole: a coast-down, or drag area with one of the rolling figures."""
    donor = project.donor
    rolling = [
        key
        for key, value in (
            ("rolling_resistance", donor.rolling_resistance),
            ("tyre_pressure", donor.tyre_pressure_bar),
        )
        if value is not None
    ]
    if donor.coast_down is not None:
        given = rolling + (["drag_area"] if donor.drag_area_m2 is not None else [])
        for key in given:
            yield ("donor", key), _fault(
                "road-twice", "stands beside a coast-down, which says the same", None,
                "one of the two", "take it out, or take [donor.coast_down] out",
            )  # fmt: skip
        return
    if donor.drag_area_m2 is None:
        yield ("donor", "drag_area"), _fault(
            "missing-key", "lacks the key drag_area", None, None,
            "a compact car has 0.6 to 0.7 m², a van 1.2; or give a measured [donor.coast_down]",
        )  # fmt: skip
    if not rolling:
        yield ("donor", "rolling_resistance"), _fault(
            "missing-key", "lacks the key rolling_resistance", None, None,
            "a car has about 0.011; or give tyre_pressure, or a measured [donor.coast_down]",
        )  # fmt: skip
    if len(rolling) > 1:
        yield ("donor", "tyre_pressure"), _fault(
            "road-twice", "stands beside rolling_resistance, which says the same", None,
            "one of the two",
        )  # fmt: skip
    if donor.tyre_pressure_bar is not None and donor.kind == "motorcycle":
        yield ("donor", "tyre_pressure"), _fault(
            "tyre-rule", "gives the rolling resistance of car tyres only", None, None,
            "give rolling_resistance, about 0.015 for a motorcycle",
        )  # fmt: skip


def _weighing(project: Project) -> Iterator[Finding]:
    donor, weighing = project.donor, project.donor.weighing
    for what, mass, place in (
        ("fuel", weighing.fuel_g, weighing.fuel_x_mm),
        ("people", weighing.people_g, weighing.people_x_mm),
    ):
        if mass and place is None:
            yield ("donor", "weighing", what), _fault(
                "no-place", "has no place, so it cannot be taken off the axles", _kg(mass),
                None, f'add {what}_x, its distance behind the front axle, such as "1500 mm"',
            )  # fmt: skip
    weighed = weighing.front_g + weighing.rear_g
    empty = weighed - weighing.fuel_g - weighing.people_g
    if empty <= 0:
        yield (
            ("donor", "weighing"),
            _fault("weighing", "leaves nothing of the car", _kg(empty), "more than 0 kg"),
        )
    elif empty > donor.gross_limit_g:
        yield ("donor", "weighing"), _fault(
            "weighing", "is more than the gross limit allows the laden car", _kg(empty),
            f"up to {_kg(donor.gross_limit_g)}", "were the pounds or kilograms mixed up?",
        )  # fmt: skip
    for axle, mass, limit in (
        ("front", weighing.front_g, donor.front_axle_limit_g),
        ("rear", weighing.rear_g, donor.rear_axle_limit_g),
    ):
        if mass - weighing.people_g - weighing.fuel_g > limit:
            yield ("donor", "weighing", axle), _fault(
                "weighing", f"is more than the {axle} axle may carry", _kg(mass),
                f"up to {_kg(limit)}", "were front and rear exchanged?",
            )  # fmt: skip
    removed = sum(item.mass_g for item in donor.removed)
    if removed >= empty > 0:
        yield (
            ("donor", "removed"),
            _fault(
                "removed", "is as heavy as the whole car", _kg(removed), f"less than {_kg(empty)}"
            ),
        )


def _driveline(project: Project) -> Iterator[Finding]:
    driveline = project.donor.driveline
    gears, speeds = driveline.gear_ratios, driveline.shift_speeds_m_s
    for key, ratios in (("gear_ratios", gears), ("final_ratios", driveline.final_ratios)):
        for i, ratio in enumerate(ratios):
            if not 0.1 <= ratio <= 30:
                yield (
                    ("donor", "driveline", key, i),
                    _fault(
                        "ratio",
                        "is no ratio of a road vehicle",
                        f"{ratio:g}",
                        "0.1 to 30",
                    ),
                )
    if any(b >= a for a, b in pairwise(gears)):
        yield (
            ("donor", "driveline", "gear_ratios"),
            _fault("order", "does not fall from first gear to top", _list(gears), "falling ratios"),
        )
    if len(speeds) != len(gears) - 1:
        needed = len(gears) - 1
        yield ("donor", "driveline", "shift_speeds"), _fault(
            "shift-speeds", f"has {len(speeds)} speeds for {len(gears)} gears", None,
            "none" if needed == 0 else f"{needed}, one between each gear and the next",
        )  # fmt: skip
    if any(b <= a for a, b in pairwise(speeds)) or min(speeds, default=1) <= 0:
        shown = ", ".join(f"{3.6 * speed:g}" for speed in speeds)
        yield (
            ("donor", "driveline", "shift_speeds"),
            _fault("order", "does not rise", f"{shown} km/h", "rising speeds"),
        )


def _positions(project: Project) -> Iterator[Finding]:
    donor = project.donor
    places: list[tuple[KeyPath, int]] = [
        (("places", key), getattr(project.places, f"{key}_mm"))
        for key in ("motor_x", "controller_x", "charger_x", "other_x")
    ]
    for key in ("removed", "kept", "added"):
        places += [(("donor", key, i, "x"), m.x_mm) for i, m in enumerate(getattr(donor, key))]
    places += [
        (("places", "parts", i, "x"), part.x_mm) for i, part in enumerate(project.places.parts)
    ]
    for i, case in enumerate(project.load_cases):
        places += [(("load_cases", i, "items", j, "x"), m.x_mm) for j, m in enumerate(case.items)]
    for i, bay in enumerate(project.bays):
        places.append((("bays", i, "x"), bay.x_mm))
        places.append((("bays", i, "length"), bay.x_mm + bay.length_mm))
        for key in ("width", "height"):
            size = getattr(bay, f"{key}_mm")
            if size > FARTHEST_MM:
                yield ("bays", i, key), _fault("place", "is no size of a bay", f"{size} mm",
                                               f"up to {FARTHEST_MM} mm")  # fmt: skip
    if donor.wheelbase_mm > FARTHEST_MM:
        places.append((("donor", "wheelbase"), donor.wheelbase_mm))
    for path, x_mm in places:
        if abs(x_mm) > FARTHEST_MM:
            yield path, _fault(
                "place", "lies far outside the car", f"{x_mm} mm behind the front axle",
                f"within {FARTHEST_MM} mm", "positions count backwards from the front axle",
            )  # fmt: skip


def _unique(raw: dict[str, Any], path: tuple[str, ...]) -> Iterator[Finding]:
    seen: set[str] = set()
    for where, item in _tables(raw, path):
        name = item.get("name")
        if isinstance(name, str):
            if name in seen:
                yield (
                    (*where, "name"),
                    _fault("name-twice", "is given twice", name, "a name of its own"),
                )
            seen.add(name)


def _refers(path: KeyPath, target: dict[str, Any], key: str, known: list[Any]) -> Iterator[Finding]:
    name = target.get(key)
    if isinstance(name, str) and name not in known:
        choices = [str(choice) for choice in known]
        near = difflib.get_close_matches(name, choices, n=1, cutoff=0.5)
        yield (*path, key), _fault(
            "no-such-name", f"names a {key.replace('_', ' ')} that the project does not have",
            name, ", ".join(f'"{choice}"' for choice in choices) or "none is defined",
            f'did you mean "{near[0]}"?' if near else f"add it as [[{key}s]]",
        )  # fmt: skip


def _currencies(raw: dict[str, Any]) -> Iterator[Finding]:
    known = ", ".join(sorted(CURRENCY_DECIMALS))
    own = raw.get("currency")
    if isinstance(own, str) and re.fullmatch("[A-Z]{3}", own) and own not in CURRENCY_DECIMALS:
        yield ("currency",), _fault("not-allowed", "is no currency code known", own, known)
    rates = raw.get("rates")
    for code, rate in rates.items() if isinstance(rates, dict) else ():
        if code == own:
            yield ("rates", code), _fault("rate", "is the project's own currency", code)
        elif code not in CURRENCY_DECIMALS:
            yield ("rates", code), _fault("not-allowed", "is no currency code known", code, known)
        if isinstance(rate, (int, float)) and not 0 < rate < 1e6:
            yield ("rates", code), _fault("rate", "is no rate", str(rate), "more than 0")


def _tables(raw: dict[str, Any], path: tuple[str, ...]) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
    here: object = raw
    for key in path:
        here = here.get(key) if isinstance(here, dict) else None
    if isinstance(here, list):
        for i, item in enumerate(here):
            if isinstance(item, dict):
                yield (*path, i), item


def _fault(
    code: str,
    message: str,
    value: str | None = None,
    allowed: str | None = None,
    hint: str | None = None,
) -> Fault:
    return Fault(f"project.{code}", message, value=value, allowed=allowed, hint=hint)


def _kg(mass_g: int) -> str:
    return f"{mass_g / 1000:g} kg"


def _list(values: tuple[float, ...]) -> str:
    return ", ".join(f"{value:g}" for value in values)
