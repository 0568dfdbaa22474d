"""Which part figures would be needed where the catalogue is the cause that there is no plan.

Two questions. Does a family lack a row that suits, while all others have one? Then the row that
comes nearest is moved until it passes (:mod:`bomplan.outlook.mending`). Or does what drives and
carries the car fall short: modules too large or too heavy for their energy, motors too weak,
controllers for another voltage? Then the rows of that family are made better by one factor,
as little as it takes. In either case the answer is tried: the project is planned again with such
a row in the catalogue, and only where that gives a plan the figures are said to suffice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from bomplan.catalog.columns import schema
from bomplan.catalog.records import Catalog, Pair, Part
from bomplan.design.assemble import needed_rules
from bomplan.design.bill import DesignCurrents, Rule
from bomplan.design.bill.fits import row_checks
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive, pack_figures
from bomplan.design.records import Check, Plan
from bomplan.design.studies import FigureNeeded, PartNeeded
from bomplan.outlook.mending import Mended, differences, mended, rounded
from bomplan.outlook.solving import Solver
from bomplan.planner.judge import Judge, candidates
from bomplan.planner.screen import DriveRow, Packs, Screened, core_of, drives, matching, packs
from bomplan.project.records import Project
from bomplan.requirements.core import core_checks

CORE: Final = ("motor", "controller", "module")
LOOKED_AT: Final = 240  # cores whose families are looked at
OF_A_DRIVE: Final = 12  # of them with one drive
ROWS: Final = 12  # rows of a family that are tried to be moved
FAMILIES: Final = 3  # families that may lack a row at once
FACTORS: Final = (1.15, 1.35, 1.7, 2.2, 3.0, 4.5, 7.0)
_NEEDED: Final = "needed-"  # before the id of a row that was moved
NEAR: Final = 1.02  # a factor is settled to two parts in a hundred


def parts_needed(asked: Project, lifted: Project, solver: Solver) -> tuple[PartNeeded, ...]:
    """What the catalogue lacks: for the project as asked if that can be, else for ``lifted``."""
    for project, as_asked in ((asked, True), (lifted, False)):
        found = _rows_lacking(project, solver, as_asked=as_asked)
        if found and found[0].sufficient:
            return found
    better = better_parts(asked, solver)
    if better:
        return better
    given_up = [_stretched(stretch, lifted, solver) for stretch in STRETCHES]
    return tuple(one for one in given_up if one is not None) or found


def better_parts(asked: Project, solver: Solver) -> tuple[PartNeeded, ...]:
    """Which better part would do all by itself, every requirement as asked."""
    found = [_stretched(stretch, asked, solver, as_asked=True) for stretch in STRETCHES]
    return tuple(one for one in found if one is not None)


# -- a family that lacks a row -----------------------------------------------------------


def _rows_lacking(project: Project, solver: Solver, *, as_asked: bool) -> tuple[PartNeeded, ...]:
    """Rows that are lacking, family by family, until there is a plan or nothing more is found."""
    catalog = solver.catalog
    lacking: list[_Lack] = []
    plan: Plan | None = None
    while len(lacking) < FAMILIES:
        lack = _nearest_lack(Context(project, catalog))
        if lack is None or lack.family in {one.family for one in lacking}:
            break
        lacking.append(lack)
        # Every row that can be moved is offered: the plan takes the one that does.
        catalog = with_parts(
            catalog,
            [one.part.model_copy(update={"id": f"{_NEEDED}{one.part.id}"}) for one in lack.rows],
        )
        plan = solver.some(project, catalog)
        if plan.core is not None:
            break
    sufficient = plan is not None and plan.core is not None
    taken = {} if plan is None else {line.family: line.part for line in plan.lines}
    found = []
    for lack in lacking:
        name = taken.get(lack.family, "")
        # A row that the catalogue has is taken where another family's was what was lacking.
        if sufficient and not name.startswith(_NEEDED):
            continue
        one = next((one for one in lack.rows if f"{_NEEDED}{one.part.id}" == name), lack.rows[0])
        found.append(
            PartNeeded(
                family=lack.family,
                title=schema()[lack.family].title,
                like=one.part.id,
                figures=differences(solver.catalog.family(lack.family)[one.part.id], one.part),
                sufficient=sufficient,
                as_asked=sufficient and as_asked,
                together=True,
                instead="" if plan is None else core_words(plan),
                because=lack.because,
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class _Lack:
    """A family without a row that suits one core, and its rows moved, the nearest first."""

    family: str
    rows: tuple[Mended, ...]
    because: str

    @property
    def moved(self) -> float:
        """How far the nearest was moved."""
        return self.rows[0].moved


def _nearest_lack(context: Context) -> _Lack | None:
    """Of the cores that lack one family only, the one whose row needs the least moving.

    None where some core lacks none by its parts alone, or all that were looked at lack several.
    """
    judge = Judge(context)
    lacking: dict[str, list[tuple[Drive, Rule]]] = {}
    for drive in _cores(context):
        if any(not check.passed for check in core_checks(context, drive)):
            continue
        currents = no_mean_current(context, drive)
        without = [
            rule
            for rule in needed_rules(context, drive)
            if rule.family not in CORE and not judge.suiting(rule, drive, currents).parts
        ]
        if not without:
            return None  # this one lacks no part, so that something else is the cause
        if len(without) == 1:
            lacking.setdefault(without[0].family, []).append((drive, without[0]))
    found: list[_Lack] = []
    for _family, cores in sorted(lacking.items()):
        seen: set[tuple[object, ...]] = set()
        for drive, rule in cores:
            figures = drive.figures
            key = (figures.charge_v, figures.nominal_v, drive.motor.id, drive.controller.id)
            if key in seen or len(seen) >= ROWS:
                continue
            seen.add(key)
            best = _mended_rows(context, drive, no_mean_current(context, drive), rule)
            if best is not None:
                found.append(best)
    return min(found, key=lambda one: (one.moved, one.family, one.rows[0].part.id), default=None)


def _mended_rows(
    context: Context, drive: Drive, currents: DesignCurrents, rule: Rule
) -> _Lack | None:
    rows = candidates(context, rule)

    def judged(part: Part) -> list[Check]:
        return list(row_checks(context, drive, currents, rule, part))

    nearest = sorted(rows, key=lambda row: (_misses(judged(row)), row.id))[:ROWS]
    found = [one for row in nearest if (one := mended(row, judged, rows)) is not None]
    if not found:
        return None
    found.sort(key=lambda one: (one.moved, one.part.id))
    row = context.catalog.family(rule.family)[found[0].part.id]
    failed = next((one.words for one in judged(row) if not one.passed), "")
    return _Lack(rule.family, tuple(found), failed)


def _misses(checks: list[Check]) -> float:
    """How far a row is from passing: shares by which its failed checks miss, added up."""
    missed = 0.0
    for check in checks:
        if not check.passed:
            limit = abs(check.limit)
            missed += 1 + (min(1.0, -check.margin / limit) if limit else 1.0)
    return missed


def _cores(context: Context) -> Iterator[Drive]:
    """Cores whose voltages fit, some of every drive, from small to large."""
    seen = Screened()
    rows, found = drives(context, seen), packs(context, seen)
    if not found.rows or not rows:
        return
    each = max(1, min(OF_A_DRIVE, LOOKED_AT // len(rows) + 1))
    number = 0
    for row in rows:
        fit = matching(row, found, 1 + context.project.margins.voltage)
        if not len(fit):
            continue
        places = np.unique(np.linspace(0, len(fit) - 1, each).round().astype(np.int64))
        for place in places.tolist():
            yield _drive(row, found, int(fit[place]))
            number += 1
            if number >= LOOKED_AT:
                return


def _drive(row: DriveRow, found: Packs, pack: int) -> Drive:
    module, series, parallel, _ = found.rows[pack]
    return Drive(
        core_of(row, found, pack),
        row.motor,
        row.controller,
        row.pair,
        module,
        pack_figures(module, series, parallel),
    )


# -- what drives and carries the car -----------------------------------------------------


@dataclass(frozen=True)
class Stretch:
    """One family made better by a factor; ``told`` the figures of a plan's row before and after."""

    family: str
    because: str
    apply: Callable[[Catalog, float], Catalog]
    told: Callable[[Catalog, Catalog, Plan], tuple[str, tuple[FigureNeeded, ...]]]
    alone: Callable[[Catalog, Plan], Catalog]


