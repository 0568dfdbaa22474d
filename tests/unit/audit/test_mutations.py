"""A plan that breaks one rule by one unit fails there and nowhere else; at the boundary it passes.

The plan is a small one found by the planner. Each change is made in the plan alone, as a slip
or a forger would make it, or in the project that the plan embeds, as a limit moved by one unit.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from oracle.offer_cases import make_offer_case
from oracle.small_cases import make_case

from bomplan.audit import audit_plan
from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Check, Plan
from bomplan.errors import InputError
from bomplan.planner import find_plan

# Modules in both bays, lines from suppliers and an order that pays shipping.
SEED = 16


@cache
def plan() -> Plan:
    case = make_case(SEED)
    found = find_plan(case.project, case.catalog)
    assert found.status == "optimal"
    return found


def changed(change: Callable[[dict[str, Any]], None], of: Plan | None = None) -> Plan:
    data = copy.deepcopy((of or plan()).model_dump(mode="json"))
    for line in data["lines"]:
        # A stated slack follows every figure; its mutant is in test_planner_instead.
        line["standing"] = None
    change(data)
    return Plan.model_validate(data)


def failed(mutant: Plan) -> set[str]:
    return {check.id for check in audit_plan(mutant) if not check.passed}


def check_of(mutant: Plan, check_id: str) -> Check:
    return next(check for check in audit_plan(mutant) if check.id == check_id)


def first(data: dict[str, Any], family: str) -> dict[str, Any]:
    line: dict[str, Any] = next(line for line in data["lines"] if line["family"] == family)
    return line


def test_the_plan_itself_passes() -> None:
    assert failed(plan()) == set()
    ids = [check.id for check in audit_plan(plan())]
    assert len(ids) > 80


# -- the plan's own statements ---------------------------------------------------------------


@pytest.mark.parametrize("family", ["motor", "module", "cable", "safety_kit"])
@pytest.mark.parametrize("field", ["quantity", "bought", "unit_price", "price"])
@pytest.mark.parametrize("step", [-1, 1])
def test_a_line_off_by_one(family: str, field: str, step: int) -> None:
    def change(data: dict[str, Any]) -> None:
        first(data, family)[field] += step

    wanted = {"audit.lines", "audit.price"} if field == "price" else {"audit.lines"}
    assert failed(changed(change)) == wanted


def test_a_piece_said_to_be_to_spare_that_is_not() -> None:
    def change(data: dict[str, Any]) -> None:
        first(data, "module")["to_spare"] += 1

    assert failed(changed(change)) == {"audit.lines"}


def test_a_line_a_gram_lighter() -> None:
    def change(data: dict[str, Any]) -> None:
        line = first(data, "motor")
        line["mass_kg"] = round(line["mass_kg"] - 0.001, 3)

    mutant = changed(change)
    assert failed(mutant) == {"audit.lines"}
    assert "motor" in check_of(mutant, "audit.lines").words


def test_a_total_off_by_one() -> None:
    def change(data: dict[str, Any]) -> None:
        data["objective"]["value"] -= 1
        data["objective"]["bound"] -= 1

    assert failed(changed(change)) == {"audit.price"}


def test_a_line_and_the_total_lowered_together() -> None:
    """The total of the stated lines is right then; the catalogue's price is not."""

    def change(data: dict[str, Any]) -> None:
        first(data, "motor")["price"] -= 1
        data["objective"]["value"] -= 1
        data["objective"]["bound"] -= 1

    assert failed(changed(change)) == {"audit.lines", "audit.price"}


def test_kerb_mass_a_gram_off() -> None:
    def change(data: dict[str, Any]) -> None:
        data["mass"]["kerb_kg"] = round(data["mass"]["kerb_kg"] - 0.001, 3)

    assert failed(changed(change)) == {"audit.mass", "audit.mass-record"}


def test_an_axle_statement_two_grams_off() -> None:
    """One gram is what rounding to grams may hide; two are not."""

    def change(data: dict[str, Any]) -> None:
        data["mass"]["axles"][0]["load_kg"] = round(data["mass"]["axles"][0]["load_kg"] - 0.002, 3)

    assert failed(changed(change)) == {"audit.axles", "audit.mass-record"}


