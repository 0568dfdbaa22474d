"""The goal of a plan in words: what was decided by, what was reached, what is proven."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from bomplan.design.records import Plan, Reached
from bomplan.report.lines import exact_money
from bomplan.report.text import clean
from bomplan.report.units import Show


@dataclass(frozen=True)
class _Words:
    best: str
    nothing_better: str
    perhaps: str
    plain: str


_LEAST_COST: Final = _Words(
    "cheapest",
    "No other choice from this catalogue meets the targets for less.",
    "something cheaper may still exist",
    "nothing in this catalogue does so for less",
)
_WORDS: Final = {
    "least-cost": _LEAST_COST,
    "least-mass": _Words(
        "lightest",
        "No other choice from this catalogue meets the targets with less mass; price decided only"
        " between equal ones.",
        "something lighter may still exist",
        "nothing in this catalogue does so with less mass",
    ),
    "most-range": _Words(
        "farthest within the budget",
        "No other choice from this catalogue meets the targets and goes farther within the budget;"
        " of those that go as far this is the cheapest.",
        "something that goes farther may still exist",
        "nothing in this catalogue goes farther within the budget",
    ),
    "least-lifetime-cost": _Words(
        "cheapest over the years",
        "No other choice from this catalogue meets the targets and comes to less with energy and"
        " new packs over the years of use.",
        "something cheaper over the years may still exist",
        "nothing in this catalogue comes to less over the years",
    ),
}


def _words(plan: Plan) -> _Words:
    goal = plan.objective.goal
    return _LEAST_COST if goal is None else _WORDS.get(goal.aim, _LEAST_COST)


def best_words(plan: Plan) -> str:
    """What a proven plan is: the cheapest, the lightest and so on."""
    return _words(plan).best


def proven_words(plan: Plan) -> str:
    """The sentence of a proven plan."""
    return _words(plan).nothing_better


def plain_words(plan: Plan) -> str:
    """The answer in one line for a plan that passes every check."""
    words = _words(plan)
    if plan.status == "optimal":
        return f"Yes. It meets every target, and {words.plain}."
    return f"Yes, it meets every target; {words.perhaps}."


def gap_share(plan: Plan) -> float | None:
    """How far the best may still lie from the plan, as a share; None when nobody knows."""
    objective = plan.objective
    found: Reached | None = objective.goal
    value, bound = (
        (objective.value, objective.bound) if found is None else (found.figure, found.bound)
    )
    if not value or bound is None:
        return None
    return max(0.0, abs(value - bound) / value)


def reached(plan: Plan, show: Show) -> tuple[tuple[str, str, str], ...]:
    """(what, figure, what is proven) of the price, and of another goal before it."""
    objective = plan.objective
    if objective.value is None:
        return ()
    goal = objective.goal
    price = show.number(exact_money(objective.value, plan.currency))
    if goal is None:
        bound = objective.bound
        told = None if bound is None else show.number(exact_money(bound, plan.currency))
        return ((clean(objective.minimise, 60), price, told or ""),)
    return (
        (
            clean(objective.minimise, 60),
            _figure(goal.figure, goal, plan.currency, show),
            _figure(goal.bound, goal, plan.currency, show),
        ),
        ("price of the whole bill", price, ""),
    )


def _figure(amount: int | None, goal: Reached, currency: str, show: Show) -> str:
    if amount is None:
        return ""
    if goal.unit == "money":
        return show.number(exact_money(amount, currency))
    if goal.unit == "m":
        return show.distance(amount / 1000)
    return show.figure(amount / 1000, "kg")


def bound_words(plan: Plan) -> str:
    """What a proven bound of this plan is."""
    goal = plan.objective.goal
    return "upper bound" if goal is not None and goal.unit == "m" else "lower bound"


def goal_label(plan: Plan) -> str:
    """The goal as a line of a table has it."""
    goal = plan.objective.goal
    return "least cost" if goal is None else clean(goal.aim.replace("-", " "), 60)
