"""Scale readings against the plan: where a difference must sit, and the limits made anew.

The plan says what the car should weigh in the state in which it stood on the scales. What is
more or less than that is mass and moment that the plan does not know of: it is carried to the
finished car, and every mass limit is judged again, now with the spread of this weighing in
place of the margin that was kept for want of one.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Final

from bomplan.buying.terms import CHARGES
from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Check, Line, Plan
from bomplan.errors import Fault, InputError
from bomplan.measure.readings import Reading, Some
from bomplan.project.chassis import MassAt
from bomplan.requirements.loads import MassRow, mass_rows
from bomplan.source import given
from bomplan.weighing import (
    CornerLoads,
    CornerSums,
    PlacedMass,
    corner_loads_of,
    corner_sums,
    sums_of_readings,
)

SUSPECTS: Final = 3
FAR_OFF: Final = 4  # a mix-up of units, or of cars: common practice


@dataclass(frozen=True)
class Suspect:
    """Something that would explain the difference: it is in the car, or it is not."""

    words: str
    mass_g: int
    x_mm: int
    left_g: int


@dataclass(frozen=True)
class WeighIn:
    """One weighing against the plan.

    Loads in g. ``extra_g`` is what the car weighs above the plan, ``extra_x_mm`` where that
    must sit behind the front axle (None where the masses agree), ``extra_y_mm`` how far to
    the right (None without corners). ``agrees``: both axles within ``tolerance_g``, which is
    how far this weighing and the donor's own may be off together.
    """

    name: str
    spread_g: int
    tolerance_g: int
    expected_front_g: int
    expected_rear_g: int
    read_front_g: int
    read_rear_g: int
    expected_corners: CornerLoads | None
    read_corners_g: tuple[int, int, int, int] | None
    extra_g: int
    extra_x_mm: int | None
    extra_y_mm: int | None
    agrees: bool
    suspects: tuple[Suspect, ...]
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class _Item:
    """A mass that is in the car or not, with its exact sums (lateral ones are twice)."""

    name: str
    sums: CornerSums
    present: bool
    words: str


def weigh_in(
    plan: Plan, readings: Iterable[Reading], file: str, faults: Iterable[Fault] = ()
) -> tuple[WeighIn, ...]:
    """Every weighing against the plan.

    Raises InputError for names that the plan lacks, together with the ``faults`` that the file
    has by itself.
    """
    if plan.core is None or plan.mass is None:
        raise InputError(
            [
                Fault(
                    "readings.no-choice",
                    f"this plan holds no choice to weigh (status {plan.status})",
                    hint="weigh against a plan that bomplan plan found",
                )
            ]
        )
    context = Context(project_of(plan), catalog_of(plan))
    found, told = [], list(faults)
    # A figure that cannot be read makes every sum wrong: then only names are looked at.
    whole = not told
    for reading in readings:
        wrong = _unknown_names(context, plan, reading)
        if whole and not wrong:
            try:
                found.append(_weigh_in(context, plan, reading))
            except InputError as error:
                wrong = error.faults
        told += [Fault(f.code, f.message, file, f.where, f.value, f.allowed, f.hint) for f in wrong]
    if told:
        raise InputError(told)
    return tuple(found)


def _unknown_names(context: Context, plan: Plan, reading: Reading) -> Sequence[Fault]:
    """Every name of a reading that the plan does not have."""
    donor = context.project.donor
    faults = [
        _no_such(key, name, known, reading)
        for key, said, known in (
            ("removed", reading.removed, [item.name for item in donor.removed]),
            ("without", reading.without, [item.name for item in donor.kept]),
            ("added", reading.added, [item.name for item in donor.added]),
            ("fitted", reading.fitted, _fitted_names(plan)),
        )
        if not isinstance(said, str)
        for name in said
        if name not in known
    ]
    cases = [case.name for case in context.project.load_cases]
    if reading.corners_g is not None and 1 in donor.tyre_counts:
        axle = ("front", "rear")[donor.tyre_counts.index(1)]
        faults.append(
            Fault(
                "readings.corners",
                f"has four corners, and this plan's {axle} axle has one wheel",
                where=reading.name,
                allowed="front and rear only",
                hint="add up what stood on one axle",
            )
        )
    if reading.load_case and reading.load_case not in cases:
        faults.append(_no_such("load_case", reading.load_case, cases, reading))
    return faults


def _weigh_in(context: Context, plan: Plan, reading: Reading) -> WeighIn:
    length = context.wheelbase_mm
    items = list(_items(context, plan, reading))
    expected = _donor(context, reading)
    for item in items:
        if item.present:
            expected = expected.plus(item.sums)
    _believed(reading, expected.mass_g)
    real, sideways = _read(context, reading)
    extra = real.minus(expected)
    sides = sideways and context.base_corners is not None
    if not sides:
        extra = CornerSums(extra.mass_g, extra.moment_gmm, 0, 0)
    tolerance_g = reading.spread_g + context.project.donor.weighing.spread_g
    agrees = _worst(extra, length) <= tolerance_g
    tracks = context.tracks_mm
    return WeighIn(
        name=reading.name,
        spread_g=reading.spread_g,
        tolerance_g=tolerance_g,
        expected_front_g=round(expected.mass_g - Fraction(expected.moment_gmm, length)),
        expected_rear_g=round(Fraction(expected.moment_gmm, length)),
        read_front_g=reading.front_g,
        read_rear_g=reading.rear_g,
        expected_corners=(
            corner_loads_of(expected, length, *tracks) if sides and tracks is not None else None
        ),
        read_corners_g=reading.corners_g,
        extra_g=extra.mass_g,
        extra_x_mm=round(Fraction(extra.moment_gmm, extra.mass_g)) if extra.mass_g else None,
        extra_y_mm=(
            round(Fraction(extra.lateral_gmm, 2 * extra.mass_g)) if sides and extra.mass_g else None
        ),
        agrees=agrees,
        suspects=() if agrees else _suspects(items, extra, length, tolerance_g),
        checks=tuple(_check(plan, row, extra, reading) for row in mass_rows(context)),
    )


def _believed(reading: Reading, expected_g: int) -> None:
    """Raises InputError for figures that no scale under this car has shown.

    They would pass every limit, or fail every one, and say nothing of the car.
    """
    faults = []
    total_g = reading.front_g + reading.rear_g
    for axle, read_g in (("front", reading.front_g), ("rear", reading.rear_g)):
        if read_g <= 0:
            faults.append(
                Fault(
                    "readings.nothing",
                    "reads nothing: a car that stands carries something on every axle",
                    where=f"{reading.name}, {axle}",
                    value="0 kg",
                    hint="weigh again with both axles on the ground, at one height",
                )
            )
    if not faults and not expected_g <= FAR_OFF * total_g <= FAR_OFF**2 * expected_g:
        faults.append(
            Fault(
                "readings.far-off",
                "is so far from the plan that no build explains it",
                where=reading.name,
                value=f"{total_g / 1000:g} kg on both axles",
                allowed=f"{expected_g / 1000 / FAR_OFF:.0f} to {expected_g / 1000 * FAR_OFF:.0f} kg"
                f", a quarter to four times the {expected_g / 1000:.0f} kg of the plan",
                hint="look at the unit, at the length of the plank, and whether this is the"
                " plan's car",
            )
        )
    if 2 * reading.spread_g > max(total_g, expected_g):
        faults.append(
            Fault(
                "readings.spread",
                "is more than half the car: such scales say nothing",
                where=f"{reading.name}, spread",
                value=f"{reading.spread_g / 1000:g} kg",
                allowed=f"up to {max(total_g, expected_g) / 2000:.0f} kg",
                hint="it is how far one axle's reading may be off; left out: 10 kg",
            )
        )
    if faults:
        raise InputError(faults)


def _donor(context: Context, reading: Reading) -> CornerSums:
    """The donor as it was weighed, without people and fuel, with the fuel of this time."""
    donor, weighing = context.project.donor, context.project.donor.weighing
    length, tracks = donor.wheelbase_mm, context.tracks_mm
    corners = weighing.corners_g
    if corners is not None and tracks is not None:
        sums = sums_of_readings(corners, length, *tracks)
    else:
        sums = CornerSums(weighing.front_g + weighing.rear_g, weighing.rear_g * length, 0, 0)
    centre = round(Fraction(weighing.rear_g * length, weighing.front_g + weighing.rear_g))
    in_it = [
        PlacedMass(name, mass_g, centre if x_mm is None else x_mm, y_mm or 0)
        for name, mass_g, x_mm, y_mm in (
            ("fuel", weighing.fuel_g, weighing.fuel_x_mm, weighing.fuel_y_mm),
            ("people", weighing.people_g, weighing.people_x_mm, weighing.people_y_mm),
        )
    ]
    now = [PlacedMass("fuel", reading.fuel_g, reading.fuel_x_mm or 0, weighing.fuel_y_mm or 0)]
    return sums.minus(corner_sums(in_it)).plus(corner_sums([*now, *reading.aboard]))


def _items(context: Context, plan: Plan, reading: Reading) -> Iterator[_Item]:
    """Everything that may be in the car or not, each once, with what the reading says of it."""
    donor = context.project.donor
    out = _chosen(reading.removed, [item.name for item in donor.removed])
    for item in donor.removed:
        present = item.name not in out
        words = "is not in it any more" if present else "is still in it"
        # The donor as weighed holds it; taken out it counts below zero.
        minus = CornerSums(0, 0, 0, 0).minus(_sums(item))
        yield _Item(item.name, minus, not present, words)
    out = _chosen(reading.without, [item.name for item in donor.kept])
    for item in donor.kept:
        present = item.name not in out
        minus = CornerSums(0, 0, 0, 0).minus(_sums(item))
        words = "is not in it" if present else "is in it after all"
        yield _Item(item.name, minus, not present, words)
    own = _chosen(reading.added, [item.name for item in donor.added])
    for item in donor.added:
        yield _present(item.name, _sums(item), item.name in own)
    yield from _bought(plan, reading)
    for case in context.project.load_cases:
        for item in case.items if case.name == reading.load_case else ():
            yield _present(item.name, _sums(item), True)


def _bought(plan: Plan, reading: Reading) -> Iterator[_Item]:
    """Families of the bill; those that stand in several places also place by place."""
    lines, split = _lines(plan), _places(plan)
    fitted = _chosen(reading.fitted, _fitted_names(plan))
    for family, line in lines.items():
        whole = CornerSums(
            round(line.mass_kg * 1000), line.moment_gmm,
            2 * line.moment_y_gmm, 2 * line.moment_xy_gmm2,
        )  # fmt: skip
        places = split.get(family, [])
        if family in fitted or not any(name in fitted for name, _ in places):
            yield _present(family.replace("_", " "), whole, family in fitted)
            continue
        for name, sums in places:
            yield _present(name.replace("_", " "), sums, name in fitted)


def _lines(plan: Plan) -> dict[str, Line]:
    return {line.family: line for line in plan.lines if line.family not in CHARGES}


def _fitted_names(plan: Plan) -> list[str]:
    """What a reading may call fitted: families, and families by place."""
    return [*_lines(plan), *(name for places in _places(plan).values() for name, _ in places)]


def _places(plan: Plan) -> dict[str, list[tuple[str, CornerSums]]]:
    """What stands in each place of the families that stand in several."""
    split: dict[str, list[tuple[str, CornerSums]]] = {}
    weights = plan.mass.weights if plan.mass is not None else None
    for item in weights.items if weights is not None else ():
        if item.kind == "bought" and item.bay:
            mass_g = round(item.mass_kg * 1000)
            y_mm = item.y_mm or 0.0
            split.setdefault(item.what, []).append(
                (
                    f"{item.what} in {item.bay}",
                    CornerSums(
                        mass_g,
                        round(mass_g * item.x_mm),
                        round(2 * mass_g * y_mm),
                        round(2 * mass_g * item.x_mm * y_mm),
                    ),
                )
            )
    return split


def _present(name: str, sums: CornerSums, present: bool) -> _Item:
    return _Item(name, sums, present, "is not in it yet" if present else "is in it already")


def _sums(item: MassAt) -> CornerSums:
    return corner_sums([PlacedMass(item.name, item.mass_g, item.x_mm, item.y_mm or 0)])


def _chosen(said: Some, known: list[str]) -> frozenset[str]:
    if said == "all":
        return frozenset(known)
    return frozenset() if said == "none" else frozenset(said)


def _no_such(key: str, name: str, known: list[str], reading: Reading) -> Fault:
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    return Fault(
        "readings.no-such-name",
        "names something that the plan does not have",
        where=f"{reading.name}, {key}",
        value=name,
        allowed=", ".join(known) or "nothing: the plan has none",
        hint=f'did you mean "{near[0]}"?' if near else None,
    )


def _read(context: Context, reading: Reading) -> tuple[CornerSums, bool]:
    """The reading's sums, and whether they tell left from right."""
    length, tracks = context.wheelbase_mm, context.tracks_mm
    if reading.corners_g is not None and tracks is not None:
        return sums_of_readings(reading.corners_g, length, *tracks), True
    return CornerSums(reading.front_g + reading.rear_g, reading.rear_g * length, 0, 0), False