def test_a_stand_moved_out_of_its_place() -> None:
    def change(data: dict[str, Any]) -> None:
        stand = data["placement"][0]["stands"][0]
        stand["x_mm"] += 5_000

    bay = plan().placement[0].bay
    assert failed(changed(change)) - {f"audit.series.{bay}"} == {
        "audit.axles",
        f"audit.stands.{bay}",
    }


def test_a_stand_left_out() -> None:
    def change(data: dict[str, Any]) -> None:
        data["placement"][0]["stands"].pop()

    bay = plan().placement[0].bay
    assert failed(changed(change)) >= {f"audit.stands.{bay}"}


def test_modules_of_a_bay_miscounted() -> None:
    def change(data: dict[str, Any]) -> None:
        data["placement"][0]["modules"] += 1

    bay = plan().placement[0].bay
    assert failed(changed(change)) == {f"audit.stands.{bay}"}


def test_a_series_place_without_a_bay() -> None:
    def change(data: dict[str, Any]) -> None:
        use = data["placement"][0]
        use["series"] -= 1
        use["modules"] -= data["core"]["parallel"]
        for _ in range(data["core"]["parallel"]):
            use["stands"].pop()

    assert "bay.all-placed" in failed(changed(change))


def test_a_shipping_line_left_out() -> None:
    shipping = [line for line in plan().lines if line.family == "shipping"]
    assert shipping, "the plan of this seed must pay shipping"

    def change(data: dict[str, Any]) -> None:
        data["lines"].remove(shipping[0].model_dump(mode="json"))
        data["objective"]["value"] -= shipping[0].price
        data["objective"]["bound"] -= shipping[0].price

    mutant = changed(change)
    assert failed(mutant) == {"audit.lines", "audit.price"}
    assert f"shipping by {shipping[0].part}" in check_of(mutant, "audit.lines").words


Path = tuple[str | int, ...]
STATED: tuple[tuple[Path, Any, str], ...] = (
    (("lines", 0, "owned"), 1, "audit.lines"),
    (("lines", 0, "moment_gmm"), 1, "audit.lines"),
    (("lines", 0, "unit_mass_kg"), 0.001, "audit.lines"),
    (("mass", "laden_kg"), 0.001, "audit.mass-record"),
    (("mass", "added_kg"), 0.001, "audit.mass-record"),
    (("mass", "axles", 0, "limit_kg"), 0.001, "audit.mass-record"),
    (("mass", "load_cases", 0, "front_kg"), 0.001, "audit.mass-record"),
    (("couplers", "added_g"), 1, "audit.couplers"),
    (("couplers", "external_uohm"), 1, "audit.couplers"),
    (("couplers", "mean_12v_w"), 1, "audit.couplers"),
    (("performance", "range_km"), 1.0, "audit.performance"),
    (("performance", "ranges", 0, "range_km"), 1.0, "audit.performance"),
    (("performance", "top_speed_kmh"), 3.0, "audit.performance"),
    (("performance", "usable_kwh"), 0.5, "audit.performance"),
    (("performance", "design_rms_a"), 5.0, "audit.performance"),
    (("performance", "charge_hours"), 0.5, "audit.performance"),
    (("performance", "ranges", 0, "wall_wh_per_km"), 9.0, "audit.performance"),
    (("performance", "ranges", 0, "wanted_km"), 9.0, "audit.performance"),
    (("objective", "bound"), -1, "audit.proof"),
    (("driving", "ranges", 0, "range_km"), 1.0, "audit.driving"),
    (("driving", "voltages", 2, "pull_v"), 3.0, "audit.driving"),
    (("driving", "starts", 1, "grade"), 0.05, "audit.driving"),
    (("driving", "steady", 0, "gear"), 1, "audit.driving"),
    (("currency",), "X", "audit.currency"),
)


@pytest.mark.parametrize(("path", "more", "check_id"), STATED)
def test_every_statement_is_held_against_the_lines(path: Path, more: Any, check_id: str) -> None:
    def change(data: dict[str, Any]) -> None:
        inner: Any = data
        for step in path[:-1]:
            inner = inner[step]
        old = inner[path[-1]]
        if path == ("currency",):
            inner[path[-1]] = "USD"
        elif isinstance(old, float):
            inner[path[-1]] = round(old + more, 3)
        else:
            inner[path[-1]] = old + more

    assert failed(changed(change)) == {check_id}