def _stretched(
    stretch: Stretch, project: Project, solver: Solver, *, as_asked: bool = False
) -> PartNeeded | None:
    """The least factor with which there is a plan; None if even the greatest does not help."""
    catalog = solver.catalog
    plan: Plan | None = None
    fails = works = 1.0
    # Upwards: far too much need not do where less does (a pack that no charger fills in time).
    for factor in FACTORS:
        found = solver.some(project, stretch.apply(catalog, factor))
        if found.core is not None:
            plan, works = found, factor
            break
        fails = factor
    if plan is None:
        return None
    # From here on with the row of that plan alone: what suffices for it suffices.
    own = stretch.alone(catalog, plan)
    while works / fails > NEAR:
        middle = (works * fails) ** 0.5
        found = solver.some(project, stretch.apply(own, middle))
        if found.core is not None:
            plan, works = found, middle
        else:
            fails = middle
    like, figures = stretch.told(catalog, stretch.apply(own, works), plan)
    return PartNeeded(
        family=stretch.family,
        title=schema()[stretch.family].title,
        like=like,
        figures=figures,
        sufficient=True,
        as_asked=as_asked,
        instead=core_words(plan),
        because=stretch.because,
    )


def with_parts(catalog: Catalog, parts: list[Part]) -> Catalog:
    """The catalogue with more rows; those of an id that it has take its place."""
    families = {name: dict(rows) for name, rows in catalog.families.items()}
    for part in parts:
        families.setdefault(part.family, {})[part.id] = part
    return catalog.model_copy(update={"families": families})


