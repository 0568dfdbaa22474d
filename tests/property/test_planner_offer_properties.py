"""What must hold of the whole planner when offers change: cheaper, at hand, all money times k.

Orders without thresholds and least orders: with such a limit a lower price, or a piece less to
buy, may cost an order its free shipping (``test_offers_brute_force.py`` has the case).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from oracle.offer_cases import make_offer_case
from oracle.small_cases import Case

from bomplan.design.records import Plan
from bomplan.planner import find_plan

SEEDS = (0, 1, 4, 6, 7, 9, 11, 13)
EACH = pytest.mark.parametrize(
    "seed", [*SEEDS[:3], *(pytest.param(seed, marks=pytest.mark.slow) for seed in SEEDS[3:])]
)


def whole(case: Case, **suppliers: Any) -> Case:
    """The case without limits on orders; with other fields of its suppliers too."""
    free = {"free_above": None, "minimum_order": 0, **suppliers}
    rows = {name: row.model_copy(update=free) for name, row in case.catalog.suppliers.items()}
    return replace(case, catalog=case.catalog.model_copy(update={"suppliers": rows}))


def plan_of(case: Case) -> Plan:
    return find_plan(case.project, case.catalog)


@cache
def before(seed: int) -> tuple[Case, Plan]:
    case = whole(make_offer_case(seed))
    return case, plan_of(case)


def price(plan: Plan) -> int:
    """What the plan costs; beyond everything where there is none."""
    assert plan.status in ("optimal", "none")
    return plan.objective.value if plan.objective.value is not None else 1 << 60


def bought(plan: Plan) -> list[tuple[str, str, list[tuple[str, int]]]]:
    return [
        (line.family, line.part, [(one.supplier, one.bought) for one in line.purchases])
        for line in plan.lines
        if line.purchases or line.owned
    ]


def test_enough_of_them_have_a_plan_with_orders() -> None:
    plans = [before(seed)[1] for seed in SEEDS[:3]]
    assert sum(bool(plan.invoices) for plan in plans) >= 2


@EACH
def test_cheaper_offers_never_make_the_plan_dearer(seed: int) -> None:
    case, plan = before(seed)
    chosen = {line.part for line in plan.lines}
    # Every step of one supplier's offers for one part, of those chosen if any is.
    keys = sorted({(one.part, one.supplier) for one in case.catalog.offers})
    for part, supplier in sorted(keys, key=lambda key: key[0] not in chosen)[:3]:
        offers = tuple(
            one.model_copy(update={"unit_price": max(1, one.unit_price * 8 // 10)})
            if (one.part, one.supplier) == (part, supplier)
            else one
            for one in case.catalog.offers
        )
        catalog = case.catalog.model_copy(update={"offers": offers})
        assert price(plan_of(replace(case, catalog=catalog))) <= price(plan), (part, supplier)


@EACH
def test_owning_never_makes_the_plan_dearer(seed: int) -> None:
    case, plan = before(seed)
    had = Counter({line.part: 1 for line in plan.lines if line.purchases})
    chosen = [part for part, _ in sorted(had.items())] or [case.catalog.offers[0].part]
    for part in chosen[:3]:
        fields = case.project.model_dump()
        owned = fields["choices"]["owned"]
        fields["choices"]["owned"] = {**owned, part: owned.get(part, 0) + 2}
        project = type(case.project).model_validate(fields)
        assert price(plan_of(replace(case, project=project))) <= price(plan), part


@EACH
def test_all_money_times_k_keeps_the_parts(seed: int) -> None:
    """With shares that leave every amount whole, so that no rounding decides."""
    case = whole(make_offer_case(seed))
    quarter = {
        f"{kind}_percent": "25" if getattr(next(iter(case.catalog.suppliers.values())),
                                           f"{kind}_percent") != "0" else "0"
        for kind in ("duty", "tax")
    }  # fmt: skip
    once = times(whole(case, **quarter), 16)
    plan, scaled = plan_of(once), plan_of(times(once, 7))
    assert scaled.status == plan.status
    assert scaled.objective.value == (
        None if plan.objective.value is None else 7 * plan.objective.value
    )
    assert bought(scaled) == bought(plan)
    assert scaled.placement == plan.placement


def times(case: Case, k: int) -> Case:
    """Every amount of money in catalogue and project times k."""
    catalog, project = case.catalog, case.project
    money = ("shipping_flat", "shipping_per_kg", "minimum_order", "free_above")
    more = {
        "families": {
            family: {
                name: part.model_copy(update={"price": part.price * k})
                for name, part in rows.items()
            }
            for family, rows in catalog.families.items()
        },
        "suppliers": {
            name: row.model_copy(
                update={key: getattr(row, key) * k for key in money if getattr(row, key)}
            )
            for name, row in catalog.suppliers.items()
        },
        "offers": tuple(
            one.model_copy(update={"unit_price": one.unit_price * k}) for one in catalog.offers
        ),
    }
    budget = project.targets.budget
    targets = project.targets.model_copy(update={"budget": None if budget is None else budget * k})
    return replace(
        case,
        catalog=catalog.model_copy(update=more),
        project=project.model_copy(update={"targets": targets}),
    )
