"""A plan in one line of a table, and where one plan does better than another."""

from __future__ import annotations

from typing import Final

from bomplan.design.planfile import catalog_of
from bomplan.design.records import Plan
from bomplan.design.studies import Headline

# Figure, its words, unit, decimals, whether more is better, and from what difference on.
_COMPARED: Final[tuple[tuple[str, str, str, int, bool, float], ...]] = (
    ("range_km", "worst range", "km", 1, True, 0.1),
    ("rear_left_kg", "left on the rear axle", "kg", 0, True, 1.0),
    ("front_left_kg", "left on the front axle", "kg", 0, True, 1.0),
    ("laden_kg", "laden mass", "kg", 0, False, 1.0),
    ("usable_kwh", "usable energy", "kWh", 1, True, 0.1),
    ("top_speed_kmh", "top speed", "km/h", 0, True, 1.0),
    ("energy_wh_per_km", "energy from the pack", "Wh/km", 0, False, 1.0),
    ("charge_hours", "hours to charge", "h", 1, False, 0.1),
    ("own_hours", "hours of own work", "h", 0, False, 1.0),
)


def headline(plan: Plan) -> Headline:
    """The line of a sound plan. ValueError for one that chose nothing."""
    core, mass, performance = plan.core, plan.mass, plan.performance
    if core is None or mass is None or performance is None or plan.objective.value is None:
        raise ValueError("a plan that chose nothing has no line in a table")
    worst = min(
        performance.ranges, key=lambda one: (one.range_km / max(one.wanted_km, 1e-9), one.target)
    )
    return Headline(
        motor=core.motor,
        controller=core.controller,
        final_ratio=core.final_ratio,
        module=core.module,
        chemistry=_chemistry(plan),
        series=core.series,
        parallel=core.parallel,
        topology=core.topology,
        price=plan.objective.value,
        kerb_kg=mass.kerb_kg,
        laden_kg=mass.laden_kg,
        front_left_kg=_left(plan, "front"),
        rear_left_kg=_left(plan, "rear"),
        rear_axle_kg=max((axle.load_kg for axle in mass.axles if axle.name == "rear"), default=0.0),
        range_target=worst.target,
        range_km=worst.range_km,
        wanted_km=worst.wanted_km,
        energy_wh_per_km=worst.energy_wh_per_km,
        usable_kwh=performance.usable_kwh,
        nominal_v=performance.nominal_v,
        top_speed_kmh=performance.top_speed_kmh,
        gradeability=performance.gradeability,
        charge_hours=performance.charge_hours,
        own_hours=round(sum(line.hours for line in plan.lines), 3),
    )


def better_and_worse(one: Headline, other: Headline) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What ``one`` does better than ``other``, and what worse, each with the difference."""
    better: list[str] = []
    worse: list[str] = []
    for field, words, unit, decimals, more, least in _COMPARED:
        change = getattr(one, field) - getattr(other, field)
        if abs(change) < least:
            continue
        (better if (change > 0) == more else worse).append(f"{words} {change:+.{decimals}f} {unit}")
    return tuple(better), tuple(worse)


def _left(plan: Plan, axle: str) -> float:
    """The least that is left to the limit of an axle [kg], over all load cases.

    As the plan itself tells it: the margin that the project keeps is not taken off.
    """
    assert plan.mass is not None
    left = [one.limit_kg - one.load_kg for one in plan.mass.axles if one.name == axle]
    return round(min(left, default=0.0), 3)


def _chemistry(plan: Plan) -> str:
    assert plan.core is not None
    return catalog_of(plan).family("module")[plan.core.module].text("chemistry")
