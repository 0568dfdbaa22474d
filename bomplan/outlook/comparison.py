"""Plans side by side: each row the cheapest plan of its own project, proven, and its years.

A row without a plan carries the words of its refusal and, where asked for, which requirements
clash in it and how far each would have to give.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from bomplan.buying.lifetime import depth_of_discharge, lifetime_cost, pack_life
from bomplan.design.adapter import Simulator
from bomplan.design.comparison import BaySpace, Compared, Comparison, LifeCost, YearsOfUse
from bomplan.design.context import Context, room_mm3
from bomplan.design.drive import resolve
from bomplan.design.driving import RangeState
from bomplan.design.driving_figures import kilometres
from bomplan.design.pack_life import (
    driven,
    energy_price,
    pack_price,
    usual_target,
    wear_of,
    window_of,
)
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Plan, Stand
from bomplan.errors import Fault, InputError
from bomplan.money import currency_decimals
from bomplan.outlook.bounding import most_that_fits, pack_wh
from bomplan.outlook.clash import find_clash
from bomplan.outlook.headline import headline
from bomplan.outlook.narrowed import Candidate, Candidates
from bomplan.outlook.solving import Solver
from bomplan.project.records import Project, RangeTarget
from bomplan.requirements.cautions import DEFER

COLD_C: Final = -10.0


def compare(wanted: Candidates, solver: Solver, *, why: bool = False) -> Comparison:
    """The cheapest plan of every candidate, side by side.

    ``why`` looks further into a row without a plan: which requirements clash in it, at the
    price of some dozens of searches. Raises InputError where sums cannot be compared.
    """
    rows = wanted.rows
    _comparable(rows)
    plans = solver.plans_of([(one.project, one.catalog) for one in rows])
    compared = [_row(one, plan, solver, why=why) for one, plan in zip(rows, plans, strict=True)]
    common = _common_cautions([plan for plan in plans if plan.core is not None])
    return Comparison(
        currency=rows[0].project.currency,
        by=wanted.by,
        words=wanted.words,
        rows=tuple(
            one.model_copy(
                update={"cautions": tuple(word for word in one.cautions if word not in common)}
            )
            for one in compared
        ),
        use=_use(rows[0].project),
        notes=(*wanted.notes, *_notes(wanted)),
        cautions=common,
    )


def compared_plan(label: str, plan: Plan, adopt: str = "") -> Compared:
    """The row of a plan that chose something."""
    assert plan.core is not None
    context = Context(project_of(plan), catalog_of(plan))
    target = usual_target(context.project)
    module = context.catalog.family("module")[plan.core.module]
    new, worn = (_state(plan, target, name) for name in ("new", "worn"))
    return Compared(
        label=label,
        adopt=adopt,
        outcome="plan",
        plan=headline(plan),
        bays=_bays(context.project, plan),
        room_share=_room_share(context.project, plan),
        pack_kwh=round(pack_wh(module, plan.core.modules) / 1000, 2),
        asked_km=target.distance_m / 1000,
        range_new_km=new.range_km,
        range_worn_km=worn.range_km,
        range_cold_km=_cold_range_km(context, plan, target),
        life=life_cost(context, plan, new),
        cautions=plan.cautions,
    )


def life_cost(context: Context, plan: Plan, new: RangeState) -> LifeCost | None:
    """What a plan costs over the years of use; ``new`` is its everyday drive on a new pack.

    None where the car cannot follow that drive at all.
    """
    project, core = context.project, plan.core
    assert core is not None
    module = context.catalog.family("module")[core.module]
    wear, usual, target = wear_of(module), driven(project), usual_target(project)
    range_m = round(new.range_km * 1000)
    if range_m <= 0:
        return None
    depth = depth_of_discharge(
        usual.between_charges_m, range_m, window_of(module), Fraction(str(target.reserve))
    )
    life = pack_life(wear, usual, range_m, depth)
    price, new_pack = energy_price(project), pack_price(context, module, core.modules)
    cost = lifetime_cost(
        headline(plan).price,
        new_pack or 0,
        usual,
        life,
        Fraction(str(new.wall_wh_per_km)),
        price or Fraction(0),
    )
    return LifeCost(
        depth=round(float(depth), 4),
        cycles_depth=float(wear.cycles_depth),
        cycles=int(life.cycles),
        cycle_years=_tenths_down(life.cycle_years),
        calendar_years=float(wear.calendar_years),
        pack_years=_tenths_down(life.years),
        ended_by=life.ended_by,
        packs=cost.packs,
        pack_price=new_pack or 0,
        purchase=cost.purchase,
        energy=None if price is None else _nearest(cost.energy),
        replacements=cost.replacements,
        total=_nearest(cost.total),
        per_100_km=_nearest(cost.per_100_km),
        wall_wh_per_km=new.wall_wh_per_km,
    )


def _row(one: Candidate, plan: Plan, solver: Solver, *, why: bool) -> Compared:
    if plan.core is not None:
        return compared_plan(one.label, plan, one.adopt)
    if plan.status != "none":
        return Compared(label=one.label, adopt=one.adopt, outcome="unknown", reasons=plan.reasons)
    clash = None
    if why:
        clash = find_clash(one.project, solver.with_catalog(one.catalog), one.hard, parts=False)
    return Compared(
        label=one.label,
        adopt=one.adopt,
        outcome="none",
        reasons=plan.reasons,
        most=most_that_fits(one.project, one.catalog),
        clash=clash,
    )


def _state(plan: Plan, target: RangeTarget, name: str) -> RangeState:
    assert plan.driving is not None
    return next(
        one for one in plan.driving.ranges if (one.target, one.state) == (target.name, name)
    )


def _cold_range_km(context: Context, plan: Plan, target: RangeTarget) -> float:
    """The everyday drive at -10 °C on a new pack, with the most heating that is declared."""
    assert plan.core is not None
    assert plan.couplers is not None
    own = context.condition(target.condition)
    heater_w = max(one.heater_w for one in context.project.conditions)
    cold = own.model_copy(update={"temperature_c": COLD_C, "aged": False, "heater_w": heater_w})
    simulator = Simulator(context, resolve(context, plan.core))
    answer = simulator.range_in(target, cold, plan.couplers)
    return kilometres(answer.distance_m) if answer.followed else 0.0


def _bays(project: Project, plan: Plan) -> tuple[BaySpace, ...]:
    rooms = {bay.name: room_mm3(bay) for bay in project.bays}
    return tuple(
        BaySpace(
            bay=use.bay,
            modules=use.modules,
            share=round(_modules_mm3(use.stands) / rooms[use.bay], 3),
        )
        for use in plan.placement
    )


def _room_share(project: Project, plan: Plan) -> float:
    room = sum(room_mm3(bay) for bay in project.bays)
    return round(sum(_modules_mm3(use.stands) for use in plan.placement) / room, 3)


def _modules_mm3(stands: Sequence[Stand]) -> int:
    return sum(one.length_mm * one.width_mm * one.height_mm for one in stands)


def _use(project: Project) -> YearsOfUse:
    use, target, usual = project.use, usual_target(project), driven(project)
    price = energy_price(project)
    assumed = [
        words
        for words, told in (
            ("distance_a_year", "distance_a_year_m" in use.model_fields_set),
            ("years", "years" in use.model_fields_set),
            ("electricity_price", use.electricity_price is not None),
            ("between_charges", use.between_charges_m is not None),
        )
        if not told
    ]
    shown = "not known"
    if price is not None:
        decimals = currency_decimals(project.currency)
        shown = f"{float(price) / 10**decimals:.{decimals}f} {project.currency}"
    return YearsOfUse(
        distance_a_year_km=use.distance_a_year_m / 1000,
        years=use.years,
        between_charges_km=usual.between_charges_m / 1000,
        target=target.name,
        asked_km=target.distance_m / 1000,
        least_nominal_v=project.targets.pack_voltage_min_v,
        electricity=shown,
        assumed=tuple(assumed),
    )


def _notes(wanted: Candidates) -> tuple[str, ...]:
    """That the rows do not count the years of use alike, and by which words they differ."""
    uses = [_use(one.project) for one in wanted.rows]
    apart = [
        words
        for words, differ in (
            ("the distance a year", {one.distance_a_year_km for one in uses}),
            ("the number of years", {one.years for one in uses}),
            ("how far between charges", {one.between_charges_km for one in uses}),
            ("the everyday drive", {(one.target, one.asked_km) for one in uses}),
            ("the price of electricity", {one.electricity for one in uses}),
        )
        if len(differ) > 1
    ]
    if not apart:
        return ()
    of = {"project": "from project to project", "scenario": "from scenario to scenario"}
    return (
        f"{of.get(wanted.by, 'from row to row')} other things are reckoned with:"
        f" {', '.join(apart)}; what stands above is the first row's, each row goes by its own",
    )


def _common_cautions(plans: Sequence[Plan]) -> tuple[str, ...]:
    """Those that every plan has; the last word stays the last word."""
    if not plans:
        return (DEFER,)
    return tuple(
        word for word in plans[0].cautions if all(word in other.cautions for other in plans)
    )


def _comparable(rows: Sequence[Candidate]) -> None:
    if not rows:
        raise InputError(
            [
                Fault(
                    "compare.nothing",
                    "there is nothing to compare",
                    hint="the project's own choices leave no row; look at its [choices]",
                )
            ]
        )
    currencies = sorted({one.project.currency for one in rows})
    if len(currencies) > 1:
        raise InputError(
            [
                Fault(
                    "compare.currencies",
                    "the projects count in different currencies",
                    where="currency",
                    value=", ".join(currencies),
                    allowed="one currency",
                    hint="give them the same currency and the rates that it takes",
                )
            ]
        )


def _nearest(amount: Fraction) -> int:
    """Smallest units, halves up."""
    return int(amount + Fraction(1, 2))


def _tenths_down(years: Fraction) -> float:
    return int(years * 10) / 10