@pytest.mark.parametrize(
    ("choice", "value"),
    [
        ("series", 99),
        ("parallel", 5),
        ("topology", "strings"),
        ("chemistries", ["gel"]),
        ("bays_max", 1),
        ("parts", {"fuse": "another-fuse"}),
        ("suppliers", ["nobody"]),
    ],
)
def test_a_choice_of_the_builder_that_was_not_kept(choice: str, value: Any) -> None:
    def change(data: dict[str, Any]) -> None:
        data["project_used"]["choices"][choice] = value

    if choice == "suppliers":
        assert "audit.part-missing" in refused(change)
    else:
        assert failed(changed(change)) == {"audit.choices"}


def test_an_excluded_part_and_a_ratio_that_the_car_does_not_have() -> None:
    core = plan().core
    assert core is not None

    def exclude(data: dict[str, Any]) -> None:
        data["project_used"]["choices"]["excluded"] = [core.module]

    def gear(data: dict[str, Any]) -> None:
        data["core"]["final_ratio"] += 0.0001

    assert failed(changed(exclude)) == {"audit.choices"}
    assert failed(changed(gear)) == {"audit.choices"}


# -- what cannot be checked at all -------------------------------------------------------------


def refused(change: Callable[[dict[str, Any]], None]) -> str:
    with pytest.raises(InputError) as caught:
        audit_plan(changed(change))
    return str(caught.value)


def test_a_line_left_out() -> None:
    def change(data: dict[str, Any]) -> None:
        data["lines"].remove(first(data, "fuse"))

    assert "audit.line-missing" in refused(change)


def test_a_line_given_twice() -> None:
    def change(data: dict[str, Any]) -> None:
        data["lines"].append(first(data, "fuse"))

    assert "audit.line-twice" in refused(change)


def test_a_supplier_who_does_not_sell_it() -> None:
    def change(data: dict[str, Any]) -> None:
        first(data, "fuse")["supplier"] = "nobody"

    assert "audit.part-missing" in refused(change)


def test_a_part_that_is_not_embedded() -> None:
    def change(data: dict[str, Any]) -> None:
        parts = data["parts_used"]["parts"]
        parts[:] = [part for part in parts if part["family"] != "motor"]

    assert "audit.part-missing" in refused(change)


def test_a_bay_that_the_car_does_not_have() -> None:
    def change(data: dict[str, Any]) -> None:
        data["placement"][0]["bay"] = "roof"

    assert "audit.bay-unknown" in refused(change)


def test_a_bay_that_is_too_small_for_what_stands_in_it() -> None:
    def change(data: dict[str, Any]) -> None:
        name = data["placement"][0]["bay"]
        bay = next(one for one in data["project_used"]["bays"] if one["name"] == name)
        bay["length_mm"] = 20

    assert "audit.bay-too-small" in refused(change)


def test_a_result_without_a_choice_has_nothing_to_check() -> None:
    empty = plan().model_copy(update={"core": None, "status": "none"})
    assert audit_plan(empty) == ()


# -- limits: at the exact boundary, and one unit beyond ------------------------------------------


def without_margins(data: dict[str, Any]) -> dict[str, Any]:
    project: dict[str, Any] = data["project_used"]
    project["margins"] |= {"axle": 0.0, "axle_g": 0, "gross": 0.0, "range": 0.0}
    return project


def with_limits(change: Callable[[dict[str, Any]], None]) -> Plan:
    """The plan in a project whose plate and bays are as they are, but for one limit.

    The design currents follow the plate limits, so the checks that they decide are those of
    the changed project; only the failures that the loose project does not have count.
    """

    def everything(data: dict[str, Any]) -> None:
        change(without_margins(data))

    return changed(everything)


def context() -> Context:
    return Context(project_of(plan()), catalog_of(plan()))