def _suspects(
    items: list[_Item], extra: CornerSums, length: int, tolerance_g: int
) -> tuple[Suspect, ...]:
    """What explains the difference if it were the other way, best first.

    It must bring both axles within the tolerance and halve the greater difference at least.
    """
    found = []
    unexplained = _worst(extra, length)
    for item in items:
        other = item.sums if not item.present else CornerSums(0, 0, 0, 0).minus(item.sums)
        left = extra.minus(other)
        worst = _worst(left, length)
        if item.sums.mass_g and worst <= min(Fraction(tolerance_g), unexplained / 2):
            x_mm = round(Fraction(item.sums.moment_gmm, item.sums.mass_g))
            found.append(
                Suspect(f"{item.name} {item.words}", abs(item.sums.mass_g), x_mm, round(worst))
            )
    found.sort(key=lambda one: (one.left_g, one.words))
    return tuple(found[:SUSPECTS])


def _worst(sums: CornerSums, length: int) -> Fraction:
    """The greater of both axles' differences, without its sign."""
    rear = Fraction(sums.moment_gmm, length)
    return max(abs(rear), abs(sums.mass_g - rear))


def _check(plan: Plan, row: MassRow, extra: CornerSums, reading: Reading) -> Check:
    """One mass limit of the finished car with what the scales found, spread included."""
    bought = [line for line in plan.lines if line.family not in CHARGES]
    value = row.value(
        sum(round(line.mass_kg * 1000) for line in bought),
        sum(line.moment_gmm for line in bought),
        sum(line.moment_y_gmm for line in bought),
        sum(line.moment_xy_gmm2 for line in bought),
    )
    # The rows' constants know nothing of what the scales found; lateral sums are twice.
    twice = 2 * (row.per_gram * extra.mass_g + row.per_gmm * extra.moment_gmm)
    twice += row.per_lateral * extra.lateral_gmm + row.per_cross * extra.cross_gmm2
    loaded = Fraction(2 * value + twice, 2 * row.divisor)
    words = f"{row.words}, as the scales found it"
    source = given(f"weighing: {reading.name}")
    if row.id.startswith("share."):
        return Check(
            id=f"weighed.{row.id}", words=words, value=round(float(loaded) / 1000, 3), limit=0.0,
            unit="kg over", sense="at most", passed=loaded <= 0, source=source.words,
            source_kind=source.kind,
        )  # fmt: skip
    # Both axles may be off, so a reading of the whole car has twice the spread of one.
    spread_g = reading.spread_g * (2 if row.id.startswith("mass.") else 1)
    limit_g = row.plate_g or row.limit // row.divisor
    return Check(
        id=f"weighed.{row.id}",
        words=f"{words}, with the spread of the scales",
        value=ceil(loaded + spread_g) / 1000,
        limit=limit_g / 1000,
        unit="kg",
        sense="at most",
        passed=loaded + spread_g <= limit_g,
        source=source.words,
        source_kind=source.kind,
        caution="an overloaded axle breaks wheels, tyres and the law",
    )
