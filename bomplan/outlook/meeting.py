"""Whether a plan that is at hand also meets another project: by the audit, without a search."""

from __future__ import annotations

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


def _has_room(plan: Plan, context: Context) -> bool:
    assert plan.core is not None
    module = context.catalog.family("module")[plan.core.module]
    places = {bay.name: number for number, bay in enumerate(context.bays)}
    return all(
        use.bay in places and use.modules <= context.layout(places[use.bay], module).count
        for use in plan.placement
    )
