"""Searches that share what they found give the plans that single searches give."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

import pytest
from lanes import FULL, first_fast
from oracle.small_cases import Case, make_case
from shipped_examples import drive_of

from bomplan.buying.prices import PriceBook
from bomplan.design.adapter import Simulator
from bomplan.design.bill import RULES
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive, resolve
from bomplan.design.records import Couplers, Plan
from bomplan.outlook import Solver
from bomplan.outlook.levers import levers
from bomplan.planner import find_plan
from bomplan.planner.judge import Judge
from bomplan.planner.model import CoreModel
from bomplan.planner.options import NoOption, find_options, suitable
from bomplan.planner.room import Wanting, room_for
from bomplan.planner.screen import Screened, core_of, drives, matching, packs
from bomplan.planner.shared import (
    ASKED,
    ASKED_OF_A_RANGE,
    NOT_MODELLED,
    NOT_RULED,
    NOT_RULED_OF_A_DONOR,
    NOT_RULED_OF_A_DRIVELINE,
    Shared,
    driven_key,
    judged_key,
    modelled_key,
    ruled_key,
)
from bomplan.project.chassis import Floor
from bomplan.project.records import (
    Bay,
    Charging,
    Choices,
    Donor,
    Driveline,
    Project,
    RangeTarget,
    Targets,
)

NAMES = ("courier-motorcycle", "garden-pickup", "camper-van")


@cache
def case(seed: int) -> Case:
    return make_case(seed)


def alike(plan: Plan) -> dict[str, Any]:
    """What a study may tell of a plan: all but the counts of the search and the standings."""
    told = plan.model_dump(mode="json")
    del told["search"]
    for line in told["lines"]:
        line.pop("standing", None)
    # Refusals count what was turned away.
    told["reasons"] = bool(told["reasons"])
    return told


@pytest.mark.parametrize("seed", first_fast([8, 15, 16, 20, 21, 22], 1))
def test_a_study_finds_the_plans_that_single_searches_find(seed: int) -> None:
    project, catalog = case(seed).project, case(seed).catalog
    solver = Solver(catalog)
    asked = [lever for lever in levers(project) if lever.amount is not None]
    assert len(asked) > 4
    for lever in asked if FULL else asked[::2]:
        for amount in (lever.eased(), lever.hardened(), lever.amount):
            if amount is None:
                continue
            moved = lever.at(project, amount)
            shared, alone = solver.plan(moved), find_plan(moved, catalog)
            assert shared.status == alone.status
            assert shared.objective == alone.objective
            if alone.core is None:
                continue
            told, wanted = alike(shared), alike(alone)
            # The study's plan carries the audit's checks, which are the same and more.
            del told["checks"], wanted["checks"]
            assert told == wanted, lever.id


@contextmanager
def watched(*records: type) -> Iterator[set[tuple[str, str]]]:
    """Every field of these records that is read meanwhile, by record and name."""
    seen: set[tuple[str, str]] = set()
    before = {record: record.__dict__.get("__getattribute__") for record in records}

    def watch(record: type) -> Any:
        def read(self: Any, name: str) -> Any:
            if name in record.model_fields:  # type: ignore[attr-defined]
                seen.add((record.__name__, name))
            return object.__getattribute__(self, name)

        return read

    for record in records:
        record.__getattribute__ = watch(record)  # type: ignore[method-assign]
    try:
        yield seen
    finally:
        for record, was in before.items():
            if was is None:
                del record.__getattribute__  # type: ignore[misc]
            else:
                record.__getattribute__ = was  # type: ignore[method-assign]


def forbidden() -> set[tuple[str, str]]:
    names = {("Targets", name) for name in ASKED["targets"]} | {("Project", "goal")}
    names |= {("Donor", name) for name in ASKED["donor"]}
    return names | {("RangeTarget", name) for name in ASKED_OF_A_RANGE}


def test_the_watch_sees_what_is_read() -> None:
    context, _, _ = drive_of(NAMES[0])
    with watched(Targets, Donor, RangeTarget) as seen:
        assert context.project.donor.gross_limit_g > 0
        assert context.project.targets.range[0].distance_m > 0
    assert {("Donor", "gross_limit_g"), ("RangeTarget", "distance_m")} <= seen
    assert ("Donor", "kind") not in seen


@pytest.mark.parametrize("name", NAMES)
def test_no_rule_reads_how_much_is_asked(name: str) -> None:
    context, drive, _ = drive_of(name)
    currents = no_mean_current(context, drive)
    context.reference_mass_g  # noqa: B018  (told apart in the key)
    capacity = tuple(drive.core.series for _ in context.bays)
    judge = Judge(context)
    with watched(Project, Targets, Donor, RangeTarget) as seen:
        for rule in RULES:
            if not rule.needed(context, drive):
                continue
            for part in judge.suiting(rule, drive, currents).parts:
                judge.tables(rule, drive, part, capacity)
                rule.base(context, drive, part)
    assert not seen & forbidden()


RULED_CASES = first_fast([*NAMES, *range(24)], len(NAMES) + 3)


def some_core(which: str | int) -> tuple[Context, Drive]:
    """An example with its core, or a small case with one from the middle of all."""
    if isinstance(which, str):
        context, drive, _ = drive_of(which)
        return context, drive
    context = Context(case(which).project, case(which).catalog)
    found, rows = packs(context, Screened()), drives(context, Screened())
    row = rows[len(rows) // 2]
    fits = matching(row, found, 1 + context.project.margins.voltage)
    return context, resolve(context, core_of(row, found, int(fits[len(fits) // 2])))


@pytest.mark.parametrize("which", RULED_CASES)
def test_no_rule_reads_what_a_judge_is_not_told_apart_by(which: str | int) -> None:
    """Neither a rule nor what stands beside what reads anything that is left out of the key."""
    known, drive = some_core(which)
    context = Context(known.project, known.catalog)
    currents = no_mean_current(context, drive)
    capacity = tuple(drive.core.series for _ in context.bays)
    records = Project, Targets, Donor, Driveline, Bay, Floor, RangeTarget
    with watched(*records) as seen:
        judge = Judge(context)
        rows = {}
        for rule in RULES:
            if not rule.needed(context, drive):
                continue
            judge.candidates(rule)
            judge.sold(rule)
            for part in judge.suiting(rule, drive, currents).parts:
                judge.tables(rule, drive, part, capacity)
                judge.tables(rule, drive, part, capacity, most=True)
                rule.base(context, drive, part)
            found = suitable(context, judge, drive, rule, currents, capacity, frozenset())
            if not isinstance(found, NoOption):
                rows[rule.family] = found
        judge.neighbours(drive, currents, rows)
    assert len(rows) > 10
    assert ("Bay", "length_mm") in seen
    left_out = {("Project", name) for name in NOT_RULED} | {("Bay", "mass_limit_g")}
    left_out |= {("Donor", name) for name in (*ASKED["donor"], *NOT_RULED_OF_A_DONOR)}
    left_out |= {("Driveline", name) for name in NOT_RULED_OF_A_DRIVELINE}
    assert not seen & left_out
    assert not {record for record, _ in seen} & {"Targets", "Floor", "RangeTarget"}


def test_judges_are_told_apart_by_what_rules_read() -> None:
    context, _, _ = drive_of("courier-motorcycle")
    project = context.project

    def key(changed: Project) -> str:
        return ruled_key(Context(changed, context.catalog))

    for lever in levers(project):
        read = lever.id.startswith(("bay.room.", "charger."))
        assert (key(lever.lifted(project)) == key(project)) != read, lever.id
    parts = project.choices.model_copy(update={"excluded": ("any-part",)})
    assert key(project.model_copy(update={"choices": parts})) != key(project)


@pytest.mark.parametrize("name", NAMES)
def test_no_drive_reads_how_much_is_asked(name: str) -> None:
    context, drive, _ = drive_of(name)
    fresh = Context(context.project, context.catalog)
    fresh.reference_mass_g  # noqa: B018
    simulator = Simulator(fresh, drive)
    couplers = Couplers(added_g=300_000, external_uohm=9_000, mean_12v_w=60)
    targets = fresh.project.targets.range
    with watched(Targets, Donor, RangeTarget) as seen:
        for target in targets:
            simulator.range(target, couplers)
            simulator.at_reference_mass(target)
    assert ("RangeTarget", "profile") in seen
    assert not seen & forbidden()


@pytest.mark.parametrize("name", NAMES)
def test_a_model_reads_nothing_that_its_key_leaves_out(name: str) -> None:
    """With its rows, currents and limits known: what stands in no key and is no amount."""
    context, drive, _ = drive_of(name)
    fresh = Context(context.project, context.catalog)
    fresh.reference_mass_g  # noqa: B018  (told apart in the key)
    currents = no_mean_current(fresh, drive)
    capacity = room_for(fresh, drive, Screened())
    assert not isinstance(capacity, Wanting)
    options = find_options(fresh, drive, currents, capacity)
    assert not isinstance(options, NoOption)
    # What is judged, priced and laid out on demand stands in the key as rows and capacity.
    CoreModel(fresh, drive, currents, options)
    with watched(Project, Targets, Charging) as seen:
        model = CoreModel(fresh, drive, currents, options, judge=Judge(fresh))
        answer = model.solve()
    assert answer.solved
    told = {one for record, one in seen if record == "Project"} & set(NOT_MODELLED)
    # The amounts among the targets are compared where the key is asked; the goal settles what is
    # minimised, never what is possible.
    assert "targets" in told
    assert told <= {"goal", "targets"}
    assert {one for one in seen if one[0] == "Targets"} <= {
        ("Targets", one) for one in ASKED["targets"]
    }
    assert ("Charging", "hours") not in seen


def test_models_are_told_apart_by_what_they_read() -> None:
    context, _, _ = drive_of("courier-motorcycle")
    project = context.project

    def key(changed: Project) -> str:
        return modelled_key(Context(changed, context.catalog))

    assert key(moved(project, "charger.hours")) == key(project)
    assert key(moved(project, "speed.ring road")) == key(project)
    assert key(moved(project, "bay.room.cradle")) != key(project)
    two = project.choices.model_copy(update={"bays_max": 1})
    assert key(project.model_copy(update={"choices": two})) != key(project)


def moved(project: Project, lever_id: str) -> Project:
    lever = next(one for one in levers(project) if one.id == lever_id)
    amount = lever.hardened()
    assert amount is not None
    return lever.at(project, amount)


def test_keys_tell_apart_what_matters_and_nothing_else() -> None:
    context, _, _ = drive_of("courier-motorcycle")
    project, catalog = context.project, context.catalog

    def keys(changed: Project) -> tuple[str, str]:
        one = Context(changed, catalog)
        return judged_key(one), driven_key(one)

    own = keys(project)
    assert keys(moved(project, f"range.{project.targets.range[0].name}")) == own
    assert keys(moved(project, "budget")) == own
    # The hours to charge are read by the charger's rule, not by a drive.
    judged, driven = keys(moved(project, "charger.hours"))
    assert judged != own[0]
    assert driven == own[1]
    # The plate decides the mass at which conductors are sized.
    judged, driven = keys(moved(project, "mass.gross"))
    assert judged != own[0]
    assert driven != own[1]
    margins = project.margins.model_copy(update={"cell_spread": 0.07})
    assert keys(project.model_copy(update={"margins": margins}))[1] != own[1]


def test_a_price_book_reads_nothing_that_its_key_leaves_out() -> None:
    context, _, _ = drive_of("courier-motorcycle")
    with watched(Project, Choices) as seen:
        fresh = Context(context.project, context.catalog)
        for part in context.catalog.parts():
            for pieces in (1, 7):
                fresh.envelope.least(part, pieces)
    told = {"currency", "rates", "as_of", "buying", "choices"}
    assert {name for record, name in seen if record == "Project"} == told
    assert {name for record, name in seen if record == "Choices"} == {"suppliers", "owned"}


def test_a_price_book_is_shared_by_those_alone_that_buy_alike() -> None:
    context, _, _ = drive_of("courier-motorcycle")
    project, shared = context.project, Shared(context.catalog)

    def book(changed: Project) -> PriceBook:
        one = Context(changed, context.catalog)
        shared.judge(one)
        return one.prices

    own = book(project)
    assert book(moved(project, "bay.room.cradle")) is own
    assert book(moved(project, "budget")) is own
    late = project.buying.model_copy(update={"deadline_days": 20})
    assert book(project.model_copy(update={"buying": late})) is not own
    one = project.choices.model_copy(update={"suppliers": ("northern-wholesale",)})
    assert book(project.model_copy(update={"choices": one})) is not own
    assert book(project.model_copy(update={"rates": {**project.rates, "USD": 0.5}})) is not own


def test_another_catalogue_shares_nothing() -> None:
    context, _, _ = drive_of("courier-motorcycle")
    shared = Shared(context.catalog)
    same = Context(context.project, context.catalog)
    assert shared.judge(same) is shared.judge(Context(context.project, context.catalog))
    other = Context(context.project, context.catalog.model_copy())
    assert shared.judge(other) is not shared.judge(same)
    assert other.driven is not same.driven
    assert other.laps is None
