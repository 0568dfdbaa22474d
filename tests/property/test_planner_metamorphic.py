"""What must not change a plan, and which way a changed question must move it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import pytest
from lanes import first_fast
from oracle.compare import stated_lines
from oracle.small_cases import Case, make_case

from bomplan.catalog.records import Catalog, Part
from bomplan.design.bill import RULES
from bomplan.design.planfile import plan_bytes
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project.records import Project

# Seeds of cases that have a plan, one of nearly every kind; two of them in the fast suite.
SEEDS = (0, 20, 1, 5, 8, 15, 16, 21)
RUNNING = pytest.mark.parametrize("seed", first_fast(SEEDS, 2))
FAMILIES = ("motor", "controller", "module", "cable", "fuse", "charger", "box")


@cache
def case(seed: int) -> Case:
    return make_case(seed)


@cache
def planned(seed: int) -> Plan:
    return find_plan(case(seed).project, case(seed).catalog)


def again(seed: int, project: Project | None = None, catalog: Catalog | None = None) -> Plan:
    return find_plan(project or case(seed).project, catalog or case(seed).catalog)


def with_rows(catalog: Catalog, change: Callable[[Part], Part]) -> Catalog:
    families = {
        family: {new.id: new for new in (change(part) for part in rows.values())}
        for family, rows in catalog.families.items()
    }
    return catalog.model_copy(update={"families": families})


def changed(project: Project, path: tuple[str, ...], value: Any) -> Project:
    data = project.model_dump()
    inner = data
    for name in path[:-1]:
        inner = inner[name]
    inner[path[-1]] = value
    return Project.model_validate(data)


def price(plan: Plan) -> int | None:
    return plan.objective.value


@RUNNING
def test_the_seeds_have_plans(seed: int) -> None:
    assert planned(seed).status == "optimal"


def chosen_of(plan: Plan) -> tuple[object, ...]:
    """Everything that was chosen; what else would do hangs on rows that were not."""
    lines = tuple(line.model_copy(update={"standing": None}) for line in plan.lines)
    return plan.core, lines, plan.placement


@RUNNING
def test_order_of_rows_changes_nothing(seed: int) -> None:
    catalog = case(seed).catalog
    turned = catalog.model_copy(
        update={
            "families": {
                family: dict(reversed(rows.items()))
                for family, rows in reversed(catalog.families.items())
            },
            "pairs": catalog.pairs[::-1],
            "curves": catalog.curves[::-1],
            "temperatures": catalog.temperatures[::-1],
            "suppliers": dict(reversed(catalog.suppliers.items())),
            "offers": catalog.offers[::-1],
        }
    )
    assert plan_bytes(again(seed, catalog=turned)) == plan_bytes(planned(seed))


@RUNNING
def test_all_money_times_a_number_keeps_the_parts(seed: int) -> None:
    times = 7
    project, catalog = case(seed).project, case(seed).catalog
    dearer = with_rows(
        catalog, lambda part: part.model_copy(update={"price": part.price * times})
    ).model_copy(
        update={
            "offers": tuple(
                offer.model_copy(update={"unit_price": offer.unit_price * times})
                for offer in catalog.offers
            ),
            "suppliers": {
                name: supplier.model_copy(
                    update={
                        "shipping_flat": supplier.shipping_flat * times,
                        "free_above": supplier.free_above and supplier.free_above * times,
                    }
                )
                for name, supplier in catalog.suppliers.items()
            },
        }
    )
    budget = project.targets.budget
    if budget is not None:
        project = changed(project, ("targets", "budget"), budget * times)
    plan, first = again(seed, project, dearer), planned(seed)
    assert (plan.status, plan.core, plan.couplers) == (first.status, first.core, first.couplers)
    assert stated_lines(plan) == stated_lines(first)
    assert plan.placement == first.placement
    known = price(first)
    assert price(plan) == (None if known is None else known * times)


@RUNNING
def test_renamed_rows_keep_price_and_mass(seed: int) -> None:
    """Only ties may be settled otherwise: the names run the other way round."""
    catalog, project = case(seed).catalog, case(seed).project
    names = sorted(part.id for part in catalog.parts())
    new = {name: f"row-{len(names) - number:03d}" for number, name in enumerate(names)}
    renamed = with_rows(
        catalog, lambda part: part.model_copy(update={"id": new[part.id]})
    ).model_copy(
        update={
            "pairs": tuple(
                pair.model_copy(
                    update={"motor": new[pair.motor], "controller": new[pair.controller]}
                )
                for pair in catalog.pairs
                if pair.motor in new and pair.controller in new
            ),
            "offers": tuple(
                offer.model_copy(update={"part": new[offer.part]}) for offer in catalog.offers
            ),
        }
    )
    choices = project.choices.model_dump()
    for name in ("motor", "controller", "module"):
        choices[name] = new.get(choices[name])
    choices["excluded"] = tuple(new[part] for part in choices["excluded"])
    choices["owned"] = {new[part]: count for part, count in choices["owned"].items()}
    choices["parts"] = {family: new[part] for family, part in choices["parts"].items()}
    plan = again(seed, changed(project, ("choices",), choices), renamed)
    first = planned(seed)
    assert (plan.status, price(plan)) == (first.status, price(first))
    if plan.couplers and first.couplers:
        assert plan.couplers.added_g == first.couplers.added_g


@RUNNING
def test_dominated_rows_change_no_price(seed: int) -> None:
    """A dearer and otherwise equal row beside every row of some families."""
    catalog = case(seed).catalog
    families = {family: dict(rows) for family, rows in catalog.families.items()}
    offered = {offer.part for offer in catalog.offers}
    for family in FAMILIES[2:]:
        for part in catalog.family(family).values():
            if part.id not in offered:
                worse = part.model_copy(update={"id": f"{part.id}-dear", "price": part.price + 1})
                families[family][worse.id] = worse
    plan = again(seed, catalog=catalog.model_copy(update={"families": families}))
    assert (plan.status, price(plan)) == (planned(seed).status, price(planned(seed)))


@RUNNING
def test_an_added_row_is_never_dearer(seed: int) -> None:
    """Beside one row of each family a heavier one at two thirds of the price, one at a time."""
    catalog, first = case(seed).catalog, planned(seed)
    if price(first) is None:
        pytest.skip("no plan, so nothing that could get dearer")
    offered = {offer.part for offer in catalog.offers}
    for family in ("module", "cable", "charger"):
        part = next(iter(catalog.family(family).values()))
        if part.id in offered:
            continue
        other = part.model_copy(
            update={
                "id": f"{part.id}-other",
                "price": part.price * 2 // 3,
                "mass_g": part.mass_g + part.mass_g // 10 + 1,
            }
        )
        families = {name: dict(rows) for name, rows in catalog.families.items()}
        families[family][other.id] = other
        plan = again(seed, catalog=catalog.model_copy(update={"families": families}))
        assert plan.status == "optimal"
        assert (price(plan) or 0) <= (price(first) or 0)


@RUNNING
def test_rows_that_were_not_chosen_are_not_missed(seed: int) -> None:
    first = planned(seed)
    if first.core is None:
        pytest.skip("no plan, so nothing was chosen")
    chosen = {line.part for line in first.lines}
    catalog = case(seed).catalog
    families = {
        family: {name: part for name, part in rows.items() if name in chosen}
        for family, rows in catalog.families.items()
    }
    # Of what a plan needs none of, rows must be listed all the same.
    spared = {rule.family for rule in RULES if rule.may_be_none}
    families |= {
        family: rows
        for family, rows in catalog.families.items()
        if family in spared and not families[family]
    }
    kept = {name for rows in families.values() for name in rows}
    offers = tuple(offer for offer in catalog.offers if offer.part in kept)
    plan = again(seed, catalog=catalog.model_copy(update={"families": families, "offers": offers}))
    assert chosen_of(plan) == chosen_of(first)


@RUNNING
def test_without_a_chosen_row_it_is_never_cheaper(seed: int) -> None:
    first = planned(seed)
    if first.core is None:
        pytest.skip("no plan, so nothing was chosen")
    catalog, project = case(seed).catalog, case(seed).project
    for family in ("module", "cable", "charger"):
        part = next(line.part for line in first.lines if line.family == family)
        choices = project.choices.model_dump()
        choices["excluded"] = (*choices["excluded"], part)
        plan = again(seed, changed(project, ("choices",), choices), catalog)
        assert plan.status == "none" or (price(plan) or 0) >= (price(first) or 0)


@RUNNING
def test_locking_what_was_chosen_changes_nothing(seed: int) -> None:
    first = planned(seed)
    if first.core is None:
        pytest.skip("no plan, so nothing was chosen")
    project = case(seed).project
    choices = project.choices.model_dump() | {
        "motor": first.core.motor,
        "controller": first.core.controller,
        "module": first.core.module,
        "series": first.core.series,
        "parallel": first.core.parallel,
        "parts": {
            line.family: line.part
            for line in first.lines
            if line.family not in ("motor", "controller", "module", "shipping")
        },
    }
    plan = again(seed, changed(project, ("choices",), choices))
    assert plan.status == "optimal"
    assert chosen_of(plan) == chosen_of(first)


@RUNNING
def test_a_tighter_project_is_never_cheaper(seed: int) -> None:
    """A longer range, a lighter plate and a smaller pack of money, each by itself.

    The gross limit is also the mass at which conductors are sized, so that a lower one may
    make them thinner: only a limit above the sum of both axles is left out of that.
    """
    first, project = planned(seed), case(seed).project
    data = project.model_dump()
    farther = data["targets"]["range"][0] | {
        "distance_m": data["targets"]["range"][0]["distance_m"] * 21 // 20
    }
    tighter = [changed(project, ("targets", "range"), (farther,))]
    if price(first) is not None:
        tighter.append(changed(project, ("targets", "budget"), (price(first) or 0) - 1))
        tighter.append(changed(project, ("targets", "budget"), price(first)))
    shallow = [bay | {"mass_limit_g": 40_000} for bay in data["bays"]]
    tighter.append(changed(project, ("bays",), shallow))
    for harder in tighter:
        plan = again(seed, harder)
        if plan.status != "none":
            assert price(first) is not None
            assert (price(plan) or 0) >= (price(first) or 0)
    if price(first) is not None:
        assert again(seed, tighter[1]).status == "none"
        assert price(again(seed, tighter[2])) == price(first)