def _scaled(part: Part, columns: tuple[str, ...], factor: float) -> Part:
    """Figures times a factor, rounded to its better side; what the row leaves blank stays so."""
    figures = dict(part.figures)
    for column in columns:
        if part.has(column):
            figures[column] = rounded(part.number(column) * factor, factor > 1)
    return part.model_copy(update={"figures": figures})


_AMPERES: Final = (
    "capacity_ah", "capacity_1h_ah", "discharge_continuous_a", "discharge_10s_a",
    "charge_continuous_a", "charge_10s_a",
)  # fmt: skip
_OHMS: Final = ("resistance_dc_mohm", "resistance_ac_mohm")


def _denser(catalog: Catalog, factor: float) -> Catalog:
    """Every module with more capacity at the same size and mass, its currents with it."""
    return with_parts(
        catalog,
        [
            _scaled(_scaled(part, _AMPERES, factor), _OHMS, 1 / factor)
            for part in catalog.family("module").values()
        ],
    )


def _one_module(catalog: Catalog, plan: Plan) -> Catalog:
    assert plan.core is not None
    rows = {plan.core.module: catalog.family("module")[plan.core.module]}
    return catalog.model_copy(update={"families": {**catalog.families, "module": rows}})


def _density_told(
    before: Catalog, after: Catalog, plan: Plan
) -> tuple[str, tuple[FigureNeeded, ...]]:
    assert plan.core is not None
    has, needs = (one.family("module")[plan.core.module] for one in (before, after))
    return has.id, (
        _figure("energy by volume", "Wh/l", by_litre(needs), by_litre(has)),
        _figure("energy by mass", "Wh/kg", by_kilogram(needs), by_kilogram(has)),
    )


def _figure(words: str, unit: str, needed: float, has: float) -> FigureNeeded:
    return FigureNeeded(
        column="", words=words, unit=unit, sense="at least",
        needed=rounded(needed, True), has=rounded(has, False),
    )  # fmt: skip


def module_wh(part: Part) -> float:
    """What a module holds when new, by its nominal voltage."""
    volts = part.number("cells_series") * part.number("cell_v_nominal")
    return volts * part.number("capacity_ah")


def by_litre(part: Part) -> float:
    """Energy by the module's outer volume [Wh/l]."""
    sides = (part.length_mm or 1) * (part.width_mm or 1) * (part.height_mm or 1)
    return module_wh(part) / sides * 1e6


def by_kilogram(part: Part) -> float:
    """Energy by the module's mass [Wh/kg]."""
    return module_wh(part) / part.mass_g * 1000


