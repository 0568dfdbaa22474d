"""Choices that cannot work are refused by name, with the figures that say why."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest
from oracle.small_cases import generic, project_fields

from bomplan.catalog.records import Catalog
from bomplan.design.context import Context
from bomplan.design.records import Check, Plan
from bomplan.planner import find_plan
from bomplan.planner.refusal import _what_could_be_given_up, refused_checks
from bomplan.planner.screen import Screened
from bomplan.planner.walked import Walked
from bomplan.project.records import Project


def refused(choices: dict[str, Any], catalog: Catalog | None = None) -> Plan:
    """The answer for a light car whose builder has decided this already."""
    fields = project_fields(Random(1))
    fields["targets"] |= {"pack_voltage_min_v": 0.0, "pack_voltage_max_v": 450.0}
    for bay in fields["bays"]:
        bay |= {"length_mm": 900, "width_mm": 1_100, "height_mm": 330}
    plan = find_plan(Project.model_validate(fields | {"choices": choices}), catalog or generic())
    assert plan.status == "none"
    assert plan.core is None
    return plan


def named(plan: Plan, check_id: str) -> Check:
    """The failed check of this name, which must stand in the reasons as well."""
    found = next((check for check in plan.checks if check.id == check_id), None)
    assert found is not None, [check.id for check in plan.checks]
    assert not found.passed
    assert any(f"[{check_id}]" in reason and found.words in reason for reason in plan.reasons)
    return found


def test_twelve_protected_blocks_in_series() -> None:
    plan = refused({"module": "lfp-block-12-8v-100", "series": 12})
    check = named(plan, "module.max-series")
    assert (check.value, check.limit) == (12, 4)
    assert "built-in protection" in check.words
    assert "burn" in check.caution
    volts = named(plan, "module.system-voltage")
    assert volts.value == pytest.approx(12 * 4 * 3.65)


def test_36_cells_on_a_controller_that_stands_130_v() -> None:
    plan = refused({"module": "lfp-cell-100", "series": 36, "controller": "inverter-96v-500a"})
    check = named(plan, "voltage.controller-absolute")
    assert check.limit == 130
    assert check.value == pytest.approx(36 * 3.65 * 1.05)
    assert "36 cells at 3.65 V = 131.4 V" in check.words


def test_without_a_margin_36_cells_are_still_too_many_for_130_v() -> None:
    assert 36 * 3.65 > 130 > 35 * 3.65


def test_a_motor_with_a_controller_that_it_has_no_pair_with() -> None:
    motor, controller = "motor-induction-72v-20kw", "inverter-144v-500a"
    pairs = {(pair.motor, pair.controller) for pair in generic().pairs}
    assert (motor, controller) not in pairs
    for unpaired in (False, True):
        choices = {"motor": motor, "controller": controller, "allow_unpaired": unpaired}
        check = named(refused(choices), "pair.known")
        assert motor in check.words
        assert controller in check.words


def test_a_controller_that_most_motors_have_no_pair_with() -> None:
    """Named alone: what such a motor gives with it is known to nobody, and no traceback."""
    plan = refused({"controller": "chopper-72v-300a", "module": "lfp-cell-100", "series": 40})
    told = next(reason for reason in plan.reasons if "pair.known" in reason)
    assert "chopper-72v-300a" in told
    assert not any(reason.startswith("no motor, controller") for reason in plan.reasons)


@pytest.mark.slow
def test_a_series_motor_on_an_inverter() -> None:
    choices = {"motor": "motor-series-170mm", "controller": "inverter-96v-500a"}
    plan = refused(choices | {"allow_unpaired": True})
    named(plan, "pair.kind")


@pytest.mark.slow
def test_regeneration_asked_of_a_series_motor() -> None:
    plan = refused({"motor": "motor-series-170mm", "regeneration": True})
    check = named(plan, "regeneration.series-motor")
    assert "motor-series-170mm" in check.words
    assert "gives none" in check.words


def test_a_motor_that_the_donor_has_no_place_for() -> None:
    check = named(refused({"motor": "motor-mid-72v-20kw"}), "motor.mount")
    assert "gearbox" in check.words


def test_a_family_judged_late_of_which_nothing_is_to_be_had() -> None:
    """No traceback where every fuse is excluded: the search has to get as far as asking for one."""
    catalog = generic()
    car = {"motor": "motor-pm-96v-38kw-air", "controller": "inverter-96v-500a", "parallel": 1}
    pack = {"module": "lfp-cell-100", "series": 30}
    fuses = sorted(catalog.family("fuse"))
    plan = refused({**car, **pack, "excluded": fuses})
    assert any("fuse" in reason for reason in plan.reasons), plan.reasons
    # There are some in the catalogue, shut out by the builder: it is not called empty.
    assert not any("at all" in reason for reason in plan.reasons), plan.reasons


@pytest.mark.parametrize("family", ["fuse", "charger"])
def test_a_family_without_a_row_is_named_before_the_counts(family: str) -> None:
    catalog = generic()
    families = {name: rows for name, rows in catalog.families.items() if name != family}
    car = {"motor": "motor-pm-96v-38kw-air", "controller": "inverter-96v-500a"}
    pack = {"module": "lfp-cell-100", "series": 30, "parallel": 1}
    without = catalog.model_copy(update={"families": families})
    plan = refused({**car, **pack}, without)
    told = f"the catalogue has no {family} at all, and plans that came so far need one"
    assert told in plan.reasons
    counts = [place for place, one in enumerate(plan.reasons) if " failed " in one]
    assert counts
    assert plan.reasons.index(told) < min(counts)


def test_a_catalogue_without_motors_says_so_and_nothing_else_of_it() -> None:
    catalog = generic()
    families = {name: rows for name, rows in catalog.families.items() if name != "motor"}
    plan = refused({}, catalog.model_copy(update={"families": families, "pairs": ()}))
    assert plan.reasons[0] == "the catalogue has no motor at all"


def test_a_search_that_was_stopped_shows_no_dangers_of_parts_turned_away() -> None:
    """What most cores fail is not known yet; what the builder fixed fails whatever comes."""
    seen = Screened()
    seen.cores = 9
    failed = named(refused({"module": "lfp-block-12-8v-100", "series": 12}), "module.max-series")
    danger = failed.model_copy(update={"id": "bay.gas.boot"})
    seen.keep(danger)
    seen.count(danger.id, 9)
    fields = project_fields(Random(1))
    context = Context(Project.model_validate(fields), generic())
    whole = Walked(None, None, True, seen)
    assert danger in refused_checks(context, whole)
    assert refused_checks(context, replace(whole, complete=False)) == ()


def test_no_reason_is_empty() -> None:
    plan = refused({"module": "lfp-block-12-8v-100", "series": 12})
    assert plan.objective.value is None
    assert all(reason.strip() for reason in plan.reasons)
    assert plan.lines == ()


@pytest.mark.parametrize(
    ("x_mm", "words"),
    [
        (0, "40 kg of it in front and 0 kg at the rear"),
        (500, "30 kg of it in front and 10 kg at the rear"),
        (2_000, "0 kg of it in front and 40 kg at the rear"),
        (2_500, "the front axle 10 kg more and the rear axle 50 kg less"),
        (-500, "the front axle 50 kg less and the rear axle 10 kg more"),
    ],
)
def test_what_is_given_up_frees_the_axles_as_a_lever_does(x_mm: int, words: str) -> None:
    """40 kg on a wheelbase of 2,000 mm: the rear axle carries x / 2,000 of it."""
    fields = project_fields(Random(1))
    fields["donor"]["wheelbase_mm"] = 2_000
    fields["load_cases"][1]["items"].append(
        {"name": "box", "mass_g": 40_000, "x_mm": x_mm, "give_up": "luggage"}
    )
    context = Context(Project.model_validate(fields), generic())
    (told,) = _what_could_be_given_up(context)
    assert told.endswith(f"the car would carry 40 kg less, {words}")


@pytest.mark.slow
def test_what_could_be_given_up_is_named_where_mass_decides() -> None:
    """75 kg at 1,500 of 2,000 mm: 18.75 kg of it in front; nothing is named that must stay."""
    fields = project_fields(Random(1))
    fields["donor"] |= {"wheelbase_mm": 2_000, "gross_limit_g": 800_000}
    fields["load_cases"][1]["items"] += [
        {"name": "third seat", "mass_g": 75_000, "x_mm": 1_500, "give_up": "seat"},
        {"name": "nose weight", "mass_g": 50_000, "x_mm": 2_800, "give_up": "towing"},
    ]
    plan = find_plan(Project.model_validate(fields), generic())
    assert plan.status == "none"
    told = [reason for reason in plan.reasons if "given up" in reason]
    assert len(told) == 2
    assert "load case laden counts third seat" in told[0]
    assert "75 kg less, 18.8 kg of it in front and 56.2 kg at the rear" in told[0]
    assert "towing given up" in told[1]
    assert "50 kg less, the front axle 20 kg more and the rear axle 70 kg less" in told[1]
    roomy = fields["donor"] | {"gross_limit_g": 1_300_000}
    fields |= {"donor": roomy, "choices": {"module": "lfp-block-12-8v-100", "series": 12}}
    other = find_plan(Project.model_validate(fields), generic())
    assert other.status == "none"
    assert not any("given up" in reason for reason in other.reasons)