def loaded_g(axle: str) -> int:
    """The axle's greatest load over all load cases, rounded up to the gram."""
    here, couplers = context(), plan().couplers
    assert couplers is not None
    moment = sum(line.moment_gmm for line in plan().lines)
    found = []
    for load in here.loads:
        rear = Fraction(here.base.moment_gmm + load.moment_gmm + moment, here.wheelbase_mm)
        front = here.base.mass_g + load.mass_g + couplers.added_g - rear
        found.append(rear if axle == "rear" else front)
    worst = max(found)
    return -(-worst.numerator // worst.denominator)


def laden_g() -> int:
    couplers = plan().couplers
    assert couplers is not None
    return context().base.mass_g + max(load.mass_g for load in context().loads) + couplers.added_g


@pytest.mark.parametrize("axle", ["front", "rear"])
def test_an_axle_limit_to_the_gram(axle: str) -> None:
    def limit(grams: int) -> set[str]:
        def change(project: dict[str, Any]) -> None:
            # The other axle takes up the difference, so that the reference mass stays.
            donor = project["donor"]
            donor[f"{axle}_axle_limit_g"] = grams

        return {name for name in failed(with_limits(change)) if name.startswith("axle.")}

    assert limit(loaded_g(axle)) == set()
    beyond = limit(loaded_g(axle) - 1)
    assert beyond
    assert all(name.startswith(f"axle.{axle}.") for name in beyond)


def test_the_gross_limit_to_the_gram() -> None:
    def limit(grams: int) -> set[str]:
        def change(project: dict[str, Any]) -> None:
            project["donor"]["gross_limit_g"] = grams

        return {name for name in failed(with_limits(change)) if name.startswith("mass.")}

    assert limit(laden_g()) == set()
    assert len(limit(laden_g() - 1)) == 1


def test_a_bay_floor_to_the_gram() -> None:
    use = plan().placement[0]
    check = "bay.mass." + use.bay

    def limit(grams: int) -> Plan:
        def change(project: dict[str, Any]) -> None:
            bay = next(bay for bay in project["bays"] if bay["name"] == use.bay)
            bay["mass_limit_g"] = grams

        return with_limits(change)

    held = round(check_of(limit(10**9), check).value * 1000)
    assert failed(limit(held)) == set()
    assert failed(limit(held - 1)) == {check}


def test_the_budget_to_the_smallest_unit() -> None:
    def limit(money: int) -> set[str]:
        def change(project: dict[str, Any]) -> None:
            project["targets"]["budget"] = money

        return failed(with_limits(change))

    price = plan().objective.value
    assert price is not None
    assert limit(price) == set()
    assert limit(price - 1) == {"money.budget"}


def test_the_range_to_the_metre() -> None:
    check = next(check for check in audit_plan(plan()) if check.id.startswith("range."))
    reached_m = round(check.value * 1000)

    def wanted(metres: int) -> set[str]:
        def change(project: dict[str, Any]) -> None:
            project["targets"]["range"][0]["distance_m"] = metres

        # Its driving figures tell of the distance that was asked when it was made.
        return failed(with_limits(change)) - {"audit.performance"}

    assert wanted(reached_m) == set()
    assert wanted(reached_m + 1) == {check.id}


def test_the_pack_voltage_to_a_hundredth() -> None:
    assert plan().performance is not None
    volts = check_of(plan(), "voltage.project-most").value

    def most(limit: float) -> set[str]:
        def change(project: dict[str, Any]) -> None:
            project["targets"]["pack_voltage_max_v"] = limit

        return failed(with_limits(change))

    assert most(volts) == set()
    assert most(volts - 0.01) == {"voltage.project-most"}


def test_the_twelve_volt_load_to_the_watt() -> None:
    supply = check_of(plan(), "twelve-volt.supply")
    spare = round(supply.value - supply.limit)

    def donor(more: int) -> bool:
        def change(project: dict[str, Any]) -> None:
            project["donor"]["load_12v_w"] += more

        return check_of(with_limits(change), "twelve-volt.supply").passed

    assert donor(spare)
    assert not donor(spare + 1)


# -- figures of parts: the check's own limit met exactly, and missed by a hair --------------------

RATINGS = (
    ("contactor", "v_max", "contactor.voltage"),
    ("contactor", "break_a", "contactor.break"),
    ("shunt", "rated_a", "shunt.rating"),
    ("emergency_disconnect", "load_break_a", "emergency_disconnect.break"),
    ("branch_fuse", "v_dc", "branch_fuse.voltage"),
    ("adapter_plate", "max_torque_nm", "adapter.torque"),
    ("coupler", "max_torque_nm", "coupler.torque"),
    ("battery_12v", "capacity_ah", "battery12.reserve"),
    ("dcdc", "v_in_max", "dcdc.voltage-high"),
    ("junction_box", "v_dc", "junction_box.voltage"),
    ("service_disconnect", "continuous_a", "service_disconnect.continuous"),
)


@pytest.mark.parametrize(("family", "column", "check_id"), RATINGS)
def test_a_rating_met_exactly_and_missed_by_a_hair(family: str, column: str, check_id: str) -> None:
    limit = check_of(plan(), check_id).limit

    def rated(value: float) -> Plan:
        def change(data: dict[str, Any]) -> None:
            part = next(p for p in data["parts_used"]["parts"] if p["family"] == family)
            part["figures"][column] = value

        return changed(change)

    assert check_of(rated(limit), check_id).passed
    missed = {check.id for check in audit_plan(rated(limit * (1 - 1e-9))) if not check.passed}
    # What the battery holds stands in the plan's record of the 12 V side as well.
    told = {"audit.supply-12v"} if family == "battery_12v" else set()
    # So small a battery could not blow the fuse of the feed either.
    assert {name for name in missed if "feed_fuse" not in name} == {check_id} | told


# -- buying ---------------------------------------------------------------------------------


@cache
def offered() -> Plan:
    case = make_offer_case(2)
    found = find_plan(case.project, case.catalog)
    assert found.invoices
    assert found.spares
    return found


def bought(data: dict[str, Any]) -> dict[str, Any]:
    line: dict[str, Any] = next(
        line for line in data["lines"] if line["purchases"] and line["purchases"][0]["supplier"]
    )
    return line


def test_a_plan_with_orders_passes() -> None:
    assert failed(offered()) == set()


@pytest.mark.parametrize("field", ["unit_price", "asked", "price"])
def test_a_purchase_that_is_not_on_offer(field: str) -> None:
    def change(data: dict[str, Any]) -> None:
        bought(data)["purchases"][0][field] += 1

    assert failed(changed(change, offered())) == {"audit.lines"}


def test_fewer_bought_than_are_needed() -> None:
    """A purchase of less than is fitted counts right line by line; it is still not enough."""

    def change(data: dict[str, Any]) -> None:
        data["project_used"]["buying"]["spares"].append(
            {"family": bought(data)["family"], "pieces": 9, "one_per": None}
        )

    mutant = changed(change, offered())
    assert "audit.choices" in failed(mutant)
    assert "9 more of" in check_of(mutant, "audit.choices").words


def test_an_invoice_that_is_not_that_of_its_lines() -> None:
    def change(data: dict[str, Any]) -> None:
        data["invoices"][0]["total"] += 1

    assert failed(changed(change, offered())) == {"audit.invoices"}


def test_more_suppliers_than_the_builder_wants() -> None:
    def change(data: dict[str, Any]) -> None:
        data["project_used"]["buying"]["suppliers_max"] = 0

    words = check_of(changed(change, offered()), "audit.choices").words
    assert "orders at 0 suppliers at most" in words


@pytest.mark.parametrize("key", ["excluded", "deadline_days"])
def test_a_supplier_that_may_not_be_bought_from(key: str) -> None:
    """Its offers are none of the project's: the line cannot be counted again."""

    def change(data: dict[str, Any]) -> None:
        names = [invoice.supplier for invoice in offered().invoices]
        data["project_used"]["buying"][key] = names if key == "excluded" else 0

    mutant = changed(change, offered())
    with pytest.raises(InputError, match="does not embed this part or its offer"):
        audit_plan(mutant)


@pytest.mark.parametrize(
    ("table", "column", "value", "words"),
    [
        ("suppliers", "minimum_order", 10**7, "below what it asks at least"),
        ("offers", "stock", 0, "has 0"),
    ],
)
def test_what_the_supplier_asks_is_kept(table: str, column: str, value: int, words: str) -> None:
    def change(data: dict[str, Any]) -> None:
        for row in data["parts_used"][table]:
            row[column] = value

    assert words in check_of(changed(change, offered()), "audit.choices").words
