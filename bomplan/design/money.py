"""A plan with the money around it: the whole sum and the order of buying."""

from __future__ import annotations

from bomplan.design.buying_order import buying_order
from bomplan.design.records import Plan
from bomplan.design.whole_sum import whole_sum
from bomplan.project.records import Project


def with_money(plan: Plan, project: Project) -> Plan:
    """The plan with both records; neither is part of what was minimised."""
    order = buying_order(plan, project)
    summed = whole_sum(plan, project, order)
    return plan.model_copy(update={"whole_sum": summed, "buying_order": order})
