"""Plans side by side are the plans that one would get by asking for each alone."""

from __future__ import annotations

import json
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from oracle.brute_force import brute_force
from oracle.small_cases import Case, make_case

from bomplan.buying.lifetime import Driven
from bomplan.catalog.records import Catalog
from bomplan.design.comparison import Comparison
from bomplan.design.context import Context
from bomplan.design.pack_life import (
    CALENDAR_YEARS,
    driven,
    energy_price,
    pack_price,
    wear_of,
    window_of,
)
from bomplan.design.records import Plan
from bomplan.errors import InputError
from bomplan.outlook import Solver, compare
from bomplan.outlook.bounding import most_that_fits
from bomplan.outlook.narrowed import By, narrowed, side_by_side
from bomplan.planner import find_plan
from bomplan.project.records import Project
from bomplan.project.use import Use

# Small cases by seed with two chemistries or kinds of motor, rows with a plan and without.
TWIN, AGM = 5, 4
CASES: tuple[tuple[int, By], ...] = ((TWIN, "chemistry"), (8, "motor"))
MORE: tuple[tuple[int, By], ...] = ((AGM, "chemistry"), (0, "motor"), (9, "chemistry"))


@cache
def case(seed: int) -> Case:
    """The case of this seed; the twin's gets its module a second time as another chemistry."""
    one = make_case(seed)
    if seed != TWIN:
        return one
    modules = one.catalog.family("module")
    first = modules["nmc-pouch-block-8s2p-64"]
    figures = {**first.figures, "chemistry": "lfp", "cycles": 2000}
    other = first.model_copy(
        update={"id": "lfp-twin", "price": first.price * 11 // 10, "figures": figures}
    )
    families = {**one.catalog.families, "module": {**modules, other.id: other}}
    return replace(one, catalog=one.catalog.model_copy(update={"families": families}))


class Given(Solver):
    """Hands out plans that were found before, changed as a test needs them."""

    def __init__(self, catalog: Catalog, plans: list[Plan]) -> None:
        super().__init__(catalog)
        self.given = plans

    def plans_of(self, wanted: Any, barred: Any = frozenset()) -> list[Plan]:
        assert len(wanted) == len(self.given)
        assert not barred
        return self.given


@cache
def plans(seed: int, by: By) -> list[Plan]:
    one = case(seed)
    rows = narrowed(one.project, one.catalog, by).rows
    return Solver(one.catalog).plans_of([(row.project, row.catalog) for row in rows])


@cache
def compared(seed: int, by: By) -> Comparison:
    one = case(seed)
    return compare(narrowed(one.project, one.catalog, by), Given(one.catalog, plans(seed, by)))


@cache
def whole(seed: int) -> Plan:
    return find_plan(case(seed).project, case(seed).catalog)


def excluded(project: Project, names: set[str]) -> Project:
    choices = project.choices.model_copy(
        update={"excluded": tuple(sorted({*project.choices.excluded, *names}))}
    )
    return project.model_copy(update={"choices": choices})


def values(catalog: Catalog, by: By) -> dict[str, set[str]]:
    """Each chemistry (or kind of motor) with the parts that are not of it."""
    family, column = ("module", "chemistry") if by == "chemistry" else ("motor", "kind")
    rows = catalog.family(family)
    kinds = sorted({part.text(column) for part in rows.values()})
    return {
        kind: {name for name, part in rows.items() if part.text(column) != kind} for kind in kinds
    }


@pytest.mark.parametrize(
    ("seed", "by"), [*CASES, *(pytest.param(*one, marks=pytest.mark.slow) for one in MORE)]
)
def test_each_row_is_the_plan_with_the_other_parts_excluded(seed: int, by: By) -> None:
    one, found = case(seed), compared(seed, by)
    kinds = values(one.catalog, by)
    assert len(found.rows) == len(kinds) >= 2
    for row, others in zip(found.rows, kinds.values(), strict=True):
        alone = excluded(one.project, others)
        plan = find_plan(alone, one.catalog)
        if row.plan is None:
            assert plan.status == "none"
            assert row.outcome == "none"
            assert row.reasons
            continue
        assert plan.core is not None
        assert row.plan.price == plan.objective.value
        assert (row.plan.motor, row.plan.module) == (plan.core.motor, plan.core.module)
        assert (row.plan.series, row.plan.parallel) == (plan.core.series, plan.core.parallel)


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "by"), [*CASES, *MORE])
def test_each_row_costs_what_brute_force_says(seed: int, by: By) -> None:
    one, found = case(seed), compared(seed, by)
    for row, others in zip(found.rows, values(one.catalog, by).values(), strict=True):
        alone = excluded(one.project, others)
        best = brute_force(alone, one.catalog, compare_every=10**9).best
        assert (None if row.plan is None else row.plan.price) == (best and best.price)


