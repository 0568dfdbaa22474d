"""Whatever of the builder's own leaves no plan is named by the clash, not the catalogue."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from lanes import first_fast
from oracle.small_cases import Case, make_case

from bomplan.catalog.records import Catalog, Offer, Supplier
from bomplan.design.records import Plan
from bomplan.outlook.clash import find_clash
from bomplan.outlook.levers import decisions, levers
from bomplan.outlook.solving import Solver
from bomplan.planner import find_plan
from bomplan.project.records import Project

# A car with two bays, nothing decided, and a plan.
SEED = 50


@cache
def case() -> Case:
    return make_case(SEED)


@cache
def sold() -> Catalog:
    """The case's parts, the contactors from a seller who takes 20 days and has four."""
    seller = Supplier(id="north", currency="EUR", lead_days=20)
    offers = tuple(
        Offer(part=part.id, supplier="north", unit_price=part.price, stock=4)
        for part in case().catalog.family("contactor").values()
    )
    update = {"suppliers": {"north": seller}, "offers": offers}
    return case().catalog.model_copy(update=update)


@cache
def solver() -> Solver:
    return Solver(sold())


@cache
def free() -> Plan:
    return find_plan(case().project, sold())


def part_of(family: str) -> str:
    return next(line.part for line in free().lines if line.family == family)


def wished(section: str, key: str, value: object) -> Project:
    fields = case().project.model_dump()
    fields[section] = {**fields[section], key: value}
    return Project.model_validate(fields)


WISHES: dict[str, tuple[str, str, object]] = {
    "own.mass": ("targets", "laden_mass_max_g", 400_000),
    "own.axle-front": ("targets", "front_axle_max_g", 100_000),
    "own.axle-rear": ("targets", "rear_axle_max_g", 100_000),
    "voltage.charged-least": ("targets", "charged_voltage_min_v", 600.0),
    "share.front-least": ("house_rules", "minimum_front_share", 0.9),
    "share.front-most": ("house_rules", "maximum_front_share", 0.1),
    "choices.battery_current": ("choices", "battery_current_a", (1.0,)),
    "choices.requires": ("choices", "requires", ("fasteners", "no-such-part")),
    "choices.forbids": ("choices", "forbids", ("fasteners", "labels")),
    "buying.deadline_days": ("buying", "deadline_days", 19),
    "buying.suppliers_max": ("buying", "suppliers_max", 0),
    "buying.excluded": ("buying", "excluded", ("north",)),
    "buying.from": ("buying", "supplier_of", {"contactor": "nobody"}),
    "buying.spares": ("buying", "spares", ({"family": "contactor", "pieces": 9},)),
}


@pytest.mark.parametrize("name", first_fast(list(WISHES), 1))
def test_a_wish_that_leaves_no_plan_clashes_alone(name: str) -> None:
    assert free().core is not None
    section, key, value = WISHES[name]
    if name in ("choices.requires", "choices.forbids"):
        assert isinstance(value, tuple)
        one, other = value
        named = {part.family: part.id for part in sold().parts()}
        value = {part_of(one): (named.get(other, part_of("labels") + "-more"),)}
    if name == "buying.from":
        value = dict.fromkeys(sold().family("contactor"), "nobody")
    project = wished(section, key, value)
    assert name in {one.id for one in (*levers(project), *decisions(project))}
    assert find_plan(project, sold(), standings=False).status == "none"
    found = find_clash(project, solver())
    assert found.proven
    assert found.missing_parts == ()
    assert [one.lever for one in found.members] == [name]
    (member,) = found.members
    assert member.helps
    assert member.price is not None
    if member.eased is not None:
        lever = next(one for one in levers(project) if one.id == name)
        eased = round(member.eased / lever.size)
        assert find_plan(lever.at(project, eased), sold(), standings=False).core is not None
        nearer = lever.at(project, eased + lever.harder)
        assert find_plan(nearer, sold(), standings=False).core is None


def test_a_project_without_such_wishes_has_no_such_switches() -> None:
    names = {one.id for one in (*levers(case().project), *decisions(case().project))}
    assert not names & set(WISHES) - {"buying.split"}


@pytest.mark.parametrize(("side", "least"), [("left", 0.3), ("left", None), ("front", 0.2)])
def test_shares_are_moved_to_the_thousandth(side: str, least: float | None) -> None:
    rules: dict[str, Any] = {f"maximum_{side}_share": 0.625, f"minimum_{side}_share": least}
    project = case().project.model_copy(
        update={"house_rules": case().project.house_rules.model_copy(update=rules)}
    )
    shares = {one.id: one for one in levers(project) if one.id.startswith("share.")}
    assert shares.keys() == {f"share.{side}-most"} | ({f"share.{side}-least"} if least else set())
    most = shares[f"share.{side}-most"]
    assert most.amount == 625
    moved = most.at(project, 624).house_rules
    assert getattr(moved, f"maximum_{side}_share") == 0.624
    assert getattr(most.lifted(project).house_rules, f"maximum_{side}_share") == 1.0
    if least is not None:
        lifted = shares[f"share.{side}-least"].lifted(project).house_rules
        assert getattr(lifted, f"minimum_{side}_share") == 0.001


def test_a_limit_that_helps_alone_is_named_where_all_given_up_at_once_do_not() -> None:
    """With the plate given up too, no conductor of the catalogue suits so heavy a car."""
    narrow = make_case(148)
    assert find_plan(narrow.project, narrow.catalog, standings=False).status == "none"
    every = (*levers(narrow.project), *decisions(narrow.project))
    lifted = narrow.project
    for switch in every:
        lifted = switch.lifted(lifted)
    assert find_plan(lifted, narrow.catalog, standings=False).status == "none"
    found = find_clash(narrow.project, Solver(narrow.catalog))
    assert [one.lever for one in found.members] == ["axle.front"]
    eased, price = found.members[0].eased, found.members[0].price
    (front,) = [one for one in every if one.id == "axle.front"]
    assert eased is not None
    plan = find_plan(front.lifted(narrow.project), narrow.catalog, standings=False)
    assert plan.core is not None
    assert price is not None
    assert plan.objective.value is not None
    assert plan.objective.value <= price
