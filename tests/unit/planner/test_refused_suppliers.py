"""A refusal for want of sellers says whom the wishes on buying shut out."""

from __future__ import annotations

from typing import Any

from oracle.brute_force import brute_force
from oracle.offer_cases import make_offer_case
from oracle.small_cases import make_case

from bomplan.catalog.records import Offer, Supplier
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


def test_a_supplier_of_what_costs_nothing_is_none_too_many() -> None:
    case = make_case(0)
    sold = (("fuse", "harbour", 1), ("charger", "north", 0))
    suppliers = {name: Supplier(id=name, currency="EUR", lead_days=7) for _, name, _ in sold}
    offers = tuple(
        Offer(part=part.id, supplier=name, unit_price=part.price * times)
        for family, name, times in sold
        for part in case.catalog.family(family).values()
    )
    catalog = case.catalog.model_copy(update={"suppliers": suppliers, "offers": offers})
    fields = case.project.model_dump()
    fields["buying"] = {"suppliers_max": 1, "split": False}
    project = Project.model_validate(fields)
    plan = find_plan(project, catalog)
    best = brute_force(project, catalog, compare_every=10**9).best
    assert best is not None
    assert plan.objective.value == best.price
