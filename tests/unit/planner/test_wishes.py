"""Each rule of the builder's own does what it says through the planner, and passes the audit."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from oracle.small_cases import Case, make_case

from bomplan.audit import audit_plan
from bomplan.buying.terms import CHARGES
from bomplan.catalog.records import Offer, Supplier
from bomplan.design.records import Line, Plan
from bomplan.planner import find_plan
from bomplan.project.records import Project

# A car with two bays, nothing decided, and a plan.
SEED = 50


@cache
def case() -> Case:
    return make_case(SEED)


@cache
def free() -> Plan:
    return find_plan(case().project, case().catalog)


def wished(**sections: dict[str, Any]) -> Plan:
    """The plan with these keys set, audited where there is one."""
    fields = case().project.model_dump()
    for section, keys in sections.items():
        fields[section] = {**fields[section], **keys}
    found = find_plan(Project.model_validate(fields), case().catalog)
    if found.core is not None:
        assert [check.id for check in audit_plan(found) if not check.passed] == []
    return found


def lines(plan: Plan) -> dict[str, Line]:
    return {line.family: line for line in plan.lines if line.family not in CHARGES}


def price(plan: Plan) -> int:
    assert plan.objective.value is not None
    return plan.objective.value


def other_rows() -> dict[str, str]:
    """Of every family with a choice, the row that stands beside the chosen one as next best."""
    return {
        family: line.standing.instead.part
        for family, line in lines(free()).items()
        if line.standing is not None
        and line.standing.instead is not None
        and line.standing.instead.part != line.part
        and family not in ("motor", "controller", "module")
    }


def test_there_is_something_to_wish_for() -> None:
    assert free().status == "optimal"
    assert other_rows()
    assert len(case().project.bays) == 2


def test_a_locked_row_is_taken_at_the_price_that_the_line_foretold() -> None:
    family, part = next(iter(other_rows().items()))
    found = wished(choices={"parts": {family: part}})
    assert lines(found)[family].part == part
    foretold = lines(free())[family].standing
    assert foretold is not None
    assert foretold.instead is not None
    # The best bill with it is at most what swapping that one line comes to.
    assert price(free()) <= price(found) <= price(free()) + foretold.instead.price


def test_an_excluded_row_is_not_taken() -> None:
    family = next(iter(other_rows()))
    chosen = lines(free())[family].part
    found = wished(choices={"excluded": (chosen,)})
    assert chosen not in {line.part for line in found.lines}
    assert price(found) >= price(free())


def test_what_is_owned_costs_nothing_and_weighs_what_it_weighs() -> None:
    motor = lines(free())["motor"]
    assert motor.price > 0
    found = wished(choices={"owned": {motor.part: 1}, "motor": motor.part})
    own = lines(found)["motor"]
    assert (own.owned, own.bought, own.price) == (1, 0, 0)
    assert own.mass_kg == motor.mass_kg
    assert price(found) <= price(free()) - motor.price


def test_no_more_suppliers_than_wished() -> None:
    """Two sellers, each the cheaper one for one family: both, or the better of them alone."""
    one, two = (family for family in ("charger", "contactor") if family in lines(free()))
    sellers = {name: Supplier(id=name, currency="EUR") for name in ("east", "west")}
    offers = [
        Offer(part=part.id, supplier=name, unit_price=part.price * percent // 100)
        for family, shares in ((one, (90, 95)), (two, (97, 92)))
        for part in case().catalog.family(family).values()
        for name, percent in zip(sellers, shares, strict=True)
    ]
    catalog = case().catalog.model_copy(update={"suppliers": sellers, "offers": tuple(offers)})

    def planned(**wish: Any) -> Plan:
        buying = case().project.buying.model_copy(update=wish)
        return find_plan(case().project.model_copy(update={"buying": buying}), catalog)

    anywhere, found = planned(), planned(suppliers_max=1)
    assert orders(anywhere) == {"east", "west"}
    assert len(orders(found)) == 1
    assert price(anywhere) < price(found) <= price(free())
    assert [check.id for check in audit_plan(found) if not check.passed] == []


def orders(plan: Plan) -> set[str]:
    return {invoice.supplier for invoice in plan.invoices if invoice.supplier}


def test_a_part_that_forbids_or_requires_another() -> None:
    family, part = next(iter(other_rows().items()))
    module, chosen = lines(free())["module"].part, lines(free())[family].part
    found = wished(choices={"forbids": {module: (chosen,)}})
    parts = {line.part for line in found.lines}
    assert not {module, chosen} <= parts
    assert price(found) >= price(free())
    found = wished(choices={"requires": {module: (part,)}})
    parts = {line.part for line in found.lines}
    assert module not in parts or part in parts


@pytest.mark.parametrize("key", ["laden_mass_max_g", "rear_axle_max_g", "front_axle_max_g"])
def test_a_limit_on_a_total_is_kept_to_the_gram(key: str) -> None:
    had = total(free(), key)
    # A load is shown to the nearest gram and judged as it is: it may be a part of one more.
    same = wished(targets={key: had + (key != "laden_mass_max_g")})
    assert (price(same), total(same, key)) == (price(free()), had)
    found = wished(targets={key: had - 1})
    if found.core is None:
        assert found.status == "none"
    else:
        assert total(found, key) < had
        assert price(found) >= price(free())


def total(plan: Plan, key: str) -> int:
    assert plan.mass is not None
    if key == "laden_mass_max_g":
        return round(plan.mass.laden_kg * 1000)
    name = key.partition("_")[0]
    return max(round(axle.load_kg * 1000) for axle in plan.mass.axles if axle.name == name)


def test_a_budget_is_kept_to_the_smallest_unit() -> None:
    assert price(wished(targets={"budget": price(free())})) == price(free())
    assert wished(targets={"budget": price(free()) - 1}).status == "none"


def test_cells_are_kept_off_the_end_of_the_car() -> None:
    """Where the country forbids it, no cells in the last 300 mm: here the whole boot."""
    boot = max(case().project.bays, key=lambda bay: bay.x_mm)
    donor = case().project.donor
    overhang = boot.x_mm + boot.length_mm - donor.wheelbase_mm
    assert overhang > 0
    allowed = wished(donor={"rear_overhang_mm": overhang + 400})
    assert price(allowed) == price(free())
    fields = case().project.model_dump()
    fields["country"] = "un-r100-m1-n1"
    fields["donor"]["rear_overhang_mm"] = overhang
    found = find_plan(Project.model_validate(fields), case().catalog)
    if found.core is None:
        assert found.status == "none"
        assert any("bay.crush" in name for name in found.search.rejected)
    else:
        assert boot.name not in {use.bay for use in found.placement}


def test_a_cap_on_the_pack_voltage() -> None:
    assert free().performance is not None
    volts = free().performance.charge_v  # type: ignore[union-attr]
    at_it = wished(targets={"pack_voltage_max_v": volts + 0.01})
    assert at_it.performance is not None
    assert at_it.performance.charge_v <= volts + 0.01
    assert price(at_it) >= price(free())
    found = wished(targets={"pack_voltage_max_v": volts - 0.01})
    if found.core is None:
        assert found.status == "none"
    else:
        assert found.performance is not None
        assert found.performance.charge_v < volts


def test_cells_in_so_many_bays_only() -> None:
    found = wished(choices={"bays_max": 1})
    if found.core is None:
        assert found.status == "none"
    else:
        assert len([use for use in found.placement if use.modules]) == 1


def test_every_line_says_why_and_what_else_would_do() -> None:
    for line in lines(free()).values():
        assert line.why, line.family
        assert line.standing is not None, line.family
        # Either another row with its price, or why there is none.
        assert (line.standing.instead is None) == bool(line.standing.nothing_because), line.family