def test_the_cases_hold_rows_with_a_plan_and_without() -> None:
    outcomes = [row.outcome for seed, by in CASES for row in compared(seed, by).rows]
    assert outcomes.count("plan") >= 3
    assert outcomes.count("none") >= 1


def test_the_cheapest_row_is_the_plan_of_the_project_itself() -> None:
    for seed, by in CASES:
        plan = whole(seed)
        prices = [row.plan.price for row in compared(seed, by).rows if row.plan is not None]
        assert min(prices) == plan.objective.value


def test_suppliers_and_voltages_are_restrictions_of_the_project() -> None:
    one = case(TWIN)
    plan = whole(TWIN)
    assert plan.performance is not None
    by_supplier = compare(narrowed(one.project, one.catalog, "supplier"), Solver(one.catalog))
    assert [row.label for row in by_supplier.rows] == ["all of them", "only harbour", "only north"]
    assert by_supplier.rows[0].plan is not None
    assert by_supplier.rows[0].plan.price == plan.objective.value
    volts = plan.performance.charge_v
    wanted = narrowed(one.project, one.catalog, "voltage", (volts - 5, volts + 5))
    assert wanted.notes == ("set aside for this table: targets.pack_voltage_min = 64 V",)
    targets = one.project.targets.model_copy(update={"pack_voltage_min_v": 0.0})
    free = find_plan(one.project.model_copy(update={"targets": targets}), one.catalog)
    found = compare(wanted, Solver(one.catalog))
    prices = []
    for row, (low, high) in zip(found.rows, ((0, volts - 5), (volts - 5, volts + 5)), strict=False):
        if row.plan is not None:
            module = one.catalog.family("module")[row.plan.module]
            charged = row.plan.series * module.number("cells_series")
            assert low <= charged * module.number("cell_v_charge") <= high
            prices.append(row.plan.price)
    # All classes together leave nothing out.
    assert min(prices) == free.objective.value


def test_what_is_compared_is_not_locked() -> None:
    """A lock on one module would leave all other chemistries without a plan."""
    one = case(TWIN)
    choices = one.project.choices.model_copy(update={"module": "lfp-module-4s-100", "series": 6})
    locked = one.project.model_copy(update={"choices": choices})
    wanted = narrowed(locked, one.catalog, "chemistry")
    assert all(row.project.choices.module is None for row in wanted.rows)
    assert all(row.project.choices.series is None for row in wanted.rows)
    assert wanted.notes == (
        "set aside for this table: choices.module = lfp-module-4s-100, choices.series = 6",
    )
    only = one.project.choices.model_copy(update={"chemistries": ("nmc",)})
    narrower = one.project.model_copy(update={"choices": only})
    labels = [row.label for row in narrowed(narrower, one.catalog, "chemistry").rows]
    assert labels == ["nmc"]


class Counted(ThreadPoolExecutor):
    """A standard executor that counts what it was handed."""

    def __init__(self) -> None:
        super().__init__(2)
        self.handed = 0

    def submit(self, *job: Any, **named: Any) -> Future[Any]:
        self.handed += 1
        return super().submit(*job, **named)


def test_any_executor_gives_the_same_bytes() -> None:
    one = case(TWIN)
    with Counted() as executor:
        found = compare(
            narrowed(one.project, one.catalog, "chemistry"), Solver(one.catalog, executor)
        )
        assert executor.handed == len(found.rows)
    assert found.model_dump_json() == compared(TWIN, "chemistry").model_dump_json()


def test_projects_are_compared_each_with_its_own_catalogue() -> None:
    one, other = case(8), case(TWIN)
    pairs = [(one.project, one.catalog), (other.project, other.catalog)]
    found = compare(side_by_side(pairs), Solver(one.catalog))
    prices = [row.plan.price for row in found.rows if row.plan is not None]
    alone = [whole(8).objective.value, whole(TWIN).objective.value]
    assert prices == alone
    assert len({row.label for row in found.rows}) == 2


def test_sums_in_different_money_are_not_compared() -> None:
    one = case(8)
    dollars = one.project.model_copy(update={"currency": "USD", "rates": {"EUR": 1.1}})
    with pytest.raises(InputError, match="different currencies"):
        compare(
            side_by_side([(one.project, one.catalog), (dollars, one.catalog)]), Solver(one.catalog)
        )


