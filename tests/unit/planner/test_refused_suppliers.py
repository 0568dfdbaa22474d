"""A refusal for want of sellers says whom the wishes on buying shut out."""

from __future__ import annotations

from typing import Any

from oracle.offer_cases import make_offer_case

from bomplan.planner import find_plan
from bomplan.project.records import Project


def reasons(**buying: Any) -> str:
    case = make_offer_case(0)
    fields = case.project.model_dump()
    fields["buying"] = {"spares": [], **buying}
    plan = find_plan(Project.model_validate(fields), case.catalog)
    assert plan.status == "none"
    return " | ".join(plan.reasons)


def test_late_and_excluded_suppliers_are_named() -> None:
    case = make_offer_case(0)
    days = {name: row.lead_days for name, row in case.catalog.suppliers.items()}
    late = reasons(deadline_days=1)
    assert "parts are offered only by who may not sell" in late
    for name, lead in days.items():
        assert f"{name} ({lead} days, buying.deadline_days is 1)" in late
    out = reasons(excluded=sorted(days))
    assert all(f"{name} (buying.excluded)" in out for name in days)


def test_too_few_orders_are_named() -> None:
    assert "orders at no more than 0 suppliers (buying.suppliers_max)" in reasons(suppliers_max=0)
