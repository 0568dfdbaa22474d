"""Whether a plan that is at hand also meets another project: by the audit, without a search."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from bomplan.audit import audit_plan
from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of
from bomplan.design.records import Check, Plan
from bomplan.errors import InputError
from bomplan.project.records import Project

# What the plan says of itself is not of the other project; that its lines still hold is.
_OF_THE_LINES: Final = ("audit.lines", "audit.price", "audit.choices")


def meets(plan: Plan, project: Project) -> bool:
    """Whether every check of the project passes for the plan as it stands."""
    return not failures(plan, project)


def may_meet(plan: Plan, project: Project) -> bool:
    """Whether the plan goes far enough by its own figures: an audit may then be worth its time."""
    asked = {f"range.{target.name}": target for target in project.targets.range}
    more = 1 + project.margins.range
    return all(
        check.value * 1000 >= asked[check.id].distance_m * more - 1
        for check in plan.checks
        if check.id in asked
    )


def failures(plan: Plan, project: Project) -> tuple[str, ...]:
    """The checks of the project that the plan fails; its bays' room and its figures among them."""
    checks = checks_of(plan, project)
    if checks is None:
        return ("audit.readable",)
    return tuple(check.id for check in checks if not check.passed)


def checks_of(plan: Plan, project: Project) -> tuple[Check, ...] | None:
    """Every check of the project for the plan; None where the two cannot stand together."""
    if plan.core is None or not _has_room(plan, Context(project, catalog_of(plan))):
        return None
    moved = plan.model_copy(update={"project_used": project.model_dump(mode="json")})
    try:
        checks = audit_plan(moved)
    except InputError:
        return None
    return tuple(
        check for check in checks if not check.id.startswith("audit.") or check.id in _OF_THE_LINES
    )


def least_with_room(plan: Plan, make: Callable[[int], Project], fails: int, works: int) -> int:
    """The amount nearest to ``fails`` at which the bays hold the plan's modules in any placement.

    ``make`` gives the project with an amount; at ``works`` they do, at ``fails`` not.
    """
    catalog, core = catalog_of(plan), plan.core
    assert core is not None
    module = catalog.family("module")[core.module]

    def holds(amount: int) -> bool:
        context = Context(make(amount), catalog)
        bays = range(len(context.bays))
        places = [context.layout(bay, module).count // core.parallel for bay in bays]
        return sum(places) >= core.series

    while abs(works - fails) > 1:
        middle = (works + fails) // 2
        if holds(middle):
            works = middle
        else:
            fails = middle
    return works


def _has_room(plan: Plan, context: Context) -> bool:
    assert plan.core is not None
    module = context.catalog.family("module")[plan.core.module]
    places = {bay.name: number for number, bay in enumerate(context.bays)}
    return all(
        use.bay in places and use.modules <= context.layout(places[use.bay], module).count
        for use in plan.placement
    )