def test_years_of_use_are_reckoned_from_the_plan_itself() -> None:
    """Every figure again by plain arithmetic on what the row and the project say."""
    one = case(TWIN)
    project = one.project.model_copy(
        update={
            "use": Use.model_validate(
                {
                    "distance_a_year_m": 9_000_000,
                    "years": 12.0,
                    "electricity_price": 0.25,
                    "between_charges_m": 10_000,
                }
            )
        }
    )
    used = [
        plan.model_copy(
            update={"project_used": {**plan.project_used, "use": project.use.model_dump()}}
        )
        for plan in plans(TWIN, "chemistry")
    ]
    found = compare(narrowed(project, one.catalog, "chemistry"), Given(one.catalog, used))
    assert found.use.assumed == ()
    assert found.rows != compared(TWIN, "chemistry").rows
    checked = 0
    for row in found.rows:
        if row.plan is None or row.life is None:
            continue
        module = one.catalog.family("module")[row.plan.module]
        window = module.number("soc_max") - module.number("soc_min")
        reserve = project.targets.range[0].reserve
        depth = min(1.0, 10 / (row.range_new_km or 1)) * window * (1 - reserve)
        assert row.life.depth == pytest.approx(depth, abs=1e-4)
        cycles = module.number("cycles") * module.number("cycles_depth") / depth
        assert row.life.cycles == pytest.approx(cycles, abs=1)
        years = cycles * min(10, row.range_new_km or 1) / 9_000
        assert row.life.cycle_years == pytest.approx(years, abs=0.1)
        calendar = CALENDAR_YEARS[module.text("chemistry")]
        assert row.life.pack_years == pytest.approx(min(years, calendar), abs=0.1)
        energy = 108_000 * row.life.wall_wh_per_km / 1000 * 25
        assert row.life.energy == pytest.approx(energy, abs=1)
        packs = -(-12 // row.life.pack_years) - 1
        assert row.life.packs == pytest.approx(packs, abs=1)
        count = row.plan.series * row.plan.parallel
        price = pack_price(Context(project, one.catalog), module, count)
        assert row.life.replacements == row.life.packs * (price or 0)
        parts = row.life.purchase + (row.life.energy or 0) + row.life.replacements
        assert row.life.total == pytest.approx(parts, abs=1)
        assert row.life.per_100_km == pytest.approx(row.life.total / 1080, abs=1)
        checked += 1
    assert checked == len(found.rows)


def test_what_a_project_does_not_say_is_taken_as_usual_and_said() -> None:
    one = case(TWIN)
    assert compared(TWIN, "chemistry").use.assumed == (
        "distance_a_year", "years", "electricity_price", "between_charges",
    )  # fmt: skip
    target = one.project.targets.range[0]
    assert driven(one.project) == Driven(10_000_000, 10, target.distance_m)  # type: ignore[arg-type]
    assert energy_price(one.project) == 30
    yen = one.project.model_copy(update={"currency": "JPY"})
    assert energy_price(yen) is None


def test_a_row_of_the_catalogue_may_say_how_many_years_it_lasts() -> None:
    module = case(TWIN).catalog.family("module")["lfp-module-4s-100"]
    assert wear_of(module).calendar_years == CALENDAR_YEARS["lfp"]
    told = module.model_copy(update={"figures": {**module.figures, "calendar_years": 7.5}})
    assert float(wear_of(told).calendar_years) == 7.5
    assert float(window_of(module)) == pytest.approx(0.9)


def test_the_most_that_fits_bounds_every_pack_that_was_found() -> None:
    for seed, by in CASES:
        wanted = narrowed(case(seed).project, case(seed).catalog, by)
        for row, candidate in zip(compared(seed, by).rows, wanted.rows, strict=True):
            most = most_that_fits(candidate.project, candidate.catalog)
            assert most is not None
            if row.pack_kwh is not None:
                assert most.pack_kwh >= row.pack_kwh
            else:
                assert row.most == most


def test_cautions_stand_once_or_with_the_row_that_has_them() -> None:
    one = case(TWIN)
    first, *rest = plans(TWIN, "chemistry")
    warned = first.model_copy(update={"cautions": ("hot", *first.cautions)})
    found = compare(
        narrowed(one.project, one.catalog, "chemistry"), Given(one.catalog, [warned, *rest])
    )
    assert [row.cautions for row in found.rows] == [("hot",), ()]
    assert found.cautions == compared(TWIN, "chemistry").cautions
    assert found.cautions[-1].startswith("Local codes")


def test_a_search_without_an_answer_claims_nothing() -> None:
    one = case(TWIN)
    changes = {"status": "unknown", "core": None}
    unsure = [plan.model_copy(update=changes) for plan in plans(TWIN, "chemistry")]
    wanted = narrowed(one.project, one.catalog, "chemistry")
    found = compare(wanted, Given(one.catalog, unsure))
    assert [row.outcome for row in found.rows] == ["unknown", "unknown"]
    assert json.loads(found.model_dump_json())["rows"][0]["plan"] is None