_PAIR_POWER: Final = (
    "peak_torque_nm", "peak_kw", "hour_kw", "continuous_kw", "regeneration_torque_nm",
)  # fmt: skip
_MOTOR_POWER: Final = ("continuous_kw", "hour_kw", "continuous_a", "hour_a", "five_minute_a")
_CONTROLLER_POWER: Final = (
    "battery_a_max", "motor_a_peak", "motor_a_hour", "motor_a_continuous",
)  # fmt: skip


def _stronger(catalog: Catalog, factor: float) -> Catalog:
    """Every motor and controller with more of what they are rated for, their losses not."""
    parts = [
        _scaled(
            _scaled(part, _MOTOR_POWER, factor),
            ("copper_w_per_nm2", "resistance_hot_mohm"),
            1 / factor,
        )
        for part in catalog.family("motor").values()
    ]
    parts += [
        _scaled(_scaled(part, _CONTROLLER_POWER, factor), ("loss_mohm",), 1 / factor)
        for part in catalog.family("controller").values()
    ]
    pairs = [_stronger_pair(pair, factor) for pair in catalog.pairs]
    return with_parts(catalog, parts).model_copy(update={"pairs": tuple(pairs)})


def _stronger_pair(pair: Pair, factor: float) -> Pair:
    update = {
        name: rounded(value * factor, True)
        for name in _PAIR_POWER
        if (value := getattr(pair, name)) is not None
    }
    return pair.model_copy(update=update)


def _wider(catalog: Catalog, factor: float) -> Catalog:
    """Every controller for lower and for higher voltages, and its pairs too."""
    parts = [
        _scaled(_scaled(part, ("v_max_abs",), factor), ("v_min",), 1 / factor)
        for part in catalog.family("controller").values()
    ]
    pairs = [
        pair.model_copy(update={"v_min": pair.v_min / factor, "v_max": pair.v_max * factor})
        for pair in catalog.pairs
    ]
    return with_parts(catalog, parts).model_copy(update={"pairs": tuple(pairs)})


def _one_drive(catalog: Catalog, plan: Plan) -> Catalog:
    assert plan.core is not None
    families = {
        **catalog.families,
        "motor": {plan.core.motor: catalog.family("motor")[plan.core.motor]},
        "controller": {plan.core.controller: catalog.family("controller")[plan.core.controller]},
    }
    chosen = (plan.core.motor, plan.core.controller)
    pairs = tuple(one for one in catalog.pairs if (one.motor, one.controller) == chosen)
    return catalog.model_copy(update={"families": families, "pairs": pairs})


def _power_told(
    before: Catalog, after: Catalog, plan: Plan
) -> tuple[str, tuple[FigureNeeded, ...]]:
    assert plan.core is not None
    motor, controller = plan.core.motor, plan.core.controller
    figures = list(differences(before.family("motor")[motor], after.family("motor")[motor]))
    figures += differences(
        before.family("controller")[controller], after.family("controller")[controller]
    )
    had, has = (
        next(
            (one for one in catalog.pairs if (one.motor, one.controller) == (motor, controller)),
            None,
        )
        for catalog in (before, after)
    )
    for name, words, unit in (
        ("peak_torque_nm", "peak torque of the pair", "N m"),
        ("peak_kw", "peak power of the pair", "kW"),
    ):
        old, new = getattr(had, name, None), getattr(has, name, None)
        if old is not None and new is not None and old != new:
            figures.append(
                FigureNeeded(column=name, words=words, unit=unit, sense="at least",
                             needed=new, has=old)
            )  # fmt: skip
    return f"{motor} with {controller}", tuple(figures)


def _voltage_told(
    before: Catalog, after: Catalog, plan: Plan
) -> tuple[str, tuple[FigureNeeded, ...]]:
    assert plan.core is not None
    name = plan.core.controller
    return name, differences(before.family("controller")[name], after.family("controller")[name])


STRETCHES: Final = (
    Stretch(
        "module",
        "more energy in the same room and at the same mass",
        _denser,
        _density_told,
        _one_module,
    ),
    Stretch("motor", "more torque, power and current", _stronger, _power_told, _one_drive),
    Stretch("controller", "another voltage", _wider, _voltage_told, _one_drive),
)


def core_words(plan: Plan) -> str:
    """The core of a plan in a few words; blank where it chose nothing."""
    core = plan.core
    if core is None:
        return ""
    return f"{core.motor}, {core.controller}, {core.series} x {core.parallel} {core.module}"
