"""What a plan says of itself beside its bill, and whether it kept to what the builder fixed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TypeGuard

from bomplan.audit.purchases import broken_buying, too_few
from bomplan.design.assemble import Bill
from bomplan.design.bill.rule import at_most, same
from bomplan.design.context import Context
from bomplan.design.curve_records import Curves
from bomplan.design.drive import Drive
from bomplan.design.driving import Driving
from bomplan.design.figures import mass_record
from bomplan.design.record import Record
from bomplan.design.records import Check, Mass, Performance, Plan
from bomplan.design.supply import supply_record
from bomplan.source import computed, given

COUNTED = computed("counted again from the plan's own lines")
# Driving figures of a plan may come from an older version's physics; more than this is a slip.
DRIVING_TOLERANCE = 0.01
# Two of the last digits of the finest of them, a grade.
SMALLEST = 0.002
NAMED = ("range_km", "energy_wh_per_km", "top_speed_kmh", "gradeability", "charge_v")
_OF_A_RANGE = re.compile(r"ranges\[\d+\]\.range_km")
_LAST_INDEX = re.compile(r"\[\d+\]$")


def statement_checks(
    context: Context,
    drive: Drive,
    plan: Plan,
    bill: Bill,
    counted: Performance,
    driving: Driving,
) -> Iterator[Check]:
    """Masses, couplers, money and driving figures as stated against those counted again."""
    yield same(
        "audit.mass-record",
        "base, added and laden masses, axle loads and limits are those of the lines",
        plan.mass == _as_stated(mass_record(context, bill), plan.mass),
        COUNTED,
    )
    yield same(
        "audit.couplers",
        "mass, resistance and 12 V load that the simulation reads are those of the lines",
        plan.couplers == bill.couplers,
        COUNTED,
    )
    # Plans of older versions hold no such record, and so nothing that may be wrong.
    supply = supply_record(context, bill)
    apart = [] if plan.supply_12v is None else list(_leaf_slips(plan.supply_12v, supply))
    yield at_most(
        "audit.supply-12v",
        "figures of the 12 V side that differ by more than 1 % from those of lines and project"
        + (f": {', '.join(apart[:6])}" if apart else ""),
        len(apart),
        0,
        "figures",
        COUNTED,
    )
    yield same(
        "audit.currency",
        f"the plan counts in {plan.currency}, its project in {context.project.currency}",
        plan.currency == context.project.currency,
        COUNTED,
    )
    wrong = [*_driving_slips(plan.performance, counted), *_other_slips(plan.performance, counted)]
    yield at_most(
        "audit.performance",
        "driving figures that differ by more than 1 %"
        + (f": {', '.join(wrong[:6])}" if wrong else ""),
        len(wrong),
        0,
        "figures",
        computed("simulated again"),
    )
    # Plans of older versions hold no such record, and so nothing that may be wrong.
    slips = [] if plan.driving is None else list(_record_slips(plan.driving, driving))
    yield at_most(
        "audit.driving",
        "answers of the driving record that differ by more than 1 %"
        + (f": {', '.join(slips[:6])}" if slips else ""),
        len(slips),
        0,
        "figures",
        computed("simulated again"),
    )
    broken = list(_broken_choices(context, drive, plan, bill))
    yield at_most(
        "audit.choices",
        "choices of the builder that the plan does not keep to"
        + (f": {', '.join(broken)}" if broken else ""),
        len(broken),
        0,
        "choices",
        given("project"),
    )


def _as_stated(counted: Mass, stated: Mass | None) -> Mass:
    """Without the weighing where the plan is older than that: there is nothing to compare."""
    if stated is None or stated.weights is not None:
        return counted
    return counted.model_copy(update={"weights": None})


def _driving_slips(stated: Performance | None, counted: Performance) -> Iterator[str]:
    if stated is None:
        yield "all of them"
        return
    pairs = [(name, getattr(stated, name), getattr(counted, name)) for name in NAMED]
    if len(stated.ranges) != len(counted.ranges):
        yield "number of ranges"
        return
    pairs += [
        (f"range of {one.target}", one.range_km, other.range_km)
        for one, other in zip(stated.ranges, counted.ranges, strict=True)
    ]
    for name, mine, theirs in pairs:
        if abs(mine - theirs) > DRIVING_TOLERANCE * max(abs(mine), abs(theirs)):
            yield name


def _other_slips(stated: Performance | None, counted: Performance) -> Iterator[str]:
    """Paths of every other driving figure that is stated and not found again.

    A plan of an older version lacks some: there is nothing in them that may be wrong.
    """
    if stated is None or len(stated.ranges) != len(counted.ranges):
        return
    lacking = [path for path, value in _leaves("", stated.model_dump()) if value is None]
    for path in _leaf_slips(stated, counted):
        named = path in NAMED or _OF_A_RANGE.fullmatch(path)
        if not named and not any(f"{path}.".startswith(f"{one}.") for one in lacking):
            yield path


def _record_slips(stated: Driving, counted: Driving) -> Iterator[str]:
    """Paths of the figures and words that are not those found again."""
    yield from _curve_slips(stated.curves, counted.curves)
    yield from _leaf_slips(*(one.model_copy(update={"curves": None}) for one in (stated, counted)))


def _leaf_slips(stated: Record, counted: Record) -> Iterator[str]:
    """The same of any record."""
    mine, theirs = dict(_leaves("", stated.model_dump())), dict(_leaves("", counted.model_dump()))
    for path in sorted(mine.keys() | theirs.keys()):
        one, other = mine.get(path), theirs.get(path)
        if _is_number(one) and _is_number(other):
            if abs(one - other) > max(DRIVING_TOLERANCE * max(abs(one), abs(other)), SMALLEST):
                yield path
        elif one != other:
            yield path


def _curve_slips(stated: Curves | None, counted: Curves | None) -> Iterator[str]:
    """Curves that lie apart by more than 1 % of their greatest figure, or tell of other things.

    Plans of older versions hold none, and so nothing that may be wrong.
    """
    if stated is None:
        return
    mine, theirs = ({} if one is None else _series(one.model_dump()) for one in (stated, counted))
    for path in sorted(mine.keys() | theirs.keys()):
        one, other = mine.get(path, []), theirs.get(path, [])
        numbers = [value for value in (*one, *other) if _is_number(value)]
        most = max((abs(value) for value in numbers), default=0.0)
        same = len(one) == len(other) and all(
            abs(a - b) <= max(DRIVING_TOLERANCE * most, SMALLEST)
            if _is_number(a) and _is_number(b)
            else a == b
            for a, b in zip(one, other, strict=True)
        )
        if not same:
            yield f"curves.{path}"


def _series(data: object) -> dict[str, list[object]]:
    """The figures of each curve under its path."""
    found: dict[str, list[object]] = {}
    for path, value in _leaves("", data):
        found.setdefault(_LAST_INDEX.sub("", path), []).append(value)
    return found


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _leaves(path: str, value: object) -> Iterator[tuple[str, object]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(f"{path}.{key}" if path else key, inner)
    elif isinstance(value, (list, tuple)):
        for index, inner in enumerate(value):
            yield from _leaves(f"{path}[{index}]", inner)
    else:
        yield path, value


def _broken_choices(context: Context, drive: Drive, plan: Plan, bill: Bill) -> Iterator[str]:
    choices, core = context.project.choices, drive.core
    for name in ("motor", "controller", "module", "series", "parallel", "topology"):
        wanted = getattr(choices, name)
        if wanted is not None and wanted != getattr(core, name):
            yield f"{name} = {wanted}"
    if choices.parallel is None and core.parallel > choices.parallel_max:
        yield f"at most {choices.parallel_max} in parallel"
    if choices.chemistries and drive.module.text("chemistry") not in choices.chemistries:
        yield f"chemistry {drive.module.text('chemistry')}"
    if choices.bays_max is not None and len(plan.placement) > choices.bays_max:
        yield f"at most {choices.bays_max} bays"
    own_gears = drive.motor.text("mount") == "axle"
    if not own_gears and core.final_ratio not in context.project.donor.driveline.final_ratios:
        yield f"final ratio {core.final_ratio:g}"
    for line in plan.lines:
        locked = choices.parts.get(line.family)
        if locked is not None and line.part != locked:
            yield f"{line.family} = {locked}"
        named = line.part in (choices.motor, choices.controller, choices.module)
        if line.part in choices.excluded and line.part != locked and not named:
            yield f"without {line.part}"
    yield from too_few(context, bill)
    yield from broken_buying(context, plan)
